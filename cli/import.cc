// Files in: messages as other systems wrote them, and tables row by row. The file is sent in parts;
// the depot keeps how far it has come, so that the same command goes on where it was interrupted.
#include <openssl/evp.h>
#include <unistd.h>

#include <cstdio>
#include <fstream>
#include <memory>
#include <utility>

#include "absl/strings/str_cat.h"
#include "cli/catalog.h"
#include "cli/render_table.h"
#include "cli/session.h"
#include "core/exchange/csv.h"
#include "core/exchange/mllp.h"
#include "core/exchange/news.h"
#include "core/fact/counted.h"
#include "ferrule/v1/depot_service.grpc.pb.h"
#include "ferrule/v1/intake_service.grpc.pb.h"

namespace ferrule::cli {
namespace {

constexpr size_t kReadBytes = 256 << 10;
constexpr size_t kCutBytes = 16 << 10;
constexpr size_t kPartRows = 2'000;
constexpr size_t kPartOrderRows = 500;
constexpr size_t kPartBytes = 1 << 20;
constexpr size_t kMostMessageFile = 256 << 20;
constexpr int kMostShown = 100;  // bad rows in a text answer; --bad FILE takes all

struct KindWord {
  const char* word;
  v1::ImportKind kind;
};
constexpr KindWord kKinds[] = {{"orders", v1::IMPORT_KIND_ORDERS},
                               {"units", v1::IMPORT_KIND_UNITS},
                               {"stock", v1::IMPORT_KIND_OPENING_STOCK},
                               {"readings", v1::IMPORT_KIND_READINGS},
                               {"results", v1::IMPORT_KIND_TEST_RESULTS}};

absl::Status CannotRead(const std::string& path) {
  return absl::InvalidArgumentError(
      absl::StrCat("cannot read ", path, "; check the name and the rights"));
}

// SHA-256 of a file, 32 bytes, and its length.
absl::StatusOr<std::string> DigestOf(const std::string& path, int64_t* size) {
  std::ifstream file(path, std::ios::binary);
  if (!file) return CannotRead(path);
  const std::unique_ptr<EVP_MD_CTX, void (*)(EVP_MD_CTX*)> context(EVP_MD_CTX_new(),
                                                                   EVP_MD_CTX_free);
  EVP_DigestInit_ex(context.get(), EVP_sha256(), nullptr);
  std::string block(kReadBytes, '\0');
  while (file.read(block.data(), static_cast<std::streamsize>(block.size())) || file.gcount() > 0) {
    EVP_DigestUpdate(context.get(), block.data(), static_cast<size_t>(file.gcount()));
    *size += file.gcount();
  }
  std::string digest(32, '\0');
  EVP_DigestFinal_ex(context.get(), reinterpret_cast<unsigned char*>(digest.data()), nullptr);
  return digest;
}

std::string TroubleText(const v1::Trouble& trouble) {
  std::string text = trouble.where().empty() ? "" : absl::StrCat(trouble.where(), " ");
  absl::StrAppend(&text, trouble.text());
  if (!trouble.found().empty()) absl::StrAppend(&text, " (", trouble.found(), ")");
  return text;
}

void Add(const v1::ImportTotals& more, v1::ImportTotals* totals) {
  totals->set_read_count(totals->read_count() + more.read_count());
  totals->set_accepted_count(totals->accepted_count() + more.accepted_count());
  totals->set_repeated_count(totals->repeated_count() + more.repeated_count());
  totals->set_queued_count(totals->queued_count() + more.queued_count());
  totals->set_rejected_count(totals->rejected_count() + more.rejected_count());
}

std::string TotalsText(const v1::ImportTotals& totals, bool check) {
  return absl::StrCat(
      fact::Counted(totals.read_count(), "row", "rows"), " read: ", totals.accepted_count(),
      check ? " would be recorded, " : " recorded, ", totals.repeated_count(), " recorded before, ",
      totals.queued_count(), check ? " would wait in the queue, " : " waiting in the queue, ",
      totals.rejected_count(), " not taken\n");
}

// One file on its way in.
class FileImport {
 public:
  FileImport(Session& session, const Line& line, v1::ImportKind kind)
      : session_(session), line_(line), path_(line.Arg("FILE")) {
    request_.set_kind(kind);
    request_.set_sender(line.Get("--sender").value_or(""));
    request_.set_mapping(line.Get("--mapping").value_or(""));
    request_.set_validate_only(line.Has("--check"));
  }

  absl::Status Run() {
    const auto actor = line_.GetOrEnv("--as", "FERRULE_ACTOR");
    if (!actor.has_value()) {
      return absl::InvalidArgumentError("say who imports: --as ACTOR (or FERRULE_ACTOR)");
    }
    request_.set_actor(*actor);
    const auto digest = DigestOf(path_, &size_);
    if (!digest.ok()) return digest.status();
    request_.set_file_sha256(*digest);
    if (absl::Status opened = Open(); !opened.ok()) return opened;
    if (absl::Status asked = AskDelimiter(); !asked.ok()) return asked;
    if (absl::Status resumed = Resume(); !resumed.ok()) return resumed;
    if (absl::Status opened = OpenBadFile(); !opened.ok()) return opened;
    absl::Status sent = Send();
    if (!sent.ok()) return sent;
    Show();
    return absl::OkStatus();
  }

 private:
  // Opens the file and reads its header.
  absl::Status Open() {
    file_.open(path_, std::ios::binary);
    if (!file_) return CannotRead(path_);
    std::string line;
    char c = 0;
    while (file_.get(c)) {
      line += c;
      if (c == '\n' || line.size() > kPartBytes) break;
    }
    if (line.empty()) {
      return absl::InvalidArgumentError(absl::StrCat(path_, " is empty; it needs a header line"));
    }
    request_.set_header(line);
    offset_ = static_cast<int64_t>(line.size());
    return absl::OkStatus();
  }

  // The delimiter that the sender's mapping names: without it nobody can say where a record ends.
  absl::Status AskDelimiter() {
    if (request_.sender().empty()) return absl::OkStatus();
    v1::GetSettingsResponse response;
    const absl::Status asked = session_.Ask(&v1::DepotService::StubInterface::GetSettings,
                                            v1::GetSettingsRequest(), &response);
    if (!asked.ok()) return asked;
    for (const v1::Sender& sender : response.version().settings().senders()) {
      if (sender.id() != request_.sender()) continue;
      for (const v1::CsvMapping& mapping : sender.csv()) {
        const bool named = request_.mapping().empty() || mapping.id() == request_.mapping();
        if (mapping.kind() != request_.kind() || !named || mapping.delimiter().empty()) continue;
        delimiter_ = mapping.delimiter()[0];
      }
    }
    return absl::OkStatus();
  }

  // The file of bad rows; an import that goes on goes on in it, so that it holds them all.
  absl::Status OpenBadFile() {
    const auto bad = line_.Get("--bad");
    if (!bad) return absl::OkStatus();
    const bool goes_on = resumed_ && std::ifstream(*bad, std::ios::binary).peek() != EOF;
    bad_file_.open(*bad, std::ios::binary | (goes_on ? std::ios::app : std::ios::trunc));
    if (!bad_file_) {
      return absl::InvalidArgumentError(absl::StrCat("cannot write ", *bad, "; name another file"));
    }
    if (!goes_on) bad_file_ << "line,field,reason,cure,message\r\n";
    return absl::OkStatus();
  }

  absl::Status Resume() {
    if (line_.Has("--again") || line_.Has("--check")) return absl::OkStatus();
    v1::GetImportRequest request;
    request.set_file_sha256(request_.file_sha256());
    request.set_kind(request_.kind());
    request.set_sender(request_.sender());
    v1::GetImportResponse response;
    const absl::Status asked =
        session_.Ask(&v1::IntakeService::StubInterface::GetImport, request, &response);
    if (!asked.ok() || response.offset_bytes() <= offset_) return asked;
    if (response.offset_bytes() >= size_) {
      session_.Remark(absl::StrCat("this file was imported whole before (",
                                   fact::Counted(response.totals().accepted_count(), "row", "rows"),
                                   " recorded); it is read again, which adds nothing"));
      return absl::OkStatus();
    }
    session_.Remark(absl::StrCat(
        "goes on at line ", response.next_line(), ", ",
        fact::Counted(response.totals().read_count(), "row was", "rows were"), " read before"));
    offset_ = response.offset_bytes();
    line_number_ = response.next_line();
    resumed_ = true;
    return absl::OkStatus();
  }

  absl::Status Send() {
    file_.clear();
    file_.seekg(offset_);
    std::string pending;  // bytes not sent yet, from offset_
    bool end = false;
    while (!end || !pending.empty()) {
      std::string block(kReadBytes, '\0');
      while (!end && pending.size() < kPartBytes) {
        file_.read(block.data(), static_cast<std::streamsize>(block.size()));
        const auto got = static_cast<size_t>(file_.gcount());
        pending.append(block, 0, got);
        end = got < block.size();
      }
      const size_t part = PartOf(pending, end);
      if (part == 0) break;
      const bool last = end && part == pending.size();
      const absl::Status sent = SendPart(pending.substr(0, part), last);
      if (!sent.ok()) return sent;
      const auto taken = static_cast<size_t>(next_offset_ - offset_);
      if (taken == 0) return absl::InternalError("the depot took none of the rows");
      pending.erase(0, taken);
      offset_ = next_offset_;
      Progress();
    }
    return absl::OkStatus();
  }

  // How many bytes make a part of whole records; all of them at the file's end.
  size_t PartOf(std::string_view bytes, bool end) {
    const size_t most = request_.kind() == v1::IMPORT_KIND_ORDERS ? kPartOrderRows : kPartRows;
    exchange::CsvReader reader(delimiter_, 1, 0);
    size_t rows = 0;
    size_t whole = 0;
    // No more is cut than the part needs: what lies behind it is cut when its turn comes.
    for (size_t at = 0; at < bytes.size(); at += kCutBytes) {
      const bool last = end && at + kCutBytes >= bytes.size();
      for (const exchange::CsvRecord& record : reader.Feed(bytes.substr(at, kCutBytes), last)) {
        if (rows == most || static_cast<size_t>(record.end) > (kPartBytes * 3) / 2) return whole;
        whole = static_cast<size_t>(record.end);
        ++rows;
      }
    }
    if (end && rows < most) return bytes.size();
    return whole;
  }

  absl::Status SendPart(std::string rows, bool last) {
    request_.set_rows(std::move(rows));
    request_.set_first_line(line_number_);
    request_.set_offset_bytes(offset_);
    request_.set_last(last);
    v1::ImportRowsResponse response;
    const absl::Status asked =
        session_.Ask(&v1::IntakeService::StubInterface::ImportRows, request_, &response);
    if (!asked.ok()) return asked;
    Add(response.totals(), answer_.mutable_totals());
    for (const v1::BadRow& row : response.bad_rows()) Note(row);
    bad_file_.flush();  // the depot has the rows; what was wrong with them must not be lost
    for (v1::OrderChange& change : *response.mutable_changes()) {
      if (answer_.changes_size() < 500) *answer_.add_changes() = std::move(change);
    }
    next_offset_ = response.next_offset_bytes();
    line_number_ = response.next_line();
    return absl::OkStatus();
  }

  void Note(const v1::BadRow& row) {
    for (const v1::Trouble& trouble : row.troubles()) {
      if (bad_file_.is_open()) {
        bad_file_ << row.line() << ',' << exchange::QuoteCsv(trouble.where()) << ','
                  << exchange::QuoteCsv(TroubleText(trouble)) << ','
                  << exchange::QuoteCsv(trouble.cure()) << ',' << row.message() << "\r\n";
      }
    }
    if (answer_.bad_rows_size() < kMostShown || session_.format() != Format::kText) {
      *answer_.add_bad_rows() = row;
    }
    ++bad_count_;
  }

  void Progress() {
    if (isatty(STDERR_FILENO) == 0 || size_ == 0) return;
    std::fprintf(stderr, "\r%lld rows, %lld %%",
                 static_cast<long long>(answer_.totals().read_count()),
                 static_cast<long long>(offset_ * 100 / size_));
    if (offset_ == size_) std::fprintf(stderr, "\n");
  }

  void Show() {
    const bool check = line_.Has("--check");
    Table table({{"line", true}, {"field"}, {"reason"}, {"cure"}, {"message"}});
    for (const v1::BadRow& row : answer_.bad_rows()) {
      for (const v1::Trouble& trouble : row.troubles()) {
        table.Add({absl::StrCat(row.line()), trouble.where(), TroubleText(trouble), trouble.cure(),
                   row.message()});
      }
    }
    std::string text = TotalsText(answer_.totals(), check);
    if (!table.empty()) absl::StrAppend(&text, "\n", table.Text());
    if (bad_count_ > answer_.bad_rows_size()) {
      absl::StrAppend(&text, "and ", bad_count_ - answer_.bad_rows_size(),
                      " more; --bad FILE writes them all to a file\n");
    }
    session_.Show(answer_, table, text);
  }

  Session& session_;
  const Line& line_;
  const std::string path_;
  std::ifstream file_;
  std::ofstream bad_file_;
  v1::ImportRowsRequest request_;
  v1::ImportRowsResponse answer_;
  int64_t size_ = 0;
  int64_t offset_ = 0;
  int64_t next_offset_ = 0;
  int64_t line_number_ = 2;
  char delimiter_ = ',';
  bool resumed_ = false;
  int bad_count_ = 0;
};

// The messages of a file: framed ones, or one after the other each beginning with MSH.
std::vector<std::string> SplitHl7(const std::string& text) {
  std::vector<std::string> out;
  if (!text.empty() && text[0] == exchange::kStartBlock) {
    exchange::MllpReader reader(kMostMessageFile);
    reader.Feed(text, [&](exchange::MllpReader::Block block) { out.push_back(block.bytes); });
    return out;
  }
  size_t begin = 0;
  while (begin < text.size()) {
    size_t end = begin + 1;
    while (end < text.size() && !(text.compare(end, 3, "MSH") == 0 &&
                                  (text[end - 1] == '\r' || text[end - 1] == '\n'))) {
      ++end;
    }
    out.push_back(text.substr(begin, end - begin));
    begin = end;
  }
  return out;
}

// Whether a file's texts can be messages at all: what no depot would take is not sent.
absl::Status CheckMessages(const std::string& path, const std::vector<std::string>& messages) {
  for (size_t i = 0; i < messages.size(); ++i) {
    if (messages[i].size() <= exchange::kMostMessageBytes) continue;
    return absl::InvalidArgumentError(absl::StrCat(
        "message ", i + 1, " of ", path, " has ", messages[i].size(), " bytes, and at most ",
        exchange::kMostMessageBytes, " are taken; check that the file is what --kind says"));
  }
  return absl::OkStatus();
}

absl::Status ImportMessages(Session& session, const Line& line, v1::MessageKind kind) {
  std::ifstream file(line.Arg("FILE"), std::ios::binary);
  if (!file) return CannotRead(line.Arg("FILE"));
  const std::string text((std::istreambuf_iterator<char>(file)), std::istreambuf_iterator<char>());
  if (text.empty()) {
    return absl::InvalidArgumentError(
        absl::StrCat(line.Arg("FILE"), " is empty; it needs a message"));
  }
  std::vector<std::string> messages = {text};
  if (kind == v1::MESSAGE_KIND_HL7_V2) messages = SplitHl7(text);
  if (absl::Status fit = CheckMessages(line.Arg("FILE"), messages); !fit.ok()) return fit;
  v1::ImportRowsResponse answer;
  v1::ImportTotals& totals = *answer.mutable_totals();
  Table table({{"number", true}, {"field"}, {"reason"}, {"cure"}, {"message"}});
  for (size_t i = 0; i < messages.size(); ++i) {
    v1::SubmitMessageRequest request;
    request.set_kind(kind);
    request.set_sender(line.Get("--sender").value_or(""));
    request.set_content(messages[i]);
    request.set_validate_only(line.Has("--check"));
    v1::SubmitMessageResponse response;
    const absl::Status asked =
        session.Ask(&v1::IntakeService::StubInterface::SubmitMessage, request, &response);
    if (!asked.ok()) return asked;
    const v1::IntakeMessage& m = response.message();
    const bool queued = m.state() == v1::MESSAGE_STATE_QUEUED;
    const bool rejected = m.state() == v1::MESSAGE_STATE_REJECTED;
    v1::ImportTotals one;
    one.set_read_count(1);
    if (response.repeated()) {
      one.set_repeated_count(1);
    } else if (queued) {
      one.set_queued_count(1);
    } else if (rejected) {
      one.set_rejected_count(1);
    } else {
      one.set_accepted_count(1);
    }
    Add(one, &totals);
    for (v1::OrderChange& change : *response.mutable_changes()) {
      *answer.add_changes() = std::move(change);
    }
    if (!queued && !rejected) continue;
    v1::BadRow& bad = *answer.add_bad_rows();
    bad.set_line(static_cast<int64_t>(i) + 1);
    bad.set_message(m.name());
    *bad.mutable_troubles() = m.troubles();
    for (const v1::Trouble& trouble : m.troubles()) {
      table.Add(
          {absl::StrCat(i + 1), trouble.where(), TroubleText(trouble), trouble.cure(), m.name()});
    }
  }
  std::string out = absl::StrCat(
      fact::Counted(totals.read_count(), "message", "messages"), " read: ", totals.accepted_count(),
      line.Has("--check") ? " would be applied, " : " applied, ", totals.repeated_count(),
      " known before, ", totals.queued_count(), " waiting in the queue, ", totals.rejected_count(),
      " not taken\n");
  if (line.Has("--check")) {
    for (const v1::OrderChange& change : answer.changes()) {
      absl::StrAppend(&out, "  order ", change.order(), " ", change.field(), ": ",
                      change.before().empty() ? "nothing" : change.before(), " -> ",
                      change.after().empty() ? "nothing" : change.after(), "\n");
    }
  }
  if (!table.empty()) absl::StrAppend(&out, "\n", table.Text());
  session.Show(answer, table, out);
  return absl::OkStatus();
}

absl::Status Import(Session& session, const Line& line) {
  const std::string kind = line.Get("--kind").value_or("");
  if (kind == "hl7") return ImportMessages(session, line, v1::MESSAGE_KIND_HL7_V2);
  if (kind == "fhir") return ImportMessages(session, line, v1::MESSAGE_KIND_FHIR_R4);
  for (const KindWord& word : kKinds) {
    if (kind == word.word) return FileImport(session, line, word.kind).Run();
  }
  return absl::InvalidArgumentError(
      "say what the file holds: --kind orders, units, stock, readings, results, hl7 or fhir");
}

}  // namespace

void AddImportCommands(Catalog* catalog) {
  catalog->push_back(
      {"import",
       Group::kKeep,
       Kind::kRecords,
       "take in a file: HL7 or FHIR messages, or a table of orders, units, stock, readings, "
       "results",
       {{"FILE",
         "the file; tables are CSV with a header line, and go on after an interruption when "
         "the command is given again"}},
       {{"--kind", "KIND", "what it holds", false, "orders units stock readings results hl7 fhir"},
        {"--sender", "SENDER", "whose file it is, from the settings"},
        {"--mapping", "MAPPING", "the sender's column mapping, when there are several"},
        {"--bad", "FILE", "write every row that was not taken to this file, with the reason"},
        {"--again", "", "begin at the first row; rows recorded before add nothing"}},
       "ferrule import orders.csv --kind orders --sender clinic-portal --bad bad.csv",
       Import});
}

}  // namespace ferrule::cli
