// Results in doubt, ranked by where the units are now. A fold cannot see its neighbours, and what
// stood beside what depends on facts of two units that may come late; so contact is worked out
// when it is asked for, from all that is known by then, and becomes a fact when somebody who looked
// says so.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <vector>

#include "core/bench/replay.h"
#include "core/depot/settings_book.h"
#include "core/unit/tester.h"
#include "ferrule/v1/bench_service.pb.h"

namespace ferrule::bench {

// A window looked at as if the tester had been doubted in it.
struct SupposedDoubt {
  std::string tester;
  int64_t from_us = 0;
  int64_t to_us = 0;
};

// Collects the doubtful passes of one unit out of a replay.
class DoubtfulPasses {
 public:
  // `testers` by id; they must outlive it.
  DoubtfulPasses(const depot::SettingsBook& book,
                 const std::map<std::string, v1::TesterState>& testers,
                 const SupposedDoubt* supposed)
      : book_(book), testers_(testers), supposed_(supposed) {}

  void Visit(const Moment& moment);
  // Rows with rank and present place taken from the unit's state.
  std::vector<v1::DoubtRow> Rows(const v1::UnitState& now) const;

 private:
  unit::Trust TrustOf(const std::string& tester, int64_t at_us, const v1::UnitState& unit) const;

  const depot::SettingsBook& book_;
  const std::map<std::string, v1::TesterState>& testers_;
  const SupposedDoubt* supposed_;
  std::vector<v1::DoubtRow> rows_;
};

// A unit that stands somewhere, for the comparison with its neighbours.
struct Standing {
  std::string unit;
  std::string place;
  v1::PlaceKind kind = v1::PLACE_KIND_UNSPECIFIED;
  bool clean = false;
  bool sealed = false;    // in a sealed bag
  bool infested = false;  // under a hold for insects
  v1::Stamp since;        // at that place
  v1::UnitState state;
};

// Doubts about units that stand beside soiled or infested ones now: at one place, or on the two
// sides of one van when one of them carries insects. A sealed bag keeps a clean unit clean, but
// insects are looked for in bags as well.
std::vector<v1::DoubtRow> BesideSoiled(const std::vector<Standing>& units);

// The greatest risk first: rank, then the least margin, then the unit.
bool MoreRisky(const v1::DoubtRow& a, const v1::DoubtRow& b);

}  // namespace ferrule::bench
