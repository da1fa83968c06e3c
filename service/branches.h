// Which branches a request or a fact is about.
#pragma once

#include <set>
#include <string>
#include <string_view>

#include "core/ledger/ledger.h"
#include "ferrule/v1/facts.pb.h"
#include "google/protobuf/message.h"

namespace ferrule::service {

struct Branches {
  std::set<std::string> names;
  // Something is named that the records do not have, or have nowhere.
  bool unknown = false;
  // Something is named that belongs to no branch, for instance a lot or a test instrument.
  bool of_none = false;
};

// The branch where a unit stands or which serves its order, of an order, or of a place. Empty when
// the records say none; other subjects belong to no branch.
std::string BranchOfSubject(ledger::Ledger& ledger, std::string_view subject_name);

// What the request names: a branch, or a unit, an order or a place that belongs to one.
Branches BranchesOf(ledger::Ledger& ledger, const google::protobuf::Message& request);

// What a fact is about: its units and orders as they are recorded, and the branches and places
// that it names itself.
Branches BranchesOf(ledger::Ledger& ledger, const v1::Fact& fact);

}  // namespace ferrule::service
