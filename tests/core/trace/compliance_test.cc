// Tests core/trace/complaints.cc, core/trace/records_due.cc, core/trace/competent_work.cc,
//   core/trace/patient_trail.cc.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "core/guard/patients.h"
#include "core/guard/rules.h"
#include "core/trace/competent_work.h"
#include "core/trace/complaints.h"
#include "core/trace/patient_trail.h"
#include "core/trace/records_due.h"
#include "google/protobuf/text_format.h"
#include "tests/support/ledger_depot.h"
#include "tests/support/stores_entries.h"

namespace ferrule::trace {
namespace {

using testing::At;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using testing::kDayUs;
using testing::kMinuteUs;
using testing::kStartUs;

constexpr int64_t kDay = 24 * 60;  // minutes
constexpr auto kObserved = v1::ENTRY_MODE_OBSERVED;

class Compliance : public testing::OnEveryEngine {
 protected:
  Compliance() : depot_(GetParam()) {
    depot_.clock().Set(NowUs());
    depot_.MustRecord(testing::EntryOf(
        "settings-1", kStartUs - kDayUs,
        "settings_put { settings {" + testing::StoresSettings() +
            " retention_rules { kind: RECORD_KIND_PATIENT anchor: RETENTION_ANCHOR_ENDED "
            "month_count: 1 source: 'house rule' } retention_rules { kind: "
            "RECORD_KIND_COMPLAINT_PAPERS anchor: RETENTION_ANCHOR_CLOSED month_count: 1 source: "
            "'house rule' } } from_time { seconds: 1767225600 } }"));
  }
  static int64_t NowUs() { return kStartUs + 60 * kDayUs; }

  void Tell(int64_t minutes, const std::string& fact) {
    depot_.MustRecord(At(absl::StrCat("e", ++entries_), minutes, fact, kObserved));
  }
  void Complain(const std::string& number, int64_t minutes, const std::string& kind,
                const std::string& more = "") {
    Tell(minutes, absl::StrCat("complaint_received { complaint: '", number, "' kind: ", kind,
                               " branch: 'north' source: COMPLAINT_SOURCE_PATIENT harm: HARM_NONE "
                               "words: 'w' ",
                               more, " }"));
  }
  // A whole rental of a patient.
  void Rental(const std::string& order, const std::string& patient, int64_t days) {
    Tell(0, absl::StrCat("order_taken { order: '", order,
                         "' details { branch: 'north' device_class: 'knee' patient: '", patient,
                         "' } }"));
    Tell(60, absl::StrCat("handed_over { unit: 'K-", order, "' order: '", order,
                          "' unit_model: 'knee-a' }"));
    if (days == 0) return;
    Tell(days * kDay, absl::StrCat("picked_up { unit: 'K-", order, "' order: '", order,
                                   "' to_place: 'van-dirty' }"));
  }
  void Keep(const std::string& patient) {
    guard::Patients patients(&depot_.ledger());
    v1::PatientParticulars particulars;
    particulars.set_patient(patient);
    const auto put =
        patients.Put(particulars, {NowUs(), "intake-cy", "PutPatient", "patients/" + patient, ""});
    ASSERT_TRUE(put.ok()) << put.status();
  }

  testing::LedgerDepot depot_;
  int entries_ = 0;
};

// Four complaints: answers after 1, 2 and 9 days, one that has waited for 50. The median is 2 days.
TEST_P(Compliance, ComplaintsHaveAClockAMedianAndTheirKinds) {
  Complain("B-1", 0, "COMPLAINT_KIND_DEVICE", "subject: 'units/K-1'");
  Complain("B-2", kDay, "COMPLAINT_KIND_VISIT");
  Complain("B-3", 2 * kDay, "COMPLAINT_KIND_DEVICE");
  Complain("B-4", 10 * kDay, "COMPLAINT_KIND_DEVICE");
  Tell(kDay, "complaint_answered { complaint: 'B-1' how: 'letter' }");
  Tell(5 * kDay, "complaint_answered { complaint: 'B-1' how: 'again' }");
  Tell(3 * kDay, "complaint_answered { complaint: 'B-2' }");
  Tell(11 * kDay, "complaint_answered { complaint: 'B-3' }");
  Tell(12 * kDay,
       "complaint_closed { complaint: 'B-1' outcome: COMPLAINT_OUTCOME_UPHELD done: 'd' }");
  v1::ListComplaintsRequest request;
  request.set_page_size(3);
  auto page = ListComplaints(depot_.ledger(), request, NowUs());
  ASSERT_TRUE(page.ok()) << page.status();
  ASSERT_EQ(page->complaints_size(), 3);
  EXPECT_EQ(page->complaints(0).complaint().answered_how(), "letter");
  EXPECT_EQ(page->complaints(0).waited_s(), 86'400);
  EXPECT_EQ(page->totals().received_count(), 4);
  EXPECT_EQ(page->totals().open_count(), 3);
  EXPECT_EQ(page->totals().unanswered_count(), 1);
  EXPECT_EQ(page->totals().late_count(), 1);
  EXPECT_EQ(page->totals().median_answer_s(), 2 * 86'400);
  ASSERT_EQ(page->by_kind_size(), 2);
  EXPECT_EQ(page->by_kind(0).received_count(), 3);
  EXPECT_EQ(page->by_kind(0).median_answer_s(), 5 * 86'400);
  request.set_page_token(page->next_page_token());
  page = ListComplaints(depot_.ledger(), request, NowUs());
  ASSERT_TRUE(page.ok()) << page.status();
  ASSERT_EQ(page->complaints_size(), 1);
  EXPECT_TRUE(page->complaints(0).late());
  EXPECT_EQ(page->next_page_token(), "");
  request.clear_page_token();
  request.set_subject("units/K-1");
  EXPECT_EQ(ListComplaints(depot_.ledger(), request, NowUs())->complaints_size(), 1);
}

// P-1's rental ended on day 10 and may go a month later, P-2 is held, P-3's still runs.
TEST_P(Compliance, RecordsAreDueByRuleUnlessHeldOrRunning) {
  Rental("R-1", "P-1", 10);
  Rental("R-2", "P-2", 10);
  Rental("R-3", "P-3", 0);
  for (const char* patient : {"P-1", "P-2", "P-3", "P-4"}) Keep(patient);
  Tell(20 * kDay, "records_held { order: 'R-2' matter: 'claim-4' because: 'open' }");
  v1::ListRecordsDueRequest request;
  request.set_page_size(50);
  request.set_kind(v1::RECORD_KIND_PATIENT);
  auto due = ListRecordsDue(depot_.ledger(), request, NowUs());
  ASSERT_TRUE(due.ok()) << due.status();
  ASSERT_EQ(due->records_size(), 1);
  EXPECT_EQ(due->records(0).resource(), "patients/P-1");
  EXPECT_THAT(due->records(0).orders(), ElementsAre("orders/R-1"));
  EXPECT_EQ(due->due_count(), 1);
  EXPECT_EQ(due->kept_count(), 3);
  EXPECT_EQ(due->held_count(), 1);
  EXPECT_THAT(due->kinds_without_rule(),
              ElementsAre(v1::RECORD_KIND_MESSAGE, v1::RECORD_KIND_RENTAL_PAPERS));
  Tell(50 * kDay, "records_released { order: 'R-2' matter: 'claim-4' because: 'settled' }");
  request.set_include_kept(true);
  request.set_page_size(1);
  std::vector<std::string> seen;
  do {
    due = ListRecordsDue(depot_.ledger(), request, NowUs());
    ASSERT_TRUE(due.ok()) << due.status();
    for (const v1::RecordDue& record : due->records()) {
      seen.push_back(absl::StrCat(record.resource(), record.due() ? " due" : ""));
    }
    request.set_page_token(due->next_page_token());
  } while (!due->next_page_token().empty());
  EXPECT_THAT(seen,
              ElementsAre("patients/P-1 due", "patients/P-2 due", "patients/P-3", "patients/P-4"));
}

// A hold stands before destruction whatever the rules say, until it has ended; nothing else does.
TEST_P(Compliance, WhatIsHeldMayNotBeDestroyed) {
  Rental("R-1", "P-1", 10);
  Rental("R-2", "P-2", 10);
  for (const char* patient : {"P-1", "P-2"}) Keep(patient);
  Tell(20 * kDay, "records_held { order: 'R-2' matter: 'claim-4' because: 'disputed' }");
  const auto may = [&](const char* resource) {
    return NotHeld(depot_.ledger(), v1::RECORD_KIND_PATIENT, resource, NowUs());
  };
  EXPECT_EQ(may("patients/P-1"), absl::OkStatus());
  EXPECT_EQ(may("patients/P-9"), absl::OkStatus());
  const absl::Status held = may("patients/P-2");
  EXPECT_TRUE(absl::IsFailedPrecondition(held)) << held;
  for (const char* word : {"orders/R-2", "claim-4", "disputed", "records-release"}) {
    EXPECT_NE(held.message().find(word), std::string::npos) << word << ": " << held;
  }
  EXPECT_TRUE(absl::IsFailedPrecondition(
      NotHeld(depot_.ledger(), v1::RECORD_KIND_RENTAL_PAPERS, "orders/R-2", NowUs())));
  Tell(50 * kDay, "records_released { order: 'R-2' matter: 'claim-4' because: 'settled' }");
  EXPECT_EQ(may("patients/P-2"), absl::OkStatus());
}

// Whoever may not see patients gets the same list without a reference, in the token as well.
TEST_P(Compliance, RecordsAreListedWithoutReferencesWhereTheyAreHidden) {
  for (const char* patient : {"P-1", "P-2", "P-3"}) Keep(patient);
  v1::ListRecordsDueRequest request;
  request.set_include_kept(true);
  request.set_page_size(2);
  auto page = ListRecordsDue(depot_.ledger(), request, NowUs(), "hidden");
  ASSERT_TRUE(page.ok()) << page.status();
  ASSERT_EQ(page->records_size(), 2);
  EXPECT_EQ(page->records(1).resource(), "patients/hidden");
  EXPECT_EQ(page->next_page_token(), "2");
  request.set_page_token("2");
  page = ListRecordsDue(depot_.ledger(), request, NowUs(), "hidden");
  ASSERT_TRUE(page.ok()) << page.status();
  EXPECT_EQ(page->records_size(), 1);
  EXPECT_EQ(page->next_page_token(), "");
  EXPECT_TRUE(absl::IsInvalidArgument(ListRecordsDue(depot_.ledger(), request, NowUs()).status()));
  request.set_page_token("1 patients/P-2");
  EXPECT_TRUE(absl::IsInvalidArgument(
      ListRecordsDue(depot_.ledger(), request, NowUs(), "hidden").status()));
}

// Whoever erases what a page lists goes on with the next one.
TEST_P(Compliance, AListOfRecordsGoesOnBehindOneThatIsGone) {
  for (const char* patient : {"P-1", "P-2", "P-3"}) Keep(patient);
  v1::ListRecordsDueRequest request;
  request.set_include_kept(true);
  request.set_page_size(1);
  const auto first = ListRecordsDue(depot_.ledger(), request, NowUs());
  ASSERT_TRUE(first.ok()) << first.status();
  guard::Patients patients(&depot_.ledger());
  ASSERT_TRUE(
      patients.Erase("P-1", {NowUs(), "comp-fay", "ErasePatient", "patients/P-1", "due"}).ok());
  request.set_page_token(first->next_page_token());
  const auto second = ListRecordsDue(depot_.ledger(), request, NowUs());
  ASSERT_TRUE(second.ok()) << second.status();
  ASSERT_EQ(second->records_size(), 1);
  EXPECT_EQ(second->records(0).resource(), "patients/P-2");
}

TEST_P(Compliance, WorkIsJudgedByTheCompetenceOfItsDay) {
  v1::AccessRulesVersion version;
  ASSERT_TRUE(google::protobuf::TextFormat::ParseFromString(
      "rules { version: 'a-1' competence_for: 'repair_closed' competences { person: 'tech-ada' "
      "facts: 'repair_closed' to_date { year: 2026 month: 3 day: 3 } } } "
      "from_time { seconds: 1767225600 }",
      &version));
  guard::AccessRulesBook book(&depot_.ledger());
  ASSERT_TRUE(book.Put(version).ok());
  // kStartUs is 2026-03-02.
  Tell(0, "repair_closed { unit: 'K-1' work: 'w' }");
  Tell(3 * kDay, "repair_closed { unit: 'K-2' work: 'w' }");
  Tell(4 * kDay, "repair_closed { unit: 'K-3' work: 'mistyped' }");
  Tell(5 * kDay, absl::StrCat("reversal { fact { entry_id: 'e", entries_,
                              "' } subjects: 'units/K-3' because: 'mistyped' }"));
  v1::ListCompetentWorkRequest request;
  request.set_page_size(50);
  auto works = ListCompetentWork(depot_.ledger(), request, NowUs());
  ASSERT_TRUE(works.ok()) << works.status();
  ASSERT_EQ(works->works_size(), 2);
  EXPECT_TRUE(works->works(0).competent());
  EXPECT_EQ(works->works(0).rules_version(), "a-1");
  EXPECT_FALSE(works->works(1).competent());
  EXPECT_EQ(works->works(1).subject(), "units/K-2");
  request.set_lacking_only(true);
  EXPECT_EQ(ListCompetentWork(depot_.ledger(), request, NowUs())->work_count(), 1);
  EXPECT_TRUE(works->works(1).on_record());
  request.set_work("service_done");
  Tell(6 * kDay, "service_done { unit: 'K-1' plan: 'yearly' }");
  works = ListCompetentWork(depot_.ledger(), request, NowUs());
  ASSERT_EQ(works->works_size(), 1) << "what is not on record is lacking";
  EXPECT_FALSE(works->works(0).competent());
  EXPECT_FALSE(works->works(0).on_record());
  request.clear_work();
  request.set_person("tech-bo");
  EXPECT_EQ(ListCompetentWork(depot_.ledger(), request, NowUs())->work_count(), 0);
}

TEST_P(Compliance, APatientsTrailTellsReadsChangesAndDisclosures) {
  Rental("R-1", "P-1", 10);
  Rental("R-2", "P-2", 10);
  Tell(12 * kDay,
       "records_disclosed { order: 'R-1' recipient: 'payer one' content: 'order' purpose: 'x' }");
  Keep("P-1");
  guard::Patients patients(&depot_.ledger());
  ASSERT_TRUE(patients.Note({NowUs() + 1, "rep-bo", "/GetOrder", "orders/R-1", ""}).ok());
  ASSERT_TRUE(patients.Note({NowUs() + 2, "rep-bo", "/GetOrder", "orders/R-2", ""}).ok());
  v1::ReportPatientTrailRequest request;
  request.set_patient("P-1");
  const auto trail = ReportPatientTrail(depot_.ledger(), request, NowUs() + 3);
  ASSERT_TRUE(trail.ok()) << trail.status();
  EXPECT_THAT(trail->orders(), ElementsAre("orders/R-1"));
  std::vector<std::string> disclosed;
  std::vector<std::string> readers;
  int changes = 0;
  for (const v1::TrailRow& row : trail->rows()) {
    EXPECT_THAT(row.resource(), ::testing::AnyOf("orders/R-1", "patients/P-1"));
    if (row.kind() == v1::TRAIL_KIND_DISCLOSED) disclosed.push_back(row.words());
    if (row.kind() == v1::TRAIL_KIND_READ) readers.push_back(row.actor());
    if (row.kind() == v1::TRAIL_KIND_CHANGED) ++changes;
  }
  EXPECT_THAT(disclosed, ElementsAre(HasSubstr("to payer one")));
  EXPECT_THAT(readers, ElementsAre("intake-cy", "rep-bo"));
  EXPECT_EQ(changes, 3);
  const auto hidden = ReportPatientTrail(depot_.ledger(), request, NowUs() + 3, "hidden");
  ASSERT_TRUE(hidden.ok()) << hidden.status();
  EXPECT_EQ(hidden->rows_size(), trail->rows_size());
  EXPECT_THAT(hidden->DebugString(), HasSubstr("patients/hidden"));
  EXPECT_THAT(hidden->DebugString(), ::testing::Not(HasSubstr("P-1")));
  time::SetMicros(NowUs() + 10, request.mutable_from_time());
  EXPECT_THAT(ReportPatientTrail(depot_.ledger(), request, NowUs() + 11)->rows(), IsEmpty());
}

FERRULE_ON_EVERY_ENGINE(Compliance);

TEST(Complaints, AnEvenNumberOfAnswersHasTheMeanOfTheMiddleTwo) {
  std::vector<v1::ComplaintRow> rows;
  for (const int64_t hours : {1, 4, 10, 100}) {
    v1::ComplaintState complaint;
    time::SetMicros(0, complaint.mutable_received()->mutable_time());
    time::SetMicros(hours * 3'600'000'000, complaint.mutable_answered()->mutable_time());
    rows.push_back(ClockOf(complaint, 0, 0));
  }
  EXPECT_EQ(TotalsOf(rows).median_answer_s(), 7 * 3'600);
  EXPECT_FALSE(TotalsOf({}).has_median_answer_s());
}

// Exactly five days is in time; a second more is late.
TEST(Complaints, AreLateAfterTheDaysAskedFor) {
  v1::ComplaintState complaint;
  time::SetMicros(0, complaint.mutable_received()->mutable_time());
  constexpr int64_t kFive = 5 * kDayUs;
  EXPECT_FALSE(ClockOf(complaint, 0, kFive).late());
  EXPECT_TRUE(ClockOf(complaint, 0, kFive + 1'000'000).late());
  EXPECT_TRUE(ClockOf(complaint, 2, kFive).late());
  complaint.mutable_closed()->set_actor("x");
  EXPECT_FALSE(ClockOf(complaint, 0, 2 * kFive).late());
}

}  // namespace
}  // namespace ferrule::trace
