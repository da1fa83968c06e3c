#include "core/guard/patients.h"

#include <gtest/gtest.h>

#include <fstream>
#include <sstream>

#include "tests/support/entries.h"
#include "tests/support/ledger_depot.h"

namespace ferrule::guard {
namespace {

class PatientsTest : public testing::OnEveryEngine {
 protected:
  Read By(const std::string& who, const std::string& because = "") {
    return {depot_.clock().NowMicros(), who, "/method", "patients/P-31", because};
  }
  void Keep() {
    v1::PatientParticulars p;
    p.set_patient("P-31");
    p.set_address("1 Canary Lane");
    ASSERT_TRUE(patients_.Put(p, By("intake-cy")).ok());
  }

  testing::LedgerDepot depot_{GetParam()};
  Patients patients_{&depot_.ledger()};
};

TEST_P(PatientsTest, AreGivenAndTheReadIsKept) {
  Keep();
  const auto got = patients_.Get("P-31", By("rep-di"));
  ASSERT_TRUE(got.ok()) << got.status();
  EXPECT_EQ(got->address(), "1 Canary Lane");
  const auto reads = patients_.Reads(0, "rep-di", "", 10);
  ASSERT_EQ(reads->size(), 1u);
  EXPECT_EQ((*reads)[0].resource(), "patients/P-31");
  EXPECT_EQ((*reads)[0].SerializeAsString().find("Canary"), std::string::npos);
}

TEST_P(PatientsTest, ErasedOnesAreGoneAndTheChainStands) {
  depot_.MustRecord(testing::SettingsEntry());
  Keep();
  ASSERT_EQ(patients_.Erase("P-31", By("compliance-eve", "retention has ended")), absl::OkStatus());
  EXPECT_EQ(patients_.Get("P-31", By("rep-di")).status().code(), absl::StatusCode::kNotFound);
  EXPECT_EQ(patients_.Erase("P-31", By("rep-di")).code(), absl::StatusCode::kNotFound);
  const auto reads = patients_.Reads(0, "compliance-eve", "", 10);
  ASSERT_EQ(reads->size(), 1u);
  EXPECT_EQ((*reads)[0].because(), "retention has ended");
  EXPECT_TRUE(depot_.MustVerify().ok());
  if (depot_.path().empty()) return;
  std::ifstream file(depot_.path(), std::ios::binary);
  std::stringstream bytes;
  bytes << file.rdbuf();
  EXPECT_EQ(bytes.str().find("Canary"), std::string::npos);
}

TEST_P(PatientsTest, ReadsAreCountedInTheirOrder) {
  for (int i = 0; i < 5; ++i) {
    ASSERT_EQ(patients_.Note(By(i % 2 == 0 ? "rep-di" : "rep-ed")), absl::OkStatus());
  }
  EXPECT_EQ(patients_.Reads(0, "rep-di", "", 10)->size(), 3u);
  const auto later = patients_.Reads(3, "", "patients/P-31", 10);
  ASSERT_EQ(later->size(), 2u);
  EXPECT_EQ((*later)[0].number(), 4);
}

FERRULE_ON_EVERY_ENGINE(PatientsTest);

}  // namespace
}  // namespace ferrule::guard
