// Keeping records: what may be destroyed, what holds it, to whom records were given, who had to do
// with a patient's record, and whether people were competent for what they did.
#include <algorithm>
#include <string>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "cli/answer.h"
#include "cli/catalog.h"
#include "cli/pages.h"
#include "cli/render_words.h"
#include "cli/report.h"
#include "cli/values.h"
#include "core/fact/words.h"
#include "core/time/civil.h"
#include "ferrule/v1/trace_service.grpc.pb.h"

namespace ferrule::cli {
namespace {

using Trace = v1::TraceService::StubInterface;

const Positional kOrder{"ORDER", "the order's number"};
const Positional kMatter{"MATTER", "the depot's name for the matter, for instance claim-2026-4"};

absl::Status Hold(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  v1::RecordsHeld& fact = *report->Add()->mutable_records_held();
  fact.set_order(line.Arg("ORDER"));
  fact.set_matter(line.Arg("MATTER"));
  fact.set_because(line.Arg("WHY"));
  return report->Send();
}

absl::Status Release(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  v1::RecordsReleased& fact = *report->Add()->mutable_records_released();
  fact.set_order(line.Arg("ORDER"));
  fact.set_matter(line.Arg("MATTER"));
  fact.set_because(line.Arg("WHY"));
  return report->Send();
}

absl::Status Disclose(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  v1::RecordsDisclosed& fact = *report->Add()->mutable_records_disclosed();
  fact.set_order(line.Arg("ORDER"));
  fact.set_recipient(line.Arg("TO"));
  fact.set_content(line.Arg("WHAT"));
  fact.set_purpose(line.Arg("WHY"));
  return report->Send();
}

// A word for the kinds that stands on the command line, and in the answer.
absl::Status ReadKind(Values& values, v1::ListRecordsDueRequest* request) {
  if (const auto kind = values.OneOf<v1::RecordKind>("--kind")) request->set_kind(*kind);
  return values.status();
}

absl::Status RecordsDue(Session& session, const Line& line) {
  if (absl::Status now = OnlyFromNow(session); !now.ok()) return now;
  Values values(session);
  v1::ListRecordsDueRequest request;
  request.set_include_kept(line.Has("--all"));
  if (const auto day = values.Day("--on")) *request.mutable_on_date() = *day;
  if (absl::Status read = ReadKind(values, &request); !read.ok()) return read;
  v1::ListRecordsDueResponse all;
  const absl::Status asked = AskPages(
      session, &Trace::ListRecordsDue, request, &all, [&](v1::ListRecordsDueResponse& page) {
        if (&page != &all) {
          all.set_due_count(page.due_count());
          all.set_kept_count(page.kept_count());
          all.set_held_count(page.held_count());
          *all.mutable_kinds_without_rule() = page.kinds_without_rule();
        }
        return page.mutable_records();
      });
  if (!asked.ok()) return asked;
  Table table({{"kind"},
               {"record"},
               {"due"},
               {"from"},
               {"counts_from"},
               {"anchor"},
               {"months", true},
               {"source"},
               {"orders"},
               {"kept_because"}});
  for (const v1::RecordDue& record : all.records()) {
    const bool ruled = record.has_rule();
    table.Add({std::string(fact::RecordKindWords(record.kind())), record.resource(),
               record.due() ? "yes" : "no", Day(record.due_date()), Day(record.anchor_date()),
               ruled ? std::string(fact::RetentionAnchorWords(record.rule().anchor())) : "",
               ruled ? absl::StrCat(record.rule().month_count()) : "", record.rule().source(),
               Joined(record.orders()), record.kept_because()});
  }
  std::string below =
      absl::StrCat(all.due_count(), " may be destroyed, ", all.kept_count(),
                   " must be kept, of which ", all.held_count(), " by a hold alone.\n");
  for (const int kind : all.kinds_without_rule()) {
    absl::StrAppend(&below, "No rule keeps or frees: ",
                    std::string(fact::RecordKindWords(static_cast<v1::RecordKind>(kind))), ".\n");
  }
  absl::StrAppend(&below,
                  "Nothing was destroyed: ferrule patient erase and ferrule queue erase do that, "
                  "by name and with a reason. The law of the place rules.\n");
  return ShowAnswer(session, all, table, "no record may be destroyed on that day", below);
}

// Where nobody has a competence for such work, a "no" would blame the doer.
const char* CompetentWords(const v1::CompetentWork& work) {
  if (!work.on_record()) return "not on record";
  return work.competent() ? "yes" : "no";
}

absl::Status Competent(Session& session, const Line& line) {
  if (absl::Status now = OnlyFromNow(session); !now.ok()) return now;
  Values values(session);
  v1::ListCompetentWorkRequest request;
  request.set_person(line.Get("--person").value_or(""));
  request.set_work(line.Get("--work").value_or(""));
  request.set_lacking_only(line.Has("--lacking"));
  if (const auto us = values.Instant("--from")) time::SetMicros(*us, request.mutable_from_time());
  if (const auto us = values.Instant("--to")) time::SetMicros(*us, request.mutable_to_time());
  if (!values.status().ok()) return values.status();
  v1::ListCompetentWorkResponse all;
  const absl::Status asked = AskPages(session, &Trace::ListCompetentWork, request, &all,
                                      [&](v1::ListCompetentWorkResponse& page) {
                                        if (&page != &all) {
                                          all.set_work_count(page.work_count());
                                          *all.mutable_asked_kinds() = page.asked_kinds();
                                        }
                                        return page.mutable_works();
                                      });
  if (!asked.ok()) return asked;
  const absl::TimeZone zone = session.zones().OfBranch("");
  Table table({{"done"}, {"by"}, {"work"}, {"subject"}, {"competent"}, {"rules"}, {"entry"}});
  for (const v1::CompetentWork& work : all.works()) {
    table.Add({Local(work.happened_time(), zone), work.person(), work.work(), work.subject(),
               CompetentWords(work), work.rules_version(),
               absl::StrCat(work.fact().entry_id(), " ", work.fact().index())});
  }
  std::string below = absl::StrCat(
      all.work_count(),
      line.Has("--lacking") ? " pieces of work without a competence; looked at: "
                            : " pieces of work; looked at: ",
      Joined(all.asked_kinds()),
      ".\nCompetences stand in the access rules (ferrule access show), with their days.\n");
  if (std::any_of(all.works().begin(), all.works().end(),
                  [](const v1::CompetentWork& work) { return !work.on_record(); })) {
    below +=
        "Not on record: the access rules have nobody's competence for that kind of work; it says "
        "nothing about who did it.\n";
  }
  return ShowAnswer(session, all, table,
                    line.Has("--lacking") ? "no such work was done without a competence"
                                          : "no such work is on the records",
                    below);
}

absl::Status PatientTrail(Session& session, const Line& line) {
  if (absl::Status now = OnlyFromNow(session); !now.ok()) return now;
  Values values(session);
  v1::ReportPatientTrailRequest request;
  const std::string patient = line.Arg("PATIENT");
  request.set_patient(absl::StartsWith(patient, "patients/") ? BareId(patient) : patient);
  if (const auto us = values.Instant("--from")) time::SetMicros(*us, request.mutable_from_time());
  if (const auto us = values.Instant("--to")) time::SetMicros(*us, request.mutable_to_time());
  if (!values.status().ok()) return values.status();
  v1::ReportPatientTrailResponse response;
  const absl::Status asked = session.Ask(&Trace::ReportPatientTrail, request, &response);
  if (!asked.ok()) return asked;
  const absl::TimeZone zone = session.zones().OfBranch("");
  Table table({{"time"}, {"what"}, {"who"}, {"record"}, {"words"}});
  for (const v1::TrailRow& row : response.rows()) {
    if (line.Has("--disclosed") && row.kind() != v1::TRAIL_KIND_DISCLOSED) continue;
    table.Add({Local(row.time(), zone), Word(row.kind()),
               row.actor().empty() ? "(the file's owner)" : row.actor(), row.resource(),
               row.words()});
  }
  std::string below = absl::StrCat(
      "Orders of the patient: ", response.orders().empty() ? "none" : Joined(response.orders()),
      ".\n");
  if (response.cut()) below += "There is more than fits: ask for a shorter time.\n";
  return ShowAnswer(session, response, table, "nothing of the kind is on the records", below);
}

void AddAnswers(Catalog* catalog) {
  constexpr auto kGroup = Group::kTrace;
  catalog->push_back(
      {"records-due",
       kGroup,
       Kind::kReads,
       "say which records may be destroyed, and what keeps the others",
       {},
       {{"--on", "DAY", "on this day; default today"},
        {"--kind", "KIND", "patient, message, rental-papers or complaint-papers; default all"},
        {"--all", "", "those that must be kept as well"},
        kLimitFlag},
       "ferrule records-due --all",
       RecordsDue});
  catalog->push_back({"competence",
                      kGroup,
                      Kind::kReads,
                      "say whether people were competent for what they did on that day",
                      {},
                      {{"--person", "NAME", "of one person"},
                       {"--work", "KIND", "one kind of work, for instance repair_closed"},
                       {"--from", "TIME", "done from here on"},
                       {"--to", "TIME", "done before this"},
                       {"--lacking", "", "only work without a competence"},
                       kLimitFlag},
                      "ferrule competence --lacking",
                      Competent});
  catalog->push_back({"patient trail",
                      kGroup,
                      Kind::kReads,
                      "say who looked at a patient's record, changed it, or was given it",
                      {{"PATIENT", "the patient's reference"}},
                      {{"--from", "TIME", "from here on; default six years back"},
                       {"--to", "TIME", "before this"},
                       {"--disclosed", "", "only to whom it was given"}},
                      "ferrule patient trail P-31",
                      PatientTrail});
}

}  // namespace

void AddRecordsCommands(Catalog* catalog) {
  constexpr auto kGroup = Group::kTrace;
  AddAnswers(catalog);
  catalog->push_back({"records-hold",
                      kGroup,
                      Kind::kRecords,
                      "keep an order's records from being destroyed, whatever the rules say",
                      {kOrder, kMatter, {"WHY", "the reason; nothing about the patient"}},
                      {},
                      "ferrule records-hold R-2001 claim-2026-4 'the payer disputes a claim'",
                      Hold});
  catalog->push_back({"records-release",
                      kGroup,
                      Kind::kRecords,
                      "end what keeps an order's records",
                      {kOrder, kMatter, {"WHY", "the reason"}},
                      {},
                      "ferrule records-release R-2001 claim-2026-4 'the claim is settled'",
                      Release});
  catalog->push_back({"disclose",
                      kGroup,
                      Kind::kRecords,
                      "note that an order's records were given to somebody outside",
                      {kOrder,
                       {"TO", "who got them, as an office"},
                       {"WHAT", "what was given; nothing about the patient"},
                       {"WHY", "what for"}},
                      {},
                      "ferrule disclose R-2001 'payer one, review' 'order and ticket' 'review 7'",
                      Disclose});
}

}  // namespace ferrule::cli
