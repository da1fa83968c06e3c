// Tests core/intake/intake.cc, core/intake/evaluate.cc, core/intake/message_store.cc,
// core/intake/answer.cc, core/intake/digest.cc, core/intake/import_part.cc,
// core/intake/import_orders.cc, core/intake/fact_rows.cc and core/intake/import_facts.cc, on every
// engine. The exceptions are those of a depot's trade that belong to what other systems send. All
// synthetic.
#include "core/intake/intake.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <random>

#include "absl/strings/str_cat.h"
#include "core/intake/answer.h"
#include "core/intake/digest.h"
#include "core/order/due.h"
#include "core/time/civil.h"
#include "tests/support/entries.h"
#include "tests/support/ledger_depot.h"

namespace ferrule::testing {
namespace {

using intake::Intake;
using ::testing::ElementsAre;
using ::testing::HasSubstr;

std::string Senders(const std::string& more = "") {
  return "senders { id: 'clinic-ehr' issuer: 'clinic' hl7_application: 'EHR' order_prefix: 'E-' "
         "branch: 'north' codes { code: 'E0935' device_class: 'knee' } codes { code: 'LT' side: "
         "SIDE_LEFT } codes { code: 'RT' side: SIDE_RIGHT } codes { code: 'DOS' item: "
         "INTAKE_ITEM_SURGERY_DATE } " +
         more +
         " } senders { id: 'clinic-portal' issuer: 'clinic' order_prefix: 'E-' branch: 'north' "
         "codes { code: 'E0935' device_class: 'knee' } codes { code: 'LT' side: SIDE_LEFT } } "
         "senders { id: 'other' branch: 'north' order_prefix: 'O-' codes { code: 'E0935' "
         "device_class: 'knee' } codes { code: 'LT' side: SIDE_LEFT } codes { code: 'DOS' item: "
         "INTAKE_ITEM_SURGERY_DATE } }";
}

v1::Entry SettingsWith(const std::string& version, const std::string& senders) {
  const int64_t from_us = kStartUs - (version == "1" ? 10 : 9) * kDayUs;
  return EntryOf("settings-" + version, from_us,
                 "settings_put { settings { " + SmallSettings(version) + senders +
                     " } from_time { seconds: " + absl::StrCat(from_us / 1'000'000) + " } }");
}

// "20260302HHMMSS" of the first day.
std::string At(int minute) {
  return absl::FormatTime("%Y%m%d%H%M%S+0000", absl::FromUnixMicros(kStartUs + minute * kMinuteUs),
                          absl::UTCTimeZone());
}

class IntakeTest : public OnEveryEngine {
 protected:
  IntakeTest() : depot_(GetParam()) {
    depot_.MustRecord(SettingsWith("1", Senders()));
    depot_.clock().Set(kStartUs + 30 * kDayUs);
    intake_ = std::make_unique<Intake>(&depot_.ledger());
  }

  static std::string Message(const std::string& id, int minute, const std::string& control,
                             const std::string& number, const std::string& more) {
    return absl::StrCat("MSH|^~\\&|EHR|CLINIC|DEPOT|DEPOT|", At(minute), "||OMG^O19|", id,
                        "|P|2.5.1\rPID|1||PT1||DOE^JANE\rORC|", control, "|", number, "\r", more);
  }
  static std::string New(const std::string& id, int minute, const std::string& number = "ORD1",
                         const std::string& side = "LT") {
    return Message(id, minute, "NW", number,
                   "OBR|1|||E0935" + std::string(40, '|') + "|" + side + "\r");
  }

  v1::SubmitMessageResponse Send(const std::string& content,
                                 v1::MessageKind kind = v1::MESSAGE_KIND_HL7_V2,
                                 const std::string& sender = "", bool check = false) {
    v1::SubmitMessageRequest request;
    request.set_kind(kind);
    request.set_sender(sender);
    request.set_content(content);
    request.set_validate_only(check);
    auto response = intake_->Submit(request, "");
    EXPECT_TRUE(response.ok()) << response.status();
    return response.ok() ? *response : v1::SubmitMessageResponse();
  }
  v1::OrderState Order(const std::string& id) {
    auto state = depot_.ledger().Get("orders/" + id);
    return state.ok() ? (*state)->order() : v1::OrderState();
  }
  std::vector<std::string> Questions(const std::string& id) {
    std::vector<std::string> out;
    auto state = depot_.ledger().Get("orders/" + id);
    if (!state.ok()) return out;
    for (const v1::Finding& f : (*state)->questions()) out.push_back(v1::Reason_Name(f.reason()));
    return out;
  }
  size_t Waiting() {
    int64_t next = 0;
    return intake_->messages().Page(v1::MESSAGE_STATE_QUEUED, "", 0, 1000, &next)->size();
  }
  v1::CureMessageResponse MustCure(v1::CureMessageRequest request) {
    request.set_actor("clerk-eve");
    auto response = intake_->Cure(request, "");
    EXPECT_TRUE(response.ok()) << response.status();
    return response.ok() ? *response : v1::CureMessageResponse();
  }

  LedgerDepot depot_;
  std::unique_ptr<Intake> intake_;
};
FERRULE_ON_EVERY_ENGINE(IntakeTest);

TEST_P(IntakeTest, AnOrderIsRecordedKeptAsReceivedAndHoldsNoName) {
  const std::string content = New("M1", 0);
  const auto response = Send(content);
  EXPECT_EQ(response.message().state(), v1::MESSAGE_STATE_APPLIED);
  const v1::OrderState order = Order("E-ORD1");
  EXPECT_EQ(order.status(), v1::ORDER_STATUS_OPEN);
  EXPECT_EQ(order.details().side(), v1::SIDE_LEFT);
  EXPECT_EQ(order.details().patient().substr(0, 2), "p-");
  ASSERT_EQ(order.sources_size(), 1);
  const std::string id(intake::MessageId(response.message().name()));
  EXPECT_EQ(order.sources(0).message(), id);
  EXPECT_EQ(**intake_->messages().Content(id), content);
  int64_t found = 0;
  ASSERT_TRUE(depot_.ledger()
                  .Read(0, "",
                        [&](const ledger::Recorded& r) {
                          found += r.bytes.find("JANE") != std::string_view::npos ||
                                   r.bytes.find("PT1") != std::string_view::npos;
                          return true;
                        })
                  .ok());
  EXPECT_EQ(found, 0);
  EXPECT_TRUE(depot_.MustVerify().ok());
}

TEST_P(IntakeTest, ErasingTheBytesLeavesDigestAndLedger) {
  const auto response = Send(New("M1", 0));
  v1::EraseMessageRequest request;
  request.set_name(response.message().name());
  request.set_actor("clerk-eve");
  request.set_because("retention");
  const auto erased = intake_->Erase(request);
  ASSERT_TRUE(erased.ok()) << erased.status();
  EXPECT_TRUE(erased->erased());
  EXPECT_EQ(erased->content_sha256(), intake::Sha256(New("M1", 0)));
  EXPECT_FALSE(intake_->messages().Content(intake::MessageId(request.name()))->has_value());
  EXPECT_TRUE(depot_.MustVerify().ok());
}

// Exception 85.
TEST_P(IntakeTest, Exception85TheSameMessageTwiceHasOneEffect) {
  const auto first = Send(New("M1", 0));
  const int64_t head = depot_.ledger().head().sequence;
  const auto again = Send(New("M1", 0));
  EXPECT_FALSE(first.repeated());
  EXPECT_TRUE(again.repeated());
  EXPECT_EQ(again.message().arrival_count(), 2);
  EXPECT_EQ(depot_.ledger().head().sequence, head);
  const auto other = Send(New("M1", 5));
  EXPECT_EQ(other.message().state(), v1::MESSAGE_STATE_REJECTED);
  EXPECT_EQ(other.message().troubles(0).kind(), v1::TROUBLE_KIND_ID_REUSED);
}

// Exceptions 7 and 86: whatever the order of arrival, the same end state, the last version's.
TEST_P(IntakeTest, Exception7And86TheLastVersionWinsInAnyOrderOfArrival) {
  std::vector<std::string> messages = {
      New("M1", 0),
      Message("M2", 10, "XO", "ORD1", "OBR|1|||E0935" + std::string(40, '|') + "|RT\r"),
      Message("M3", 20, "CA", "ORD1", ""), New("M4", 30, "ORD1", "RT"),  // reinstated
      Message("M5", 40, "XO", "ORD1", "TQ1|1||||||20260310|20260320\r")};
  std::vector<size_t> arrival = {0, 1, 2, 3, 4};
  std::string expected;
  int round = 0;
  std::mt19937 random(7);
  for (; round < 12; ++round) {
    const std::string number = absl::StrCat("ORD", round + 1);
    for (const size_t i : arrival) {
      std::string text = messages[i];
      for (size_t at; (at = text.find("|ORD1")) != std::string::npos;) {
        text.replace(at, 5, "|" + std::string("QQQ"));
      }
      for (size_t at; (at = text.find("QQQ")) != std::string::npos;) text.replace(at, 3, number);
      const size_t id = text.find("OMG^O19|M");
      text.insert(id + 9, absl::StrCat(round, "-"));
      Send(text);
    }
    v1::OrderState order = Order("E-" + number);
    EXPECT_EQ(order.status(), v1::ORDER_STATUS_OPEN);
    EXPECT_EQ(order.details().side(), v1::SIDE_RIGHT);
    EXPECT_EQ(order.details().length_of_need_days(), 11);
    EXPECT_THAT(Questions("E-" + number), ElementsAre());
    const std::string details = order.details().SerializeAsString();
    if (round == 0) expected = details;
    EXPECT_EQ(details, expected) << "arrival " << round;
    std::shuffle(arrival.begin(), arrival.end(), random);
  }
  EXPECT_EQ(Waiting(), 0u);
  EXPECT_TRUE(depot_.MustVerify().ok());
}

TEST_P(IntakeTest, ACancelBeforeItsOrderIsHeldForIt) {
  const auto cancel = Send(Message("M2", 10, "CA", "ORD1", ""));
  EXPECT_EQ(cancel.message().state(), v1::MESSAGE_STATE_QUEUED);
  EXPECT_EQ(cancel.message().waits_for(), "E-ORD1");
  Send(New("M1", 0));
  EXPECT_EQ(Order("E-ORD1").status(), v1::ORDER_STATUS_CANCELLED);
  EXPECT_EQ(Waiting(), 0u);
  EXPECT_TRUE(Send(Message("M2", 10, "CA", "ORD1", "")).repeated());
}

// Exception 18: three channels, one order, three sources.
TEST_P(IntakeTest, Exception18TheSameOrderByThreeChannelsIsOneWithThreeSources) {
  Send(New("M1", 0));
  Send(
      "order_number,patient,device_code,side,stated_time\n"
      "ORD1,PT1,E0935,left,2026-03-02T08:05:00Z\n",
      v1::MESSAGE_KIND_CSV_ORDER, "clinic-portal");
  Send(R"({"resourceType":"DeviceRequest","meta":{"lastUpdated":"2026-03-02T08:10:00Z"},
           "identifier":[{"value":"ORD1"}],"status":"active","intent":"order",
           "codeCodeableConcept":{"coding":[{"code":"E0935"}]},
           "subject":{"identifier":{"value":"PT1"}}})",
       v1::MESSAGE_KIND_FHIR_R4, "clinic-portal");
  const v1::OrderState order = Order("E-ORD1");
  ASSERT_EQ(order.sources_size(), 3);
  EXPECT_EQ(order.sources(0).kind(), v1::MESSAGE_KIND_HL7_V2);
  EXPECT_EQ(order.sources(1).kind(), v1::MESSAGE_KIND_CSV_ORDER);
  EXPECT_EQ(order.sources(2).kind(), v1::MESSAGE_KIND_FHIR_R4);
  EXPECT_EQ(order.details().side(), v1::SIDE_LEFT);
  EXPECT_THAT(Questions("E-ORD1"), ElementsAre());
}

TEST_P(IntakeTest, TwoSourcesThatDifferInTheSideAreQuestioned) {
  Send(New("M1", 0));
  Send(
      "order_number,patient,device_code,side,stated_time\n"
      "ORD1,PT1,E0935,right,2026-03-02T08:05:00Z\n",
      v1::MESSAGE_KIND_CSV_ORDER, "clinic-portal");
  EXPECT_THAT(Questions("E-ORD1"), ElementsAre("REASON_SOURCES_DIFFER"));
}

TEST_P(IntakeTest, AnOrderUnderAnotherNumberWaitsUntilAPersonSays) {
  const auto with_day = [](const std::string& text) { return text + "OBX|1|DT|DOS||20260305\r"; };
  Send(with_day(New("M1", 0)));
  // The other sender knows the patient by a number of its own issuer, so contents differ; within
  // one issuer another number is asked about.
  const auto second = Send(with_day(New("M2", 5, "ORD2")));
  ASSERT_EQ(second.message().state(), v1::MESSAGE_STATE_QUEUED);
  EXPECT_EQ(second.message().troubles(0).kind(), v1::TROUBLE_KIND_POSSIBLE_REPEAT);
  v1::CureMessageRequest cure;
  cure.set_name(second.message().name());
  cure.set_same_as_order("E-ORD1");
  EXPECT_EQ(MustCure(cure).message().state(), v1::MESSAGE_STATE_APPLIED);
  EXPECT_EQ(Order("E-ORD1").sources_size(), 2);
  EXPECT_EQ(Order("E-ORD2").status(), v1::ORDER_STATUS_UNSPECIFIED);
  // From then on the number means that order.
  Send(Message("M3", 20, "CA", "ORD2", ""));
  EXPECT_EQ(Order("E-ORD1").status(), v1::ORDER_STATUS_CANCELLED);
  const auto third = Send(with_day(New("M4", 30, "ORD3")));
  EXPECT_EQ(third.message().state(), v1::MESSAGE_STATE_APPLIED);  // the first one is off
}

// Exception 19: no side where the class needs one: taken, and it cannot go out.
TEST_P(IntakeTest, Exception19AnOrderWithoutSideIsTakenAndIncomplete) {
  Send(Message("M1", 0, "NW", "ORD1", "OBR|1|||E0935\r"));
  const v1::OrderState order = Order("E-ORD1");
  EXPECT_EQ(order.status(), v1::ORDER_STATUS_OPEN);
  const auto missing =
      order::MissingToGoOut(order, depot_.ledger().Book()->At(depot_.clock().NowMicros()));
  EXPECT_THAT(missing, ::testing::Contains(HasSubstr("side")));
}

TEST_P(IntakeTest, AnUnmappedCodeWaitsAndIsReplayedWithTheNewSettings) {
  const auto unmapped =
      Send(Message("M1", 0, "NW", "ORD1", "OBR|1|||E0936" + std::string(40, '|') + "|LT\r"));
  ASSERT_EQ(unmapped.message().state(), v1::MESSAGE_STATE_QUEUED);
  EXPECT_EQ(unmapped.message().troubles(0).where(), "OBR-4.1");
  EXPECT_EQ(unmapped.message().troubles(0).found(), "E0936");
  Send(Message("M2", 10, "CA", "ORD1", ""));
  EXPECT_EQ(Waiting(), 2u);
  depot_.MustRecord(SettingsWith("2", Senders("codes { code: 'E0936' device_class: 'knee' }")));
  int64_t next = 0;
  const auto replay = intake_->Replay({}, 0, &next, "");
  ASSERT_TRUE(replay.ok());
  EXPECT_EQ(replay->applied_count(), 1);
  EXPECT_EQ(Waiting(), 0u);
  EXPECT_EQ(Order("E-ORD1").status(), v1::ORDER_STATUS_CANCELLED);
  const int64_t head = depot_.ledger().head().sequence;
  ASSERT_TRUE(intake_->Replay({}, 0, &next, "").ok());
  EXPECT_EQ(depot_.ledger().head().sequence, head);
}

TEST_P(IntakeTest, AMessageOfAnUnknownSenderWaitsForTheSettings) {
  std::string text = New("M1", 0);
  text.replace(text.find("EHR"), 3, "NEW");
  const auto sent = Send(text);
  EXPECT_EQ(sent.message().state(), v1::MESSAGE_STATE_QUEUED);
  EXPECT_EQ(sent.message().troubles(0).kind(), v1::TROUBLE_KIND_SENDER_UNKNOWN);
  depot_.MustRecord(SettingsWith(
      "2", Senders() + "senders { id: 'new' hl7_application: 'NEW' branch: 'north' codes { code: "
                       "'E0935' device_class: 'knee' } codes { code: 'LT' side: SIDE_LEFT } }"));
  int64_t next = 0;
  ASSERT_TRUE(intake_->Replay({}, 0, &next, "").ok());
  EXPECT_EQ(Order("ORD1").status(), v1::ORDER_STATUS_OPEN);
  EXPECT_TRUE(Send(text).repeated());
}

TEST_P(IntakeTest, ADryRunShowsBeforeAndAfterAndKeepsNothing) {
  Send(New("M1", 0));
  const int64_t head = depot_.ledger().head().sequence;
  const auto check = Send(Message("M2", 10, "XO", "ORD1", "TQ1|1||||||20260310\r"),
                          v1::MESSAGE_KIND_HL7_V2, "", true);
  ASSERT_EQ(check.changes_size(), 1);
  EXPECT_EQ(check.changes(0).field(), "details.needed_date");
  EXPECT_EQ(check.changes(0).before(), "");
  EXPECT_EQ(check.changes(0).after(), "2026-03-10");
  EXPECT_EQ(depot_.ledger().head().sequence, head);
  EXPECT_FALSE(Send(Message("M2", 10, "XO", "ORD1", "TQ1|1||||||20260310\r")).repeated());
}

TEST_P(IntakeTest, ADischargeReachesThePatientsOpenOrders) {
  Send(New("M1", 0));
  const auto adt = Send(absl::StrCat("MSH|^~\\&|EHR|CLINIC|D|D|", At(60), "||ADT^A03|M2|P|2.5.1\r",
                                     "PID|1||PT1\rPV1|1|I", std::string(42, '|'), "|20260305\r"));
  EXPECT_EQ(adt.message().state(), v1::MESSAGE_STATE_APPLIED);
  EXPECT_EQ(Order("E-ORD1").details().discharge_date().day(), 5);
  const auto other = Send(absl::StrCat("MSH|^~\\&|EHR|CLINIC|D|D|", At(60),
                                       "||ADT^A03|M3|P|2.5.1\rPID|1||PT9\rPV1|1|I",
                                       std::string(42, '|'), "|20260305\r"));
  EXPECT_EQ(other.message().state(), v1::MESSAGE_STATE_NOTHING_TO_DO);
}

TEST_P(IntakeTest, ADismissedMessageNeedsAReasonAndChangesNothing) {
  const auto waiting = Send(Message("M2", 10, "CA", "ORD1", ""));
  v1::CureMessageRequest cure;
  cure.set_name(waiting.message().name());
  cure.set_dismiss(true);
  cure.set_because("sent by mistake");
  EXPECT_EQ(MustCure(cure).message().state(), v1::MESSAGE_STATE_DISMISSED);
  Send(New("M1", 0));
  EXPECT_EQ(Order("E-ORD1").status(), v1::ORDER_STATUS_OPEN);
  EXPECT_FALSE(intake_->Cure(cure, "").ok());
}

// Exception 94: another referrer's orders are not found, in the same words as none at all.
TEST_P(IntakeTest, Exception94AReferrerSeesItsOwnOrdersOnly) {
  Send(New("M1", 0));
  v1::ExportOrderRequest request;
  request.set_name("orders/E-ORD1");
  request.set_format(v1::EXPORT_FORMAT_FHIR_R4);
  request.set_referrer("clinic-portal");  // of the same issuer
  const auto own = intake::ExportOrder(*intake_, Order("E-ORD1"), request, kStartUs);
  ASSERT_TRUE(own.ok());
  EXPECT_THAT(own->content(), HasSubstr("ORD1"));
  request.set_referrer("other");
  const auto foreign = intake::ExportOrder(*intake_, Order("E-ORD1"), request, kStartUs);
  EXPECT_TRUE(absl::IsNotFound(foreign.status()));
  request.set_referrer("nobody");
  EXPECT_EQ(intake::ExportOrder(*intake_, Order("E-ORD1"), request, kStartUs).status(),
            foreign.status());
}

// Exception 93: what was read by an older version of the mapping stays as it was.
TEST_P(IntakeTest, Exception93AnOldMessageKeepsTheMappingOfItsDay) {
  Send(New("M1", 0));
  depot_.MustRecord(SettingsWith("2", "senders { id: 'clinic-ehr' hl7_application: 'EHR' }"));
  EXPECT_EQ(Order("E-ORD1").details().device_class(), "knee");
  EXPECT_TRUE(Send(New("M1", 0)).repeated());
}

v1::ImportRowsRequest Rows(v1::ImportKind kind, const std::string& header,
                           const std::string& rows) {
  v1::ImportRowsRequest request;
  request.set_kind(kind);
  request.set_file_sha256(intake::Sha256(header + rows));
  request.set_header(header);
  request.set_rows(rows);
  request.set_first_line(2);
  request.set_offset_bytes(static_cast<int64_t>(header.size()));
  request.set_actor("clerk-eve");
  request.set_last(true);
  return request;
}

TEST_P(IntakeTest, Exception92GoodRowsGoInBadOnesAreNamedAndAgainAddsNothing) {
  const auto request = Rows(v1::IMPORT_KIND_UNITS, "unit,model,place,meter_h\n",
                            "K-1,knee-a,north-dock,10\nK-2,none,north-dock,10\n"
                            "K-3,knee-a,north-dock,\nK-4,knee-a\nK-1,knee-a,north-dock,11\n"
                            "K-3,knee-a,north-dock,\n");
  const auto first = intake_->Import(request, "");
  ASSERT_TRUE(first.ok()) << first.status();
  EXPECT_EQ(first->totals().read_count(), 6);
  EXPECT_EQ(first->totals().accepted_count(), 2);
  EXPECT_EQ(first->totals().repeated_count(), 1);
  EXPECT_EQ(first->totals().rejected_count(), 3);
  EXPECT_EQ(first->bad_rows(0).line(), 3);
  EXPECT_EQ(first->bad_rows(0).troubles(0).where(), "model");
  EXPECT_EQ(first->bad_rows(1).line(), 5);
  EXPECT_EQ(first->bad_rows(2).line(), 6);  // another K-1
  EXPECT_THAT(first->bad_rows(2).troubles(0).text(), HasSubstr("in use"));
  const int64_t head = depot_.ledger().head().sequence;
  const auto again = intake_->Import(request, "");
  ASSERT_TRUE(again.ok());
  EXPECT_EQ(again->totals().accepted_count(), 0);
  EXPECT_EQ(depot_.ledger().head().sequence, head);
  v1::GetImportRequest ask;
  ask.set_file_sha256(request.file_sha256());
  ask.set_kind(request.kind());
  const auto state = intake_->ImportState(ask);
  EXPECT_EQ(state->totals().read_count(), 6);
  EXPECT_EQ(state->offset_bytes(), int64_t(request.header().size() + request.rows().size()));
}

TEST_P(IntakeTest, TheItemsOfOneTestAreOneInspectionAlsoAcrossParts) {
  depot_.MustRecord(ReceiveUnit("K-1", kStartUs));
  auto request = Rows(v1::IMPORT_KIND_TEST_RESULTS, "unit,time,checklist,item,value,tester\n",
                      "K-1,2026-03-02T12:00:00Z,knee-check,earth,0.2,T-1\n"
                      "K-1,2026-03-03T12:00:00Z,knee-check,earth,0.1,T-1\n");
  request.set_last(false);
  const auto first = intake_->Import(request, "");
  ASSERT_TRUE(first.ok()) << first.status();
  EXPECT_EQ(first->totals().accepted_count(), 1);
  EXPECT_EQ(first->next_line(), 3);
  EXPECT_LT(first->next_offset_bytes(), int64_t(request.header().size() + request.rows().size()));
}

// A part of 700 tests of three items: they are recorded in several goes, each test whole, and what
// is said of the file adds up as if it had been one.
TEST_P(IntakeTest, ALongPartIsRecordedInSeveralGoes) {
  constexpr int kTests = 700;
  depot_.MustRecord(SettingsWith(
      "2", Senders() +
               " checklists { id: 'three' version: '1' items { id: 'earth' unit: 'ohm' max: "
               "0.3 } items { id: 'leakage' unit: 'mA' max: 0.5 } items { id: 'insulation' "
               "unit: 'Mohm' min: 1 } }"));
  depot_.MustRecord(ReceiveUnit("K-1", kStartUs));
  std::string rows;
  for (int i = 0; i < kTests; ++i) {
    const std::string time = absl::FormatTime(
        "%Y-%m-%dT%H:%M:%SZ", absl::FromUnixMicros(kStartUs + i * kMinuteUs), absl::UTCTimeZone());
    for (const char* item : {"earth", i % 100 == 7 ? "earth" : "leakage", "insulation"}) {
      absl::StrAppend(&rows, "K-1,", time, ",three,", item, ",0.1,T-1\n");
    }
  }
  auto request =
      Rows(v1::IMPORT_KIND_TEST_RESULTS, "unit,time,checklist,item,value,tester\n", rows);
  const int64_t head = depot_.ledger().head().sequence;
  const auto done = intake_->Import(request, "");
  ASSERT_TRUE(done.ok()) << done.status();
  EXPECT_EQ(depot_.ledger().head().sequence, head + kTests);
  EXPECT_EQ(done->totals().read_count(), 3 * kTests);
  EXPECT_EQ(done->totals().accepted_count(), 3 * kTests - kTests / 100);
  ASSERT_EQ(done->bad_rows_size(), kTests / 100);
  for (int i = 0; i < done->bad_rows_size(); ++i) {
    EXPECT_EQ(done->bad_rows(i).line(), 2 + 3 * (100 * i + 7) + 1);
  }
  EXPECT_EQ(done->next_line(), 2 + 3 * kTests);
  v1::GetImportRequest ask;
  ask.set_file_sha256(request.file_sha256());
  ask.set_kind(request.kind());
  const auto state = intake_->ImportState(ask);
  EXPECT_EQ(state->totals().SerializeAsString(), done->totals().SerializeAsString());
  EXPECT_EQ(state->offset_bytes(), done->next_offset_bytes());
}

TEST_P(IntakeTest, RowsOfOrdersGoTheWayOfMessages) {
  auto request =
      Rows(v1::IMPORT_KIND_ORDERS, "order_number,patient,device_code,side,stated_time,control\n",
           "A1,PT1,E0935,left,2026-03-02 08:00:00,\n"
           "A2,PT2,E9999,left,2026-03-02 08:00:00,\n"
           "A3,PT3,E0935,up,2026-03-02 08:00:00,\n"
           "A4,PT4,,,2026-03-02 09:00:00,cancel\n"
           "A4,PT4,E0935,left,2026-03-02 08:00:00,\n"
           "A1,PT1,E0935,left,2026-03-02 08:00:00,\n");
  request.set_sender("clinic-portal");
  const auto done = intake_->Import(request, "");
  ASSERT_TRUE(done.ok()) << done.status();
  EXPECT_EQ(done->totals().read_count(), 6);
  EXPECT_EQ(done->totals().accepted_count(), 2);
  EXPECT_EQ(done->totals().queued_count(), 2);
  EXPECT_EQ(done->totals().rejected_count(), 1);
  EXPECT_EQ(done->totals().repeated_count(), 1);
  EXPECT_EQ(Order("E-A4").status(), v1::ORDER_STATUS_CANCELLED);
  EXPECT_EQ(Waiting(), 1u);  // the cancel was taken when its order came
}

// Exception 91: whatever was in hand when the process ended, the same message again settles it.
TEST_P(IntakeTest, Exception91AfterARestartTheSameMessageIsKnown) {
  Send(New("M1", 0));
  intake_.reset();
  depot_.Reopen();
  intake_ = std::make_unique<Intake>(&depot_.ledger());
  EXPECT_TRUE(Send(New("M1", 0)).repeated());
  EXPECT_EQ(Send(Message("M2", 10, "CA", "ORD1", "")).message().state(), v1::MESSAGE_STATE_APPLIED);
  // The patient's reference is the same after a restart.
  Send(New("M3", 20, "ORD9"));
  EXPECT_EQ(Order("E-ORD9").details().patient(), Order("E-ORD1").sources(0).patient());
}

}  // namespace
}  // namespace ferrule::testing
