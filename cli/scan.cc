// What a scanned label is, and what it finds.
#include "absl/strings/str_cat.h"
#include "cli/catalog.h"
#include "cli/line.h"
#include "cli/render_fields.h"
#include "cli/render_words.h"
#include "cli/session.h"
#include "core/fact/utf8.h"
#include "ferrule/v1/label_service.grpc.pb.h"
#include "ferrule/v1/label_service.pb.h"

namespace ferrule::cli {
namespace {

// A separator as people see it.
std::string Readable(const std::string& text) {
  std::string out;
  for (char c : text) out += c == '\x1d' ? std::string("<GS>") : std::string(1, c);
  return Printable(out);
}

Table MatchTable(const v1::ResolveScanResponse& answer) {
  Table table({{"target"}, {"id"}, {"found_by"}, {"text"}});
  for (const v1::ScanMatch& match : answer.matches()) {
    table.Add({Word(match.target()), match.id(), Word(match.by()), match.text()});
  }
  return table;
}

std::string FieldLines(const v1::ResolveScanResponse& answer) {
  Fields fields;
  // A plain text says nothing beside itself.
  if (answer.kind() == v1::SCAN_KIND_PLAIN || answer.kind() == v1::SCAN_KIND_CARD) return "";
  for (const v1::ScanField& field : answer.fields()) {
    const std::string code = field.code().empty() ? "" : absl::StrCat("(", field.code(), ") ");
    const std::string day = field.has_date() ? absl::StrCat(", ", Day(field.date())) : "";
    fields.Add(Readable(absl::StrCat(code, field.title())),
               Readable(absl::StrCat(field.value(), day)));
  }
  return fields.Text();
}

std::string Text(const v1::ResolveScanResponse& answer) {
  std::string text;
  if (answer.outcome() == v1::SCAN_OUTCOME_FOUND) {
    absl::StrAppend(&text, Readable(answer.answer()), "\n");
  }
  text += FieldLines(answer);
  for (const std::string& remark : answer.remarks()) {
    absl::StrAppend(&text, Readable(remark), "\n");
  }
  return text;
}

// What a script is to see of a scan that stands for nothing, or for several things.
absl::Status StatusOf(const v1::ResolveScanResponse& answer) {
  switch (answer.outcome()) {
    case v1::SCAN_OUTCOME_FOUND:
      return absl::OkStatus();
    case v1::SCAN_OUTCOME_UNKNOWN:
      return absl::NotFoundError(answer.answer());
    case v1::SCAN_OUTCOME_AMBIGUOUS:
      return absl::FailedPreconditionError(answer.answer());
    default:
      return absl::InvalidArgumentError(answer.answer());
  }
}

absl::Status Scan(Session& session, const Line& line) {
  v1::ResolveScanRequest request;
  request.set_text(line.Arg("TEXT"));
  if (!fact::IsUtf8(request.text())) {
    return absl::InvalidArgumentError(
        "the scan is no text (UTF-8): scan it again, or type what stands below the code");
  }
  v1::ResolveScanResponse answer;
  const absl::Status asked =
      session.Ask(&v1::LabelService::StubInterface::ResolveScan, request, &answer);
  if (!asked.ok()) return asked;
  session.Show(answer, MatchTable(answer), Text(answer));
  const absl::Status status = StatusOf(answer);
  // What was read is worth seeing beside the words of the failure.
  if (!status.ok() && !session.out().Flush()) {
    return absl::UnavailableError("the answer could not be written out");
  }
  return status;
}

}  // namespace

void AddScanCommands(Catalog* catalog) {
  catalog->push_back(
      {"scan",
       Group::kLook,
       Kind::kWorks,
       "what a scanned label is, and what it finds: tag, serial, UDI, lot, place",
       {{"TEXT", "as the scanner gives it, in quotes: own tag, GS1 or HIBC code, maker's label"}},
       {},
       "ferrule scan '(01)51022222233336(21)1234'",
       Scan});
}

}  // namespace ferrule::cli
