#include "core/access/mask.h"

#include <gtest/gtest.h>

#include <set>
#include <string>

#include "ferrule/v1/cover_service.pb.h"
#include "ferrule/v1/depot_service.pb.h"
#include "ferrule/v1/ledger_service.pb.h"
#include "ferrule/v1/papers_service.pb.h"

namespace ferrule::access {
namespace {

TEST(Mask, HidesAReferenceDeepInAnEntryAndNothingElse) {
  v1::WatchEntriesResponse page;
  v1::Entry* entry = page.add_entries()->mutable_entry();
  entry->set_actor("intake-cy");
  v1::OrderTaken* taken = entry->add_facts()->mutable_order_taken();
  taken->set_order("R-1");
  taken->mutable_details()->set_patient("P-31");
  entry->add_facts()->mutable_carried_over()->set_patient("P-32");
  EXPECT_EQ(CountPatients(page), 2);
  EXPECT_EQ(MaskPatients(&page), 2);
  EXPECT_EQ(page.SerializeAsString().find("P-3"), std::string::npos);
  EXPECT_EQ(page.entries(0).entry().facts(0).order_taken().order(), "R-1");
  EXPECT_EQ(page.entries(0).entry().actor(), "intake-cy");
  EXPECT_EQ(page.entries(0).entry().facts(0).order_taken().details().patient(), kMasked);
}

TEST(Mask, LeavesWhatIsAbsentAbsent) {
  v1::WatchEntriesResponse page;
  page.add_entries()->mutable_entry()->add_facts()->mutable_order_taken()->set_order("R-1");
  EXPECT_EQ(MaskPatients(&page), 0);
  EXPECT_FALSE(page.entries(0).entry().facts(0).order_taken().details().has_patient());
}

TEST(Mask, KnowsWhichAnswersCanNamePatients) {
  EXPECT_TRUE(CanNamePatients(*v1::GetOrderResponse::descriptor()));
  EXPECT_TRUE(CanNamePatients(*v1::GetDayLedgerResponse::descriptor()));
  EXPECT_FALSE(CanNamePatients(*v1::GetBoardResponse::descriptor()));
}

}  // namespace
}  // namespace ferrule::access
