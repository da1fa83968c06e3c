// Exceptions of the trade, 17 to 37 of the depot's list, each as it is lived: told to the service
// over the wire and asked of it again. One test a number. Those that turn on cover and papers (16,
// 22, 29 to 31) are in exceptions_delivery_test.cc, which also says what is left out.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "ferrule/v1/promise_service.grpc.pb.h"
#include "ferrule/v1/stock_service.grpc.pb.h"
#include "tests/service/served_depot.h"
#include "tests/support/folded_depot.h"

namespace ferrule::testing {
namespace {

using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

constexpr int64_t kDay = 24 * 60;  // minutes

// The settings of the folds' tests, with what fit and use need.
std::string Settings() {
  std::string text = FoldSettings();
  const std::string before = "parts { position: 'pendant'";
  text.replace(text.find(before), 0,
               "fit { leg { min_mm: 700 max_mm: 950 } max_weight_g: 110000 } ");
  return text +
         " models { id: 'knee-xl' device_class: 'knee' checklist: 'knee-check' "
         "fit { leg { min_mm: 700 max_mm: 1100 } max_weight_g: 180000 } } "
         "usage_policy { low_use_permille: 500 } "
         "senders { id: 'fax' issuer: 'clinic' } senders { id: 'portal' issuer: 'clinic' } "
         "senders { id: 'interface' issuer: 'clinic' } ";
}

class Exceptions : public ::testing::Test {
 protected:
  Exceptions()
      : ledger_(v1::LedgerService::NewStub(depot_.Channel(Transport::kTcp))),
        records_(v1::DepotService::NewStub(depot_.Channel(Transport::kTcp))),
        promises_(v1::PromiseService::NewStub(depot_.Channel(Transport::kTcp))) {
    Happened(-kDay,
             "settings_put { settings { " + Settings() + " } from_time { seconds: 1767225600 } }");
  }

  static int64_t Us(int64_t at_min) { return kStartUs + at_min * kMinuteUs; }

  grpc::Status Send(v1::Entry entry) {
    grpc::ClientContext context;
    v1::RecordRequest request;
    *request.mutable_entry() = std::move(entry);
    return ledger_->Record(&context, request, &record_);
  }
  v1::Entry Entry(int64_t at_min, const std::string& fact, v1::EntryMode mode) {
    return EntryOf(absl::StrCat("e-", ++count_), Us(at_min), fact, mode);
  }
  // It has happened: recorded whatever it breaks. Gives the reasons of the questions it opened.
  std::vector<std::string> Happened(int64_t at_min, const std::string& fact) {
    const grpc::Status status = Send(Entry(at_min, fact, v1::ENTRY_MODE_OBSERVED));
    EXPECT_TRUE(status.ok()) << status.error_message();
    return Reasons(record_.receipt().questions());
  }
  // At the counter. Gives the reasons of a refusal; none when it was recorded.
  std::vector<std::string> AtCounter(int64_t at_min, const std::string& fact) {
    return AtCounter(Entry(at_min, fact, v1::ENTRY_MODE_ENFORCED));
  }
  std::vector<std::string> AtCounter(v1::Entry entry) {
    const grpc::Status status = Send(std::move(entry));
    return status.ok() ? std::vector<std::string>() : Reasons(DetailsOf(status).refusal.findings());
  }
  static void SetAside(v1::Reason rule, const std::string& because, v1::Entry* entry) {
    v1::Override* set_aside = entry->mutable_facts(0)->add_overrides();
    set_aside->set_rule(rule);
    set_aside->set_authority("lead-eve");
    set_aside->set_because(because);
  }

  // A knee on the shelf, or another model of the class.
  void Ready(const std::string& unit, const std::string& model = "knee-a") {
    const bool knee = model != "shoulder-s";
    Happened(0, "unit_received { unit: '" + unit + "' model: '" + model +
                    "' place: 'dock' side: SIDE_LEFT meter_s: 0 parts { part: 'P-" + unit +
                    "' position: 'pendant' } }");
    Clean(unit, 10);
    Happened(15, "memory_erased { unit: '" + unit + "' method: 'menu' }");
    Inspect(unit, 20, knee);
    Happened(25, "unit_moved { unit: '" + unit + "' to_place: 'shelf' }");
  }
  void Clean(const std::string& unit, int64_t at_min) {
    const int64_t wet_s = Us(at_min) / 1'000'000 - 120;
    Happened(at_min, absl::StrCat("cleaning_finished { unit: '", unit,
                                  "' product: 'wipe' wet_from_time { seconds: ", wet_s,
                                  " } wet_to_time { seconds: ", wet_s + 120, " } }"));
  }
  void Inspect(const std::string& unit, int64_t at_min, bool knee = true) {
    Happened(at_min, "inspection_done { unit: '" + unit + "' checklist: '" +
                         (knee ? "knee-check" : "shoulder-check") +
                         "' checklist_version: '1' readings { item: 'stop' value: 1 } " +
                         (knee ? "readings { item: 'earth' value: 0.2 } "
                                 "readings { item: 'arc' value: 0 } }"
                               : "}"));
  }
  void Take(const std::string& order, const std::string& more = "") {
    Happened(30, "order_taken { order: '" + order + "' details { " + FoldedDepot::KneeDetails() +
                     "needed_date { year: 2026 month: 3 day: 7 } " + more + " } }");
  }
  static std::string HandOver(const std::string& unit, const std::string& order,
                              const std::string& more = "", const std::string& model = "knee-a") {
    return "handed_over { unit: '" + unit + "' order: '" + order + "' unit_model: '" + model +
           "' unit_side: SIDE_LEFT kit { item: 'pad-set' lot: 'L-1' piece_count: 1 } " +
           (more.find("signed_by") == std::string::npos ? "signed_by: 'patient' " : "") + more +
           " }";
  }

  v1::UnitState Unit(const std::string& unit, int64_t known_us = 0) {
    grpc::ClientContext context;
    v1::GetUnitRequest request;
    request.set_name("units/" + unit);
    if (known_us != 0) time::SetMicros(known_us, request.mutable_known_time());
    v1::GetUnitResponse response;
    const grpc::Status status = records_->GetUnit(&context, request, &response);
    EXPECT_TRUE(status.ok()) << status.error_message();
    return response.state().unit();
  }
  v1::GetOrderResponse Order(const std::string& order, int64_t known_us = 0) {
    grpc::ClientContext context;
    v1::GetOrderRequest request;
    request.set_name("orders/" + order);
    if (known_us != 0) time::SetMicros(known_us, request.mutable_known_time());
    v1::GetOrderResponse response;
    const grpc::Status status = records_->GetOrder(&context, request, &response);
    EXPECT_TRUE(status.ok()) << status.error_message();
    return response;
  }
  template <class Request, class Response>
  grpc::Status Ask(grpc::Status (v1::PromiseService::StubInterface::*method)(grpc::ClientContext*,
                                                                             const Request&,
                                                                             Response*),
                   const Request& request, Response* response) {
    grpc::ClientContext context;
    return (static_cast<v1::PromiseService::StubInterface*>(promises_.get())->*method)(
        &context, request, response);
  }
  v1::GetUsageResponse Usage(const std::string& order) {
    v1::GetUsageRequest request;
    request.set_name("orders/" + order);
    v1::GetUsageResponse response;
    EXPECT_TRUE(Ask(&v1::PromiseService::StubInterface::GetUsage, request, &response).ok());
    return response;
  }

  ServedDepot depot_;
  std::unique_ptr<v1::LedgerService::Stub> ledger_;
  std::unique_ptr<v1::DepotService::Stub> records_;
  std::unique_ptr<v1::PromiseService::Stub> promises_;
  v1::RecordResponse record_;
  int count_ = 0;
};

TEST_F(Exceptions, E17SettingsAbsentOrOutsideTheRangeStopTheSetUp) {
  Ready("K-1");
  Happened(30,
           "order_taken { order: 'R-1' details { patient: 'P-1' prescriber: 'D-1' "
           "branch: 'north' device_class: 'knee' side: SIDE_LEFT procedure: 'x' "
           "needed_date { year: 2026 month: 3 day: 7 } length_of_need_days: 21 } }");
  EXPECT_THAT(AtCounter(60, HandOver("K-1", "R-1")), ElementsAre("ORDER_INCOMPLETE"));
  EXPECT_THAT(Order("R-1").missing_to_go_out(),
              ElementsAre("extension and flexion limits, from the prescriber"));
  // The prescriber says them on the telephone, read back, and signs later.
  v1::Entry verbal = Entry(70,
                           "order_changed { order: 'R-1' details { motion { extension_deg: 0 "
                           "flexion_deg: 110 } } }",
                           v1::ENTRY_MODE_ENFORCED);
  verbal.mutable_facts(0)->set_note("verbal order, read back by intake-ida");
  EXPECT_THAT(AtCounter(verbal), IsEmpty());
  EXPECT_THAT(AtCounter(80, HandOver("K-1", "R-1", "motion { flexion_deg: 125 }")),
              ElementsAre("SETTING_BEYOND_ORDER", "SETTING_BEYOND_MODEL"));
  EXPECT_THAT(AtCounter(90, HandOver("K-1", "R-1", "motion { flexion_deg: 60 }")), IsEmpty());
  EXPECT_THAT(AtCounter(kDay,
                        "order_changed { order: 'R-1' details { signed_date { year: 2026 "
                        "month: 3 day: 3 } } }"),
              IsEmpty());
  EXPECT_EQ(Order("R-1").state().order().details().signed_date().day(), 3);
}

TEST_F(Exceptions, E18OneOrderByThreeChannelsIsOneOrderWithThreeSources) {
  Take("R-1");
  for (const char* sender : {"fax", "portal", "interface"}) {
    EXPECT_THAT(
        Happened(
            40, absl::StrCat("order_message_received { order: 'R-1' sender: '", sender,
                             "' sender_reference: 'A-77' kind: MESSAGE_KIND_CSV_ORDER message: 'M-",
                             sender, "' message_sha256: '", std::string(64, 'a'),
                             "' device_class: 'knee' side: SIDE_LEFT patient: 'P-1' }")),
        IsEmpty());
  }
  EXPECT_EQ(Order("R-1").state().order().sources_size(), 3);
  // One that says the other side is asked about, and kept all the same.
  EXPECT_THAT(
      Happened(50, absl::StrCat("order_message_received { order: 'R-1' sender: 'fax' "
                                "sender_version: 2 kind: MESSAGE_KIND_CSV_ORDER message: 'M-4' "
                                "message_sha256: '",
                                std::string(64, 'b'), "' side: SIDE_RIGHT }")),
      Contains("SOURCES_DIFFER"));
  EXPECT_EQ(Order("R-1").state().order().sources_size(), 4);
}

TEST_F(Exceptions, E19WithoutLateralityAnOrderIsAcceptedAndNotPromised) {
  Ready("K-1");
  EXPECT_THAT(AtCounter(30,
                        "order_taken { order: 'R-1' details { patient: 'P-1' branch: 'north' "
                        "device_class: 'knee' needed_date { year: 2026 month: 4 day: 7 } } }"),
              IsEmpty());
  EXPECT_THAT(Order("R-1").missing_to_go_out(), Contains("side, from the prescriber"));
  v1::AssessPromiseRequest request;
  request.set_name("orders/R-1");
  v1::AssessPromiseResponse response;
  const grpc::Status status =
      Ask(&v1::PromiseService::StubInterface::AssessPromise, request, &response);
  EXPECT_EQ(status.error_code(), grpc::StatusCode::FAILED_PRECONDITION);
  EXPECT_THAT(status.error_message(), HasSubstr("does not say left or right"));
}

TEST_F(Exceptions, E20WithoutASignatureItMayGoOutByNameAndStaysAsked) {
  Ready("K-1");
  Take("R-1");
  const std::string unsigned_ = HandOver("K-1", "R-1", "signed_by: ''");
  EXPECT_THAT(AtCounter(60, unsigned_), ElementsAre("SIGNATURE_MISSING"));
  v1::Entry by_name = Entry(61, unsigned_, v1::ENTRY_MODE_ENFORCED);
  SetAside(v1::REASON_SIGNATURE_MISSING, "papers follow by post", &by_name);
  EXPECT_THAT(AtCounter(by_name), IsEmpty());
  const v1::SubjectState state = Order("R-1").state();
  ASSERT_EQ(state.overrides_size(), 1);
  EXPECT_EQ(state.overrides(0).authority(), "lead-eve");
  EXPECT_FALSE(state.order().details().has_signed_date()) << "the written order is missing still";
}

TEST_F(Exceptions, E21APatientMergedAndUnmergedShowsBothIdentities) {
  Ready("K-1");
  Take("R-1");
  Happened(60, HandOver("K-1", "R-1"));
  Happened(2 * kDay, "order_changed { order: 'R-1' details { patient: 'P-900' } }");
  EXPECT_EQ(Order("R-1").state().order().details().patient(), "P-900");
  Happened(3 * kDay, "order_changed { order: 'R-1' details { patient: 'P-1' } }");
  EXPECT_EQ(Order("R-1").state().order().details().patient(), "P-1");
  EXPECT_EQ(Unit("K-1").order(), "R-1") << "the unit stays with the order, whoever it names";
  grpc::ClientContext context;
  v1::ListHistoryRequest request;
  request.set_name("orders/R-1");
  v1::ListHistoryResponse history;
  ASSERT_TRUE(records_->ListHistory(&context, request, &history).ok());
  std::vector<std::string> patients;
  for (const v1::HistoryRow& row : history.rows()) {
    if (row.fact().has_order_changed()) {
      patients.push_back(row.fact().order_changed().details().patient());
    }
  }
  EXPECT_THAT(patients, ElementsAre("P-900", "P-1"));
}

TEST_F(Exceptions, E23NobodyHomeLeavesItCleanOnlyInTheVanWithItsSealWhole) {
  for (const char* unit : {"K-1", "K-2"}) {
    Ready(unit);
    Happened(40, absl::StrCat("unit_moved { unit: '", unit, "' to_place: 'van-clean' }"));
  }
  Take("R-1");
  // It never left the van: clean, and ready for the next attempt.
  EXPECT_EQ(Unit("K-1").hygiene(), v1::HYGIENE_CLEANED);
  EXPECT_THAT(AtCounter(kDay, HandOver("K-1", "R-1")), IsEmpty());
  // The other one was carried in and its bag opened: soiled from then on.
  Happened(2 * kDay, "seal_broken { unit: 'K-2' words: 'bag opened at the door, refused' }");
  EXPECT_EQ(Unit("K-2").hygiene(), v1::HYGIENE_SOILED);
  Take("R-2");
  EXPECT_THAT(AtCounter(3 * kDay, HandOver("K-2", "R-2")), Contains("NOT_CLEANED"));
}

TEST_F(Exceptions, E24AHandOverToldLaterHasTwoTimes) {
  Ready("K-1");
  Take("R-1");
  const int64_t known_us = kStartUs + 30 * kDayUs;
  depot_.clock().Set(known_us + kDayUs);
  Happened(2 * kDay, HandOver("K-1", "R-1"));  // five weeks late on paper
  EXPECT_EQ(Unit("K-1").custody(), v1::CUSTODY_HOME);
  EXPECT_EQ(time::ToMicros(Unit("K-1").custody_since().time()), Us(2 * kDay));
  EXPECT_EQ(Unit("K-1", known_us + kHourUs).custody(), v1::CUSTODY_PLACE)
      << "what was known then stays what was known then";
  EXPECT_EQ(Order("R-1").state().order().handed_over_date().day(), 4);
}

TEST_F(Exceptions, E25AUseOfTheClosetWithoutPapersIsMissingFromItTheSameDay) {
  Ready("K-1");
  Ready("K-2");
  for (const char* unit : {"K-1", "K-2"}) {
    Happened(40, absl::StrCat("unit_moved { unit: '", unit, "' to_place: 'closet' }"));
  }
  EXPECT_THAT(AtCounter(kDay,
                        "closet_use_reported { place: 'closet' device_class: 'knee' "
                        "piece_count: 1 chase: 'therapist ward 4' }"),
              IsEmpty());
  const auto stock = v1::StockService::NewStub(depot_.Channel(Transport::kTcp));
  const auto closet = [&stock] {
    grpc::ClientContext context;
    v1::GetPlaceRequest request;
    request.set_place("closet");
    v1::GetPlaceResponse response;
    const grpc::Status status = stock->GetPlace(&context, request, &response);
    EXPECT_TRUE(status.ok()) << status.error_message();
    return response;
  };
  EXPECT_EQ(closet().units_size(), 2) << "which of the two it was nobody knows yet";
  ASSERT_EQ(closet().uses_size(), 1);
  EXPECT_EQ(closet().uses(0).chase(), "therapist ward 4");
  // The papers come: the hand-over at its true time, and the use is settled with it.
  const std::string use = absl::StrCat("e-", count_);
  Take("R-1");
  v1::Entry papers = Entry(kDay, HandOver("K-2", "R-1"), v1::ENTRY_MODE_OBSERVED);
  AddFact(Us(3 * kDay),
          "closet_use_settled { place: 'closet' fact { entry_id: '" + use + "' } order: 'R-1' }",
          &papers);
  ASSERT_TRUE(Send(papers).ok());
  EXPECT_EQ(closet().units_size(), 1);
  EXPECT_EQ(closet().uses_size(), 0);
  EXPECT_EQ(Order("R-1").state().order().status(), v1::ORDER_STATUS_ON_RENT);
}

TEST_F(Exceptions, E26AWrongUnitDeliveredIsPutRightForBothFromTheTrueTime) {
  Ready("K-1");
  Ready("K-2");
  Take("R-1");
  const std::string ticket = absl::StrCat("e-", count_ + 1);
  Happened(60, HandOver("K-1", "R-1"));
  // The bags were mixed up: K-2 is in the home since then, K-1 never left the shelf.
  v1::Entry correction =
      Entry(5 * kDay,
            "reversal { fact { entry_id: '" + ticket +
                "' } subjects: 'units/K-1' subjects: 'orders/R-1' subjects: 'lots/L-1' "
                "because: 'bags mixed up' }",
            v1::ENTRY_MODE_OBSERVED);
  AddFact(Us(60), HandOver("K-2", "R-1"), &correction);
  ASSERT_TRUE(Send(correction).ok());
  EXPECT_EQ(Unit("K-1").custody(), v1::CUSTODY_PLACE);
  EXPECT_EQ(Unit("K-1").place(), "shelf");
  EXPECT_EQ(Unit("K-1").hygiene(), v1::HYGIENE_CLEANED);
  EXPECT_EQ(Unit("K-2").custody(), v1::CUSTODY_HOME);
  EXPECT_EQ(time::ToMicros(Unit("K-2").custody_since().time()), Us(60));
  const v1::OrderState order = Order("R-1").state().order();
  ASSERT_EQ(order.legs_size(), 1);
  EXPECT_EQ(order.legs(0).unit(), "K-2");
}

TEST_F(Exceptions, E27AChairSetUpForTheWrongSideStaysHere) {
  Ready("SH-1", "shoulder-s");
  Happened(30,
           "order_taken { order: 'R-1' details { patient: 'P-1' prescriber: 'D-1' branch: "
           "'north' device_class: 'shoulder' side: SIDE_RIGHT procedure: 'x' needed_date { "
           "year: 2026 month: 3 day: 7 } length_of_need_days: 14 motion { extension_deg: 0 "
           "flexion_deg: 90 } } }");
  EXPECT_THAT(AtCounter(60, HandOver("SH-1", "R-1", "", "shoulder-s")), Contains("WRONG_SIDE"));
  Happened(70, "side_configured { unit: 'SH-1' side: SIDE_RIGHT }");
  std::string right = HandOver("SH-1", "R-1", "", "shoulder-s");
  right.replace(right.find("SIDE_LEFT"), 9, "SIDE_RIGHT");
  EXPECT_THAT(AtCounter(80, right), IsEmpty());
}

TEST_F(Exceptions, E28OneThatDoesNotFitIsNotLeftAndTheNextIsFound) {
  Ready("K-1");
  Ready("XL-1", "knee-xl");
  Take("R-1",
       "measures { leg { hundredths: 9800 measured_in: LENGTH_UNIT_CM } weight { "
       "hundredths: 26000 measured_in: WEIGHT_UNIT_POUND } }");
  EXPECT_THAT(AtCounter(60, HandOver("K-1", "R-1")),
              ElementsAre("MEASURE_OUTSIDE_MODEL", "WEIGHT_ABOVE_RATING"));
  EXPECT_EQ(Unit("K-1").custody(), v1::CUSTODY_PLACE);
  v1::AssessFitRequest request;
  request.set_name("orders/R-1");
  v1::AssessFitResponse fit;
  ASSERT_TRUE(Ask(&v1::PromiseService::StubInterface::AssessFit, request, &fit).ok());
  ASSERT_EQ(fit.fits_size(), 1);
  EXPECT_EQ(fit.fits(0).unit(), "XL-1");
  ASSERT_EQ(fit.others_size(), 1);
  EXPECT_EQ(fit.others(0).unit(), "K-1");
  EXPECT_THAT(fit.others(0).unfit(0).text(),
              HasSubstr("K-1 does not fit: leg length 98 cm, the model takes 70 cm to 95 cm"));
  EXPECT_THAT(fit.others(0).unfit(1).text(), HasSubstr("260 lb, its rating is 110 kg"));
  EXPECT_THAT(AtCounter(70, HandOver("XL-1", "R-1", "", "knee-xl")), IsEmpty());
}

TEST_F(Exceptions, E33ABreakdownIsAnExchangeWithinOneRental) {
  Ready("K-1");
  Ready("K-2");
  Take("R-1");
  Happened(60, HandOver("K-1", "R-1"));
  const auto due = Order("R-1").due().date();
  EXPECT_THAT(AtCounter(5 * kDay,
                        "exchanged { order: 'R-1' unit_out: 'K-1' to_place: 'van-dirty' "
                        "out_meter_s: 36000 unit_in: 'K-2' unit_in_model: 'knee-a' "
                        "unit_in_side: SIDE_LEFT in_meter_s: 0 reason: 'stops at 40 degrees' "
                        "motion { flexion_deg: 60 } }"),
              IsEmpty());
  const v1::GetOrderResponse order = Order("R-1");
  EXPECT_EQ(order.state().order().status(), v1::ORDER_STATUS_ON_RENT);
  ASSERT_EQ(order.state().order().legs_size(), 2);
  EXPECT_TRUE(order.state().order().legs(0).has_to());
  EXPECT_EQ(order.state().order().legs(1).unit(), "K-2");
  EXPECT_EQ(order.due().date().day(), due.day()) << "the rental goes on";
  EXPECT_EQ(Unit("K-1").hygiene(), v1::HYGIENE_SOILED);
  EXPECT_EQ(Unit("K-1").condition(), v1::CONDITION_UNTESTED);
}

TEST_F(Exceptions, E34APendantChangedInTheHomeIsNoReturn) {
  Ready("K-1");
  Take("R-1");
  Happened(60, HandOver("K-1", "R-1"));
  v1::Entry swap = Entry(3 * kDay, "part_removed { part: 'P-K-1' unit: 'K-1' position: 'pendant' }",
                         v1::ENTRY_MODE_OBSERVED);
  AddFact(Us(3 * kDay), "part_fitted { part: 'PEN-9' unit: 'K-1' position: 'pendant' }", &swap);
  ASSERT_TRUE(Send(swap).ok());
  const v1::UnitState unit = Unit("K-1");
  EXPECT_EQ(unit.custody(), v1::CUSTODY_HOME);
  EXPECT_EQ(unit.commitment(), v1::COMMITMENT_ON_RENT);
  ASSERT_EQ(unit.parts_size(), 1);
  EXPECT_EQ(unit.parts(0).part(), "PEN-9");
  EXPECT_EQ(Order("R-1").state().order().legs_size(), 1);
}

TEST_F(Exceptions, E35AChangeOfSettingsKeepsWhoAndWhyAndStopsAtTheOrder) {
  Ready("K-1");
  Take("R-1");
  Happened(60, HandOver("K-1", "R-1", "motion { extension_deg: 0 flexion_deg: 40 }"));
  EXPECT_THAT(AtCounter(4 * kDay,
                        "motion_changed { order: 'R-1' motion { flexion_deg: 70 } "
                        "changed_by: MOTION_CHANGER_THERAPIST reason: 'tolerated' }"),
              IsEmpty());
  const v1::OrderState order = Order("R-1").state().order();
  EXPECT_EQ(order.motion_set().flexion_deg(), 70);
  EXPECT_EQ(order.motion_changes().rbegin()->changed_by(), v1::MOTION_CHANGER_THERAPIST);
  EXPECT_EQ(order.motion_changes().rbegin()->reason(), "tolerated");
  const std::string beyond =
      "motion_changed { order: 'R-1' motion { flexion_deg: 100 } changed_by: "
      "MOTION_CHANGER_PATIENT }";
  EXPECT_THAT(AtCounter(5 * kDay, beyond), ElementsAre("SETTING_BEYOND_ORDER"));
  // Found so on a visit: it is on record, and the surgeon is to be called.
  EXPECT_THAT(Happened(6 * kDay, beyond), ElementsAre("SETTING_BEYOND_ORDER"));
  EXPECT_THAT(record_.receipt().questions(0).remedy(),
              HasSubstr("get a new order from the prescriber"));
  v1::GetMotionPlanRequest request;
  request.set_name("orders/R-1");
  v1::GetMotionPlanResponse plan;
  ASSERT_TRUE(Ask(&v1::PromiseService::StubInterface::GetMotionPlan, request, &plan).ok());
  EXPECT_THAT(Reasons(plan.beyond()), ElementsAre("SETTING_BEYOND_ORDER"));
}

TEST_F(Exceptions, E36LowUseIsSeenAgainstWhatIsPrescribed) {
  Ready("K-1");
  Take("R-1");  // four hours a day
  Happened(60, HandOver("K-1", "R-1", "meter_s: 0"));
  Happened(60 + 5 * kDay,
           "usage_reported { order: 'R-1' meter_s: 21600 source: USAGE_SOURCE_METER }");
  const v1::GetUsageResponse usage = Usage("R-1");
  EXPECT_EQ(usage.daily_use_s(), 4320);
  EXPECT_EQ(usage.used_permille(), 300);
  EXPECT_TRUE(usage.low());
}

TEST_F(Exceptions, E37MoreHoursThanHavePassedAreAskedAndSetAside) {
  Ready("K-1");
  Take("R-1");
  Happened(60, HandOver("K-1", "R-1", "meter_s: 0"));
  const std::string reading =
      "usage_reported { order: 'R-1' meter_s: 360000 source: USAGE_SOURCE_METER }";
  EXPECT_THAT(AtCounter(60 + 2 * kDay, reading), ElementsAre("METER_BEYOND_ELAPSED"));
  EXPECT_THAT(Happened(60 + 2 * kDay, reading), ElementsAre("METER_BEYOND_ELAPSED"));
  Happened(60 + 4 * kDay,
           "usage_reported { order: 'R-1' meter_s: 57600 source: USAGE_SOURCE_METER }");
  const v1::GetUsageResponse usage = Usage("R-1");
  EXPECT_EQ(usage.doubtful_count(), 1);
  EXPECT_EQ(usage.daily_use_s(), 14400) << "16 hours in four days, the slip left out";
  EXPECT_FALSE(usage.low());
}

}  // namespace
}  // namespace ferrule::testing
