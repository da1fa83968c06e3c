// Tests core/papers/agenda.cc, core/order/in_home.cc.
#include "core/papers/agenda.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>
#include <vector>

#include "google/protobuf/text_format.h"

namespace ferrule::papers {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::SizeIs;

v1::SettingsState Versions(const std::string& more) {
  v1::SettingsState state;
  EXPECT_TRUE(google::protobuf::TextFormat::ParseFromString(
      "versions { from_time { seconds: 0 } settings { version: 'v' "
      "branches { id: 'north' time_zone: 'America/New_York' } device_classes { id: 'knee' } " +
          more + " } }",
      &state));
  return state;
}

class Agenda : public ::testing::Test {
 protected:
  OrderAgenda On(absl::CivilDay day, const std::string& order, const std::string& policy = "") {
    v1::SubjectState state;
    EXPECT_TRUE(google::protobuf::TextFormat::ParseFromString(
        "name: 'orders/R-1' order { order: 'R-1' " + order + " }", &state));
    v1::OrderDetails* details = state.mutable_order()->mutable_details();
    details->set_branch("north");
    details->set_device_class("knee");
    details->set_patient("P-1");
    details->set_length_of_need_days(21);
    const depot::SettingsBook book(Versions(policy));
    return AgendaOf(state, day, book, book.At(1'773'000'000'000'000));
  }
};

std::vector<std::string> Kinds(const OrderAgenda& agenda) {
  std::vector<std::string> kinds;
  for (const v1::AgendaItem& item : agenda.items) {
    std::string kind = v1::AgendaKind_Name(item.kind()).substr(12);
    if (item.kind() == v1::AGENDA_KIND_CALL)
      kind += " " + v1::CallKind_Name(item.call()).substr(10);
    kinds.push_back(kind);
  }
  return kinds;
}

// On rent since Monday, 2 March 2026, for 21 days: due on 22 March.
const char kOut[] =
    "status: ORDER_STATUS_ON_RENT unit: 'K-1' handed_over { time { seconds: 1772460000 } } "
    "handed_over_date { year: 2026 month: 3 day: 2 } ";

TEST_F(Agenda, ADeliveryIsThereFromItsDayOnWithWhatIsMissing) {
  const std::string open =
      "status: ORDER_STATUS_OPEN details { needed_date { year: 2026 month: 3 day: 5 } }";
  EXPECT_THAT(Kinds(On(absl::CivilDay(2026, 3, 4), open)), IsEmpty());
  const OrderAgenda late = On(absl::CivilDay(2026, 3, 7), open);
  ASSERT_THAT(Kinds(late), ElementsAre("DELIVERY"));
  EXPECT_EQ(late.items[0].since_date().day(), 5);
  EXPECT_THAT(late.items[0].missing(), ::testing::Contains("no unit is held for it"));
}

TEST_F(Agenda, TheDayOfTheOperationIsConfirmedThreeDaysAheadUntilSomebodyWasReached) {
  const std::string held =
      "status: ORDER_STATUS_HELD unit: 'K-1' details { surgery_date { year: 2026 month: 3 day: 9 } "
      "needed_date { year: 2026 month: 3 day: 11 } } ";
  EXPECT_THAT(Kinds(On(absl::CivilDay(2026, 3, 5), held)), IsEmpty());
  EXPECT_THAT(Kinds(On(absl::CivilDay(2026, 3, 6), held)), ElementsAre("CALL CONFIRM_SURGERY"));
  // 7 March 2026, noon in New York.
  const std::string reached =
      "calls { kind: CALL_KIND_CONFIRM_SURGERY outcome: CALL_OUTCOME_REACHED made { time { "
      "seconds: "
      "1772902800 } } }";
  EXPECT_THAT(Kinds(On(absl::CivilDay(2026, 3, 8), held + reached)), IsEmpty());
}

TEST_F(Agenda, AFollowUpIsDueTheDayAfterTheHandOverAndGoesWhenReached) {
  EXPECT_THAT(Kinds(On(absl::CivilDay(2026, 3, 2), kOut)), IsEmpty());
  EXPECT_THAT(Kinds(On(absl::CivilDay(2026, 3, 3), kOut)), ElementsAre("CALL FOLLOW_UP"));
  const std::string reached = std::string(kOut) +
                              "calls { kind: CALL_KIND_FOLLOW_UP outcome: CALL_OUTCOME_REACHED "
                              "made { time { seconds: 1772557200 } } }";
  EXPECT_THAT(Kinds(On(absl::CivilDay(2026, 3, 4), reached)), IsEmpty());
}

TEST_F(Agenda, WhoAskedToBeRungLaterIsRungThen) {
  const std::string later =
      std::string(kOut) +
      "calls { kind: CALL_KIND_FOLLOW_UP outcome: CALL_OUTCOME_LATER made { "
      "time { seconds: 1772557200 } } again_date { year: 2026 month: 3 day: 6 "
      "} }";
  EXPECT_THAT(Kinds(On(absl::CivilDay(2026, 3, 5), later)), IsEmpty());
  EXPECT_THAT(Kinds(On(absl::CivilDay(2026, 3, 6), later)), ElementsAre("CALL FOLLOW_UP"));
}

TEST_F(Agenda, ADueUnitWithoutAnAgreedPickupIsNamedWithItsRule) {
  const OrderAgenda due = On(absl::CivilDay(2026, 3, 24), kOut);
  ASSERT_THAT(Kinds(due), ElementsAre("DUE", "CALL FOLLOW_UP", "CALL BEFORE_DUE"));
  EXPECT_EQ(due.items[0].since_date().day(), 22);
  EXPECT_THAT(due.items[0].text(), HasSubstr("the end of the prescription"));
  const std::string agreed = std::string(kOut) + "pickup_date { year: 2026 month: 3 day: 23 }";
  EXPECT_THAT(Kinds(On(absl::CivilDay(2026, 3, 23), agreed)),
              ElementsAre("PICKUP", "CALL FOLLOW_UP"));
}

TEST_F(Agenda, AFailedPickupClimbsTheLadderAndStaysOnItsLastStep) {
  const std::string failed =
      std::string(kOut) + "failed_pickup_count: 3 pickup_failed { time { seconds: 1774281600 } }";
  const std::string ladder =
      "contact_policy { ladder { action: 'ring' within_days: 1 } ladder { action: 'send a letter' "
      "within_days: 5 } }";
  const OrderAgenda agenda = On(absl::CivilDay(2026, 3, 24), failed, ladder);
  ASSERT_THAT(agenda.items, SizeIs(4));
  EXPECT_EQ(agenda.items[0].kind(), v1::AGENDA_KIND_LADDER);
  EXPECT_THAT(agenda.items[0].text(), HasSubstr("3 pick-ups failed"));
  EXPECT_THAT(agenda.items[0].text(), HasSubstr("next: send a letter, by 2026-03-28"));
}

TEST_F(Agenda, NobodyRingsTheDeadOrThoseInAHospital) {
  for (const char* stay : {"STAY_DIED", "STAY_HOSPITAL", "STAY_FACILITY"}) {
    const OrderAgenda agenda =
        On(absl::CivilDay(2026, 3, 24), std::string(kOut) + "stays { stay: " + stay +
                                            " from_date { year: 2026 month: 3 day: 10 } }");
    EXPECT_THAT(Kinds(agenda), ElementsAre("DUE")) << stay;
    EXPECT_THAT(agenda.not_rung, HasSubstr("R-1: the patient ")) << stay;
  }
  const std::string home_again = std::string(kOut) +
                                 "stays { stay: STAY_HOSPITAL from_date { year: 2026 month: 3 day: "
                                 "10 } } stays { stay: STAY_HOME from_date { year: 2026 month: 3 "
                                 "day: 12 } }";
  EXPECT_THAT(On(absl::CivilDay(2026, 3, 13), home_again).not_rung, IsEmpty());
}

TEST_F(Agenda, PrecautionsStandWithWhatTakesSomebodyThereAndNotWithCalls) {
  const std::string open =
      "status: ORDER_STATUS_OPEN details { needed_date { year: 2026 month: 3 day: 5 } "
      "surgery_date { year: 2026 month: 3 day: 6 } } precautions: PRECAUTION_TWO_TOGETHER";
  const OrderAgenda early = On(absl::CivilDay(2026, 3, 5), open);
  ASSERT_THAT(Kinds(early), ElementsAre("DELIVERY", "CALL CONFIRM_SURGERY"));
  EXPECT_THAT(early.items[0].precautions(), ElementsAre(v1::PRECAUTION_TWO_TOGETHER));
  EXPECT_THAT(early.items[1].precautions(), IsEmpty());
  EXPECT_THAT(On(absl::CivilDay(2026, 3, 24), kOut).items[0].precautions(), IsEmpty());
}

TEST_F(Agenda, ClosedAndCancelledOrdersAskForNothing) {
  for (const char* status : {"ORDER_STATUS_CLOSED", "ORDER_STATUS_CANCELLED"}) {
    EXPECT_THAT(Kinds(On(absl::CivilDay(2026, 3, 24),
                         "status: " + std::string(status) +
                             " handed_over_date { year: 2026 month: 3 day: 2 }")),
                IsEmpty());
  }
}

TEST_F(Agenda, IsSortedByKindThenByHowLongItIsOverdue) {
  std::vector<v1::AgendaItem> items(3);
  items[0].set_kind(v1::AGENDA_KIND_CALL);
  items[1].set_kind(v1::AGENDA_KIND_DELIVERY);
  items[1].mutable_since_date()->set_day(9);
  items[2].set_kind(v1::AGENDA_KIND_DELIVERY);
  items[2].mutable_since_date()->set_day(4);
  for (v1::AgendaItem& item : items) {
    item.mutable_since_date()->set_year(2026);
    item.mutable_since_date()->set_month(3);
    if (item.since_date().day() == 0) item.mutable_since_date()->set_day(1);
  }
  Sort(&items);
  EXPECT_EQ(items[0].since_date().day(), 4);
  EXPECT_EQ(items[2].kind(), v1::AGENDA_KIND_CALL);
}

}  // namespace
}  // namespace ferrule::papers
