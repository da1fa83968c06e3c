// What the simulator itself keeps of units, orders and branches: just enough to know which facts
// are possible next.
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <vector>

#include "ferrule/v1/facts.pb.h"

namespace ferrule::demo {

inline constexpr uint32_t kNone = UINT32_MAX;
inline constexpr int kMaxParts = 5;

// What happens next, to whom.
enum class Step : uint8_t {
  // Depot; `id` is a branch where one is needed.
  kPutSettings,
  kOrderDay,
  kRecall,
  kLoseUnit,
  kArrive,  // `id`: slot of a late entry
  kAnswer,  // `id`: slot of a flaw
  // Units.
  kUnitReceive,
  kToBay,
  kCleaned,
  kInspect,
  kRepairDone,
  kReturnReceive,
  kQuarantineEnd,
  kServiceOnShelf,
  kFoundOrWrittenOff,
  kCorrectReading,
  // Orders.
  kTake,
  kComplete,
  kMove,
  kCancel,
  kAllocate,
  kLoad,
  kDeliver,
  kExchangeLoad,
  kExchange,
  kExtend,
  kAgree,
  kPickup,
  kMissingAtHome,
};

struct Event {
  int64_t at_us;
  uint64_t tie;    // events of one instant keep the order in which they were planned
  uint64_t token;  // must still be the subject's when the event comes
  uint32_t id;
  Step step;
};

// Where a unit stands.
enum class Stand : uint8_t {
  kAbsent,
  kDock,
  kBay,
  kBench,
  kShelf,
  kQuarantine,
  kVanClean,
  kVanDirty,
  kHome,
  kUnaccounted,
  kGone,
};

struct Unit {
  int16_t branch = 0;  // where it stands, or last stood
  int8_t model = 0;
  int8_t van = 1;
  Stand stand = Stand::kAbsent;
  v1::Side side = v1::SIDE_UNSPECIFIED;
  uint32_t token = 0;       // changes with every new plan
  uint32_t order = kNone;   // slot of the order it is held for or on rent with
  int32_t pool_index = -1;  // in its branch's list of ready units
  uint8_t missing = 0;      // bit a part position: reported missing
  uint8_t absent = 0;       // bit a part position: taken out as a donor
  bool recalled = false;
  bool faulty = false;  // came back because it did not work
  bool repair_open = false;
  bool lost_at_home = false;
  v1::HoldKind hold = v1::HOLD_KIND_UNSPECIFIED;  // besides a recall
  int32_t turns = 0;
  int32_t serviced_turns = 0;
  int64_t meter_s = 0;  // as it reads
  int64_t run_s = 0;    // true, since it was received
  int64_t serviced_run_s = 0;
  int64_t read_us = 0;  // when meter_s was read
  int64_t serviced_us = 0;
  int64_t settled_us = 0;  // late facts about it are recorded by then
  int64_t last_us = 0;     // of what others did to it
  double use_hours = 0;    // a day, of the present patient
  std::array<uint32_t, kMaxParts> parts{};
};

enum class Phase : uint8_t { kOpen, kHeld, kLoaded, kOnRent, kOver };

struct Order {
  uint64_t life = 0;  // unique; 0 for a free slot
  uint64_t number = 0;
  uint32_t patient = 0;
  int16_t branch = 0;
  int8_t device_class = 0;
  Phase phase = Phase::kOpen;
  v1::Side side = v1::SIDE_LEFT;
  uint8_t plan = 0;  // changes with every new plan
  bool lacks_side = false;
  bool lacks_signature = false;
  bool rebooked = false;
  bool second_side = false;
  bool extended = false;
  bool lost = false;
  bool has_authorisation = false;
  bool has_cover_end = false;
  uint32_t unit = kNone;
  uint32_t spare = kNone;  // unit on its way for an exchange
  int32_t taken_day = 0;
  int32_t surgery_day = 0;
  int32_t discharge_day = 0;
  int32_t need_days = 0;
  int32_t handed_day = -1;
  int32_t authorised_through = -1;
  int32_t covered_through = -1;
  int32_t extended_through = -1;
  int32_t agreed_day = -1;
  int32_t pickup_day = -1;     // as the depot plans it
  int32_t elusive_until = -1;  // pick-ups before that day fail
  int32_t failed_pickups = 0;
  int32_t flexion_deg = 0;
  int64_t daily_use_s = 0;
  int64_t version = 1;
  int64_t settled_us = 0;  // late facts about it are recorded by then
};

// One lot of soft goods in use at a branch.
struct LotInUse {
  uint32_t number = 0;
  int pieces_left = 0;
};

struct BranchStock {
  std::vector<std::vector<uint32_t>> ready;  // by class: free units on the shelf
  std::vector<LotInUse> lots;                // by kit item
};

}  // namespace ferrule::demo
