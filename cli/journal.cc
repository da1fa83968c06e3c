#include "cli/journal.h"

#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <filesystem>
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

// The name of a new file is on disk only once its folder is.
bool SyncFolderOf(const std::string& path) {
  const std::string folder = std::filesystem::absolute(path).parent_path().string();
  const int descriptor = open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (descriptor < 0) return false;
  const bool synced = fsync(descriptor) == 0;
  close(descriptor);
  return synced;
}

absl::string_view View(std::string_view text) { return {text.data(), text.size()}; }

}  // namespace

absl::StatusOr<std::unique_ptr<Journal>> Journal::Open(const std::string& path,
                                                       const std::string& target,
                                                       const JournalWords& words) {
  const int file = open(path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0600);
  std::unique_ptr<Journal> journal(new Journal(path, file, words));
  if (file < 0) return journal->Trouble("opened");
  if (flock(file, LOCK_EX | LOCK_NB) != 0) {
    return absl::FailedPreconditionError(absl::StrCat(
        path, " ", View(words.in_use), ", or name another file with ", View(words.flag)));
  }
  if (absl::Status loaded = journal->Load(target); !loaded.ok()) return loaded;
  return journal;
}

Journal::~Journal() {
  if (file_ >= 0) close(file_);
}

absl::Status Journal::Trouble(const char* what) const {
  return absl::UnavailableError(absl::StrCat(path_, " cannot be ", what, ": ", std::strerror(errno),
                                             "; name another file with ", View(words_.flag)));
}

absl::Status Journal::Load(const std::string& target) {
  std::string content;
  if (!ReadAll(file_, &content)) return Trouble("read");
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
      return absl::FailedPreconditionError(
          absl::StrCat(path_, " is damaged at line ", number,
                       ": keep it for whoever looks after the depot, and name another file with ",
                       View(words_.flag)));
    }
    if (absl::Status read = ReadLine(line, target, number); !read.ok()) return read;
    at = end + 1;
    if (number == 1) header_ = static_cast<off_t>(at);
  }
  size_ = static_cast<off_t>(at);
  if (number > 0) return absl::OkStatus();
  const absl::Status begun = Append(absl::StrCat(kHeader, " ", absl::Base64Escape(target)));
  header_ = size_;
  if (begun.ok() && !SyncFolderOf(path_)) return Trouble("written");
  return begun;
}

absl::Status Journal::ReadLine(const std::string& line, const std::string& target, int number) {
  const std::vector<std::string> words = absl::StrSplit(line, ' ');
  std::string bytes;
  if (words.size() != 2 || !absl::Base64Unescape(words[1], &bytes)) {
    return absl::FailedPreconditionError(
        absl::StrCat(path_, " is no queue of reports; name another file with ", View(words_.flag)));
  }
  if (number == 1) {
    if (words[0] == kHeader && bytes == target) return absl::OkStatus();
    if (words[0] == kHeader && target.empty()) {
      return absl::FailedPreconditionError(
          absl::StrCat(path_, " holds reports for ", bytes, "; say so with --server or --depot"));
    }
    return absl::FailedPreconditionError(absl::StrCat(
        path_,
        words[0] == kHeader ? absl::StrCat(" holds reports for ", bytes, ", not for ", target)
                            : " is no queue of reports",
        "; name another file with ", View(words_.flag)));
  }
  if (words[0] == "settled") {
    Drop(bytes);
    return absl::OkStatus();
  }
  if (words[0] == "clock") {
    from_clock_.insert(bytes);
    return absl::OkStatus();
  }
  if (words[0] == "refused") {
    const std::vector<std::string> parts = absl::StrSplit(bytes, absl::MaxSplits('\n', 1));
    refused_[parts.front()] = parts.back();
    return absl::OkStatus();
  }
  v1::Entry entry;
  if (words[0] != "entry" || !entry.ParseFromString(bytes)) {
    return absl::FailedPreconditionError(absl::StrCat(
        path_, " has a line that this program does not know; use the program that wrote it"));
  }
  Put(std::move(entry));
  return absl::OkStatus();
}

void Journal::Put(v1::Entry entry) {
  from_clock_.erase(entry.entry_id());
  refused_.erase(entry.entry_id());
  for (v1::Entry& one : waiting_) {
    if (one.entry_id() != entry.entry_id()) continue;
    one = std::move(entry);
    return;
  }
  waiting_.push_back(std::move(entry));
}

void Journal::Drop(const std::string& entry_id) {
  std::erase_if(waiting_, [&](const v1::Entry& one) { return one.entry_id() == entry_id; });
  from_clock_.erase(entry_id);
  refused_.erase(entry_id);
}

std::string Journal::RefusalOf(const std::string& entry_id) const {
  const auto found = refused_.find(entry_id);
  return found == refused_.end() ? "" : found->second;
}

absl::Status Journal::Append(std::span<const std::string> lines) {
  std::string text;
  for (const std::string& line : lines) text += Sealed(line);
  if (!WriteAll(file_, text, size_) || fdatasync(file_) != 0) {
    const absl::Status trouble = Trouble("written");
    static_cast<void>(!ftruncate(file_, size_));
    return trouble;
  }
  size_ += static_cast<off_t>(text.size());
  return absl::OkStatus();
}

absl::Status Journal::Keep(const v1::Entry& entry, bool from_clock) {
  std::vector<std::string> lines = {
      absl::StrCat("entry ", absl::Base64Escape(entry.SerializeAsString()))};
  if (from_clock) lines.push_back(absl::StrCat("clock ", absl::Base64Escape(entry.entry_id())));
  if (absl::Status kept = Append(lines); !kept.ok()) return kept;
  Put(entry);
  if (from_clock) from_clock_.insert(entry.entry_id());
  return absl::OkStatus();
}

absl::Status Journal::Refuse(const std::string& entry_id, const std::string& why) {
  absl::Status noted =
      Append(absl::StrCat("refused ", absl::Base64Escape(absl::StrCat(entry_id, "\n", why))));
  if (noted.ok()) refused_[entry_id] = why;
  return noted;
}

void Journal::Settle(const std::string& entry_id) {
  const std::string id = entry_id;  // of an entry that goes
  Drop(id);
  if (waiting_.empty() && ftruncate(file_, header_) == 0) {
    size_ = header_;
    return;
  }
  const std::string text = Sealed(absl::StrCat("settled ", absl::Base64Escape(id)));
  if (WriteAll(file_, text, size_)) size_ += static_cast<off_t>(text.size());
}

}  // namespace ferrule::cli
