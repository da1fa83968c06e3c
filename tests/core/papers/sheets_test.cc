#include "core/papers/sheets.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "google/protobuf/text_format.h"

namespace ferrule::papers {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

template <class Message>
Message Parse(const std::string& text) {
  Message message;
  EXPECT_TRUE(google::protobuf::TextFormat::ParseFromString(text, &message)) << text;
  return message;
}

class Sheets : public ::testing::Test {
 protected:
  Sheets()
      : book_(Parse<v1::SettingsState>(
            "versions { from_time { seconds: 0 } settings { version: 'v' branches { id: 'north' "
            "display_name: 'North depot' time_zone: 'America/New_York' } device_classes { id: "
            "'knee' sided: true kit_items: 'pad-set' } models { id: 'knee-a' device_class: 'knee' "
            "display_name: 'Knee A' parts { position: 'pendant' required: true } motion { min_deg: "
            "-10 max_deg: 120 max_speed_deg_per_min: 150 } } } }")),
        unit_(Parse<v1::UnitState>("unit: 'K-1' serial: '77123' model: 'knee-a' parts { part: "
                                   "'PEN-8' position: 'pendant' }")) {}

  OrderPaper Of(const v1::OrderState& order, const v1::UnitState* unit) {
    return {order, unit, absl::CivilDay(2026, 3, 5), book_.At(1'773'000'000'000'000)};
  }

  const depot::SettingsBook book_;
  const v1::UnitState unit_;
  const v1::OrderState order_ = Parse<v1::OrderState>(
      "order: 'R-1' details { patient: 'P-1' prescriber: 'D-4' branch: 'north' device_class: "
      "'knee' side: SIDE_LEFT procedure: 'knee replacement' motion { extension_deg: 0 "
      "flexion_deg: 90 speed_deg_per_min: 150 pause_s: 5 daily_use_s: 14400 } } accessories: "
      "'pendant' kit_left: 'pad-set'");
};

// 0 to 90 degrees at 150 a minute with 5 s at each end: 82 s a cycle, 43.9 an hour (common
// practice, no source).
TEST_F(Sheets, SetUpGivesTheOrdersLimitsAndTheArithmeticOfASession) {
  const std::string html = SetUpSheet(Of(order_, &unit_)).Html();
  for (const char* words :
       {"0 deg", "90 deg", "150 deg/min", "4 h a day", "takes 82 s", "43.9 cycles an hour",
        "The prescriber&#39;s order and the maker&#39;s instructions rule",
        "Hinge on the joint line", "K-1", "77123", "Knee A", "left", "North depot"}) {
    EXPECT_THAT(html, HasSubstr(words));
  }
}

TEST_F(Sheets, SetUpNeverGivesALimitThatNoOrderGives) {
  v1::OrderState order = order_;
  order.mutable_details()->clear_motion();
  const std::string html = SetUpSheet(Of(order, &unit_)).Html();
  EXPECT_THAT(html, HasSubstr("Not given by the order: ring the prescriber, set nothing."));
  EXPECT_THAT(html, HasSubstr("<dt>Flexion limit</dt><dd class=\"w\">"));
  // The model's own limits are no advice.
  EXPECT_THAT(html, Not(HasSubstr("120")));
}

TEST_F(Sheets, DeliveryTicketNamesUnitAndKitAndWhoMaySign) {
  const std::string html = DeliveryTicket(Of(order_, &unit_)).Html();
  for (const char* words : {"PEN-8", "pad-set", "Relationship to the patient",
                            "Nobody who works for the depot", "Patient&#39;s name", "P-1"}) {
    EXPECT_THAT(html, HasSubstr(words));
  }
}

TEST_F(Sheets, DeliveryTicketWithoutAUnitHasALineForIt) {
  EXPECT_THAT(DeliveryTicket(Of(order_, nullptr)).Html(),
              HasSubstr("<dt>Unit&#39;s tag</dt><dd class=\"w\">"));
}

TEST_F(Sheets, PickupTicketExpectsWhatWasLeft) {
  const std::string html = PickupTicket(Of(order_, &unit_)).Html();
  EXPECT_THAT(html, HasSubstr("<td>pendant</td><td>yes</td>"));
  EXPECT_THAT(html, HasSubstr("pad-set: stays with the patient"));
  EXPECT_THAT(html, HasSubstr("soiled"));
}

TEST_F(Sheets, PickupTicketTellsHowOftenItWasInVain) {
  EXPECT_THAT(PickupTicket(Of(order_, &unit_)).Html(), Not(HasSubstr("Tried before")));
  v1::OrderState order = order_;
  order.set_failed_pickup_count(2);
  order.mutable_pickup_failed()->mutable_time()->set_seconds(1774281600);
  order.set_pickup_failed_outcome("nobody home");
  const std::string html = PickupTicket(Of(order, &unit_)).Html();
  EXPECT_THAT(html, HasSubstr("Tried before"));
  EXPECT_THAT(html, HasSubstr("2 pick-ups failed, the last 2026-03-23 (nobody home)"));
}

TEST_F(Sheets, PrecautionsStandOnWhatGoesToTheHomeAndOnlyWhenTheyAreAsked) {
  v1::OrderState order = order_;
  order.add_precautions(v1::PRECAUTION_TWO_TOGETHER);
  order.add_precautions(v1::PRECAUTION_GLOVES);
  for (const auto& sheet : {DeliveryTicket, SetUpSheet, PickupTicket}) {
    EXPECT_THAT(sheet(Of(order, &unit_)).Html(),
                HasSubstr("<p>Precautions for whoever goes there</p>\n<p>Two go together.</p>\n"
                          "<p>Wear gloves, and what else the depot&#39;s rules give"));
    EXPECT_THAT(sheet(Of(order_, &unit_)).Html(), Not(HasSubstr("Precautions")));
  }
}

// Not in any sheet: a limit or a name that no record gives. In every sheet: who rules.
TEST_F(Sheets, EverySheetCarriesItsCautions) {
  const v1::GetAgendaResponse agenda;
  for (const std::string& html :
       {DeliveryTicket(Of(order_, &unit_)).Html(), SetUpSheet(Of(order_, &unit_)).Html(),
        CallList(agenda, "North").Html(), papers::Agenda(agenda, "North").Html()}) {
    EXPECT_THAT(html,
                HasSubstr("The prescriber&#39;s order and the maker&#39;s instructions rule"));
  }
  EXPECT_THAT(PickupTicket(Of(order_, &unit_)).Html(), HasSubstr("cleaned and inspected"));
}

TEST_F(Sheets, ListsShowTheAgendaAndWhoIsNotRung) {
  const auto agenda = Parse<v1::GetAgendaResponse>(
      "branch: 'north' date { year: 2026 month: 3 day: 5 } items { kind: AGENDA_KIND_CALL call: "
      "CALL_KIND_FOLLOW_UP order: 'R-1' patient: 'P-1' since_date { year: 2026 month: 3 day: 4 } "
      "text: 'does it move' } items { kind: AGENDA_KIND_DELIVERY order: 'R-2' since_date { year: "
      "2026 month: 3 day: 5 } text: 'bring a knee' missing: 'side' } not_rung: 'R-3: the patient "
      "has died'");
  const std::string calls = CallList(agenda, "North depot").Html();
  EXPECT_THAT(calls, HasSubstr("does it move"));
  EXPECT_THAT(calls, Not(HasSubstr("bring a knee")));
  EXPECT_THAT(calls, HasSubstr("R-3: the patient has died"));
  const std::string all = papers::Agenda(agenda, "North depot").Html();
  EXPECT_THAT(all, HasSubstr("bring a knee"));
  EXPECT_THAT(all, HasSubstr("side"));
}

}  // namespace
}  // namespace ferrule::papers
