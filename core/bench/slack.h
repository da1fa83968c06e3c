// What the bench does next, so that nothing promised is missed: the least slack first.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "ferrule/v1/bench_service.pb.h"
#include "ferrule/v1/findings.pb.h"

namespace ferrule::bench {

// A unit of the depot that is not at a home; ready ones too, since they cover orders.
struct Candidate {
  std::string unit;
  std::string branch;
  std::string device_class;
  std::string place;
  v1::Side side = v1::SIDE_UNSPECIFIED;
  bool sided = false;
  bool ready = false;               // to go, for the order it is held for if it is held
  std::string held_order;           // empty when it is free
  std::vector<v1::BenchStep> work;  // in the order in which it is done
  std::vector<std::string> steps;   // in words
  int minutes = 0;
  std::string blocked;  // why the bench cannot make it ready; empty when it can
};

// An order that waits for a unit.
struct Demand {
  std::string order;
  std::string branch;
  std::string device_class;
  v1::Side side = v1::SIDE_UNSPECIFIED;
  std::string held_unit;  // empty when none is held
  int64_t need_us = 0;    // when the unit must be ready
};

// Rows for every unit that is not ready, the least slack first; units that nothing needs come last,
// the least work first, and blocked ones after those. An order's own unit works for it; an order
// without one is covered by a ready free unit of its branch, class and side, else by the unit that
// needs the least work. Orders are served in the order of their need.
std::vector<v1::BenchRow> PlanBench(std::vector<Candidate> units, std::vector<Demand> demands,
                                    int64_t now_us);

// The work that cures those findings, in its order, and its minutes by the policy.
std::vector<v1::BenchStep> WorkFor(const std::vector<v1::Finding>& findings);
int MinutesOf(const std::vector<v1::BenchStep>& work, const v1::BenchPolicy& policy);

}  // namespace ferrule::bench
