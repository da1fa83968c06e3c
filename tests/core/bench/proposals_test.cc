// What may explain something unexpected.
#include "core/bench/proposals.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/folded_depot.h"

namespace ferrule::bench {
namespace {

using ferrule::testing::FoldedDepot;
using ::testing::ElementsAre;
using ::testing::HasSubstr;

v1::Finding Finding(v1::Reason reason, std::vector<std::pair<std::string, std::string>> values = {},
                    const std::string& unit = "K-1") {
  v1::Finding finding;
  finding.set_reason(reason);
  finding.set_subject("units/" + unit);
  for (const auto& [key, value] : values) {
    v1::FindingValue* v = finding.add_values();
    v->set_key(key);
    v->set_value(value);
  }
  return finding;
}

class Proposals : public ::testing::Test {
 protected:
  Proposals() {
    depot_.ReadyKnee();
    unit_ = depot_.Unit("K-1");
    around_.unit = &unit_;
    around_.at_us = FoldedDepot::Us(60);
    around_.place = "dock";
    order_.set_order("O-1");
    order_.mutable_details()->set_branch("north");
    around_.order = &order_;
  }
  std::vector<std::string> Kinds(const v1::Finding& finding) {
    proposals_ = Explain(finding, around_, depot_.book().At(around_.at_us));
    std::vector<std::string> kinds;
    for (const v1::Proposal& p : proposals_) {
      kinds.push_back(v1::ProposalKind_Name(p.kind()).substr(14));
    }
    return kinds;
  }

  FoldedDepot depot_;
  v1::UnitState unit_;
  v1::OrderState order_;
  Surroundings around_;
  std::vector<v1::Proposal> proposals_;
};

TEST_F(Proposals, OfADueRentalItIsThePickUpThatIsMissing) {
  around_.order_due = absl::CivilDay(2026, 3, 2);
  EXPECT_THAT(Kinds(Finding(v1::REASON_NOT_PICKED_UP, {{"order", "O-1"}})),
              ElementsAre("UNRECORDED_PICKUP"));
  ASSERT_EQ(proposals_[0].facts_size(), 1);
  EXPECT_EQ(proposals_[0].facts(0).picked_up().order(), "O-1");
}

TEST_F(Proposals, OfARentalThatGoesOnASwapIsLikelier) {
  around_.order_due = absl::CivilDay(2026, 3, 20);
  around_.like_it.emplace_back().set_unit("K-2");
  EXPECT_THAT(Kinds(Finding(v1::REASON_NOT_PICKED_UP, {{"order", "O-1"}})),
              ElementsAre("UNRECORDED_SWAP", "UNRECORDED_PICKUP"));
  EXPECT_EQ(proposals_[0].facts(0).exchanged().unit_in(), "K-2");
}

TEST_F(Proposals, AtAnotherBranchThatIsSaidFirst) {
  order_.mutable_details()->set_branch("west");
  EXPECT_THAT(Kinds(Finding(v1::REASON_NOT_PICKED_UP, {{"order", "O-1"}})),
              ElementsAre("OTHER_BRANCH", "UNRECORDED_PICKUP"));
}

TEST_F(Proposals, TwoMismatchesThatCancelEachOtherAreASwap) {
  const v1::Finding here =
      Finding(v1::REASON_NOT_AT_THAT_HOME, {{"expected", "O-2"}, {"found", "O-1"}});
  around_.other_questions = {
      here, Finding(v1::REASON_NOT_AT_THAT_HOME, {{"expected", "O-1"}, {"found", "O-2"}}, "K-2")};
  EXPECT_THAT(Kinds(here), ElementsAre("UNRECORDED_SWAP"));
  EXPECT_THAT(proposals_[0].text(), HasSubstr("swapped with K-2"));
}

TEST_F(Proposals, AnUnpairedWrongHomeAsksToReadTheOtherTag) {
  EXPECT_THAT(Kinds(Finding(v1::REASON_NOT_AT_THAT_HOME, {{"expected", "O-2"}, {"found", "O-1"}})),
              ElementsAre("WRONG_UNIT"));
}

TEST_F(Proposals, AGivenUpUnitIsFound) {
  for (v1::Reason reason : {v1::REASON_UNACCOUNTED, v1::REASON_LEFT_FLEET}) {
    EXPECT_THAT(Kinds(Finding(reason)), ElementsAre("FOUND"));
    EXPECT_EQ(proposals_[0].facts(0).unit_found().place(), "dock");
  }
}

TEST_F(Proposals, AnotherSerialIsAnAliasOrAnotherUnit) {
  unit_.add_aliases()->set_alias("B-7");
  v1::UnitState& other = around_.with_serial.emplace_back();
  other.set_unit("K-9");
  other.set_place("shelf");
  EXPECT_THAT(Kinds(Finding(v1::REASON_OTHER_SERIAL_SEEN, {{"found", "B-7"}})),
              ElementsAre("BOARD_CHANGED", "WRONG_UNIT"));
  EXPECT_THAT(proposals_[1].text(), HasSubstr("it is K-9"));
}

TEST_F(Proposals, APartOfAnotherUnitNamesTheDonor) {
  v1::PartState part;
  part.set_part("P-2");
  part.set_unit("K-2");
  part.set_position("pendant");
  around_.part = &part;
  EXPECT_THAT(Kinds(Finding(v1::REASON_OTHER_PART_SEEN, {{"found", "P-2"}})),
              ElementsAre("OTHER_UNITS_PART"));
  EXPECT_EQ(proposals_[0].facts(0).part_removed().unit(), "K-2");
}

TEST_F(Proposals, TwoUnitsEachFoundWhereTheOtherWasRecordedWereSwappedByHand) {
  const v1::Finding here =
      Finding(v1::REASON_NOT_AT_THAT_PLACE, {{"from", "van-2"}, {"found", "van-1"}});
  around_.other_questions = {here};
  EXPECT_TRUE(Kinds(here).empty()) << "one alone is no swap";
  around_.other_questions.push_back(
      Finding(v1::REASON_NOT_AT_THAT_PLACE, {{"from", "van-1"}, {"found", "van-2"}}, "K-2"));
  EXPECT_THAT(Kinds(here), ElementsAre("UNRECORDED_SWAP"));
  ASSERT_EQ(proposals_[0].facts_size(), 2);
  EXPECT_EQ(proposals_[0].facts(0).unit_moved().to_place(), "van-2");
  EXPECT_EQ(proposals_[0].facts(1).unit_moved().unit(), "K-2");
  EXPECT_EQ(proposals_[0].facts(1).unit_moved().to_place(), "van-1");
}

TEST_F(Proposals, OfAnythingElseAreNone) {
  EXPECT_TRUE(Kinds(Finding(v1::REASON_NOT_CLEANED)).empty());
}

}  // namespace
}  // namespace ferrule::bench
