// Tests core/cover/day_ledger.cc against published examples and rules of payers and of the
// calendar: data/published.txt, each with its source.
#include "tests/core/cover/published.h"

#include <gtest/gtest.h>

#include "tests/core/cover/spec.h"

namespace ferrule::testing {
namespace {

TEST(Published, CasesAreCountedAsPublished) {
  const std::vector<PublishedCase> cases = PublishedCases();
  EXPECT_GE(cases.size(), 20u);
  for (const PublishedCase& published : cases) {
    EXPECT_FALSE(published.source.empty()) << published.name;
    ExpectPublished(published, CountRental(RentalOf(published.rental), published.through));
  }
}

}  // namespace
}  // namespace ferrule::testing
