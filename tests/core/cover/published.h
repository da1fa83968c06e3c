// The published cases of days and cover (data/published.txt): one table, asked of the counting, of
// the service and of the program.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "ferrule/v1/cover_service.pb.h"

namespace ferrule::testing {

struct PublishedCase {
  std::string name;
  std::string source;
  std::string rental;   // a line of spec.h
  std::string through;  // counted up to and with that day
  // What is asked of the answer, and what is expected.
  std::vector<std::pair<std::string, std::string>> expected;
};

// Throws std::runtime_error for a file that it cannot read or does not understand.
std::vector<PublishedCase> PublishedCases();

// Expects all of it of an answer.
void ExpectPublished(const PublishedCase& published, const v1::GetDayLedgerResponse& days);

}  // namespace ferrule::testing
