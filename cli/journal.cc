#include "cli/journal.h"

#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <vector>

#include "absl/strings/escaping.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "absl/strings/str_split.h"

namespace ferrule::cli {
namespace {

constexpr char kHeader[] = "ferrule-station-queue-1";
constexpr size_t kReadSize = 1 << 16;

// FNV-1a, 32 bits: notices a line that a crash left half written.
uint32_t Sum(const std::string& text) {
  uint32_t sum = 2166136261U;
  for (char c : text) sum = (sum ^ static_cast<unsigned char>(c)) * 16777619U;
  return sum;
}

// A line with its sum behind it, and back.
std::string Sealed(const std::string& text) {
  return absl::StrFormat("%s %08x\n", text, Sum(text));
}
bool Unseal(std::string* line) {
  const size_t blank = line->rfind(' ');
  if (blank == std::string::npos) return false;
  const std::string text = line->substr(0, blank);
  if (line->substr(blank + 1) != absl::StrFormat("%08x", Sum(text))) return false;
  *line = text;
  return true;
}

absl::Status Trouble(const std::string& path, const char* what) {
  return absl::UnavailableError(absl::StrCat(path, " cannot be ", what, ": ", std::strerror(errno),
                                             "; name another file with --queue"));
}

bool ReadAll(int file, std::string* out) {
  std::vector<char> buffer(kReadSize);
  while (true) {
    const ssize_t got = read(file, buffer.data(), buffer.size());
    if (got < 0 && errno == EINTR) continue;
    if (got <= 0) return got == 0;
    out->append(buffer.data(), static_cast<size_t>(got));
  }
}

bool WriteAll(int file, const std::string& text, off_t at) {
  size_t done = 0;
  while (done < text.size()) {
    const ssize_t put =
        pwrite(file, text.data() + done, text.size() - done, at + static_cast<off_t>(done));
    if (put < 0 && errno == EINTR) continue;
    if (put <= 0) return false;
    done += static_cast<size_t>(put);
  }
  return true;
}

}  // namespace

absl::StatusOr<std::unique_ptr<Journal>> Journal::Open(const std::string& path,
                                                       const std::string& target) {
  const int file = open(path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0600);
  if (file < 0) return Trouble(path, "opened");
  std::unique_ptr<Journal> journal(new Journal(path, file));
  if (flock(file, LOCK_EX | LOCK_NB) != 0) {
    return absl::FailedPreconditionError(absl::StrCat(
        path, " belongs to a station that is running; end it, or name another file with --queue"));
  }
  if (absl::Status loaded = journal->Load(target); !loaded.ok()) return loaded;
  return journal;
}

Journal::~Journal() { close(file_); }

absl::Status Journal::Load(const std::string& target) {
  std::string content;
  if (!ReadAll(file_, &content)) return Trouble(path_, "read");
  int number = 0;
  size_t at = 0;
  while (at < content.size()) {
    const size_t end = content.find('\n', at);
    std::string line = content.substr(at, end == std::string::npos ? end : end - at);
    const bool whole = end != std::string::npos && Unseal(&line);
    const bool last = end == std::string::npos || end + 1 == content.size();
    if (!whole && last) break;  // cut off by a crash
    ++number;
    if (!whole) {
      return absl::FailedPreconditionError(absl::StrCat(
          path_, " is damaged at line ", number,
          ": keep it for whoever looks after the depot, and name another file with --queue"));
    }
    if (absl::Status read = ReadLine(line, target, number); !read.ok()) return read;
    at = end + 1;
    if (number == 1) header_ = static_cast<off_t>(at);
  }
  size_ = static_cast<off_t>(at);
  if (number > 0) return absl::OkStatus();
  const absl::Status begun = Append(absl::StrCat(kHeader, " ", absl::Base64Escape(target)));
  header_ = size_;
  return begun;
}

absl::Status Journal::ReadLine(const std::string& line, const std::string& target, int number) {
  const std::vector<std::string> words = absl::StrSplit(line, ' ');
  std::string bytes;
  if (words.size() != 2 || !absl::Base64Unescape(words[1], &bytes)) {
    return absl::FailedPreconditionError(
        absl::StrCat(path_, " is no queue of a station; name another file with --queue"));
  }
  if (number == 1) {
    if (words[0] == kHeader && bytes == target) return absl::OkStatus();
    return absl::FailedPreconditionError(absl::StrCat(
        path_,
        words[0] == kHeader ? absl::StrCat(" holds reports for ", bytes, ", not for ", target)
                            : " is no queue of a station",
        "; name another file with --queue"));
  }
  if (words[0] == "settled") {
    if (!waiting_.empty() && waiting_.front().entry_id() == bytes) waiting_.pop_front();
    return absl::OkStatus();
  }
  v1::Entry entry;
  if (words[0] != "entry" || !entry.ParseFromString(bytes)) {
    return absl::FailedPreconditionError(absl::StrCat(
        path_, " has a line that this program does not know; use the program that wrote it"));
  }
  waiting_.push_back(std::move(entry));
  return absl::OkStatus();
}

absl::Status Journal::Append(const std::string& line) {
  const std::string text = Sealed(line);
  if (!WriteAll(file_, text, size_) || fdatasync(file_) != 0) {
    const absl::Status trouble = Trouble(path_, "written");
    static_cast<void>(!ftruncate(file_, size_));
    return trouble;
  }
  size_ += static_cast<off_t>(text.size());
  return absl::OkStatus();
}

absl::Status Journal::Keep(const v1::Entry& entry) {
  absl::Status kept = Append(absl::StrCat("entry ", absl::Base64Escape(entry.SerializeAsString())));
  if (kept.ok()) waiting_.push_back(entry);
  return kept;
}

void Journal::Settle() {
  const std::string text =
      Sealed(absl::StrCat("settled ", absl::Base64Escape(waiting_.front().entry_id())));
  waiting_.pop_front();
  if (waiting_.empty() && ftruncate(file_, header_) == 0) {
    size_ = header_;
    return;
  }
  if (WriteAll(file_, text, size_)) size_ += static_cast<off_t>(text.size());
}

}  // namespace ferrule::cli
