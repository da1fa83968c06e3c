#include "core/demo/simulator.h"

#include <algorithm>

#include "core/demo/simulation.h"

namespace ferrule::demo {
namespace {

Options Bounded(Options options) {
  options.years = std::clamp(options.years, 1, 20);
  options.units = std::clamp(options.units, 20, 200'000);
  options.batch_span_us = std::max(options.batch_span_us, kMinute);
  return options;
}

}  // namespace

Simulator::Simulator(const Options& options)
    : simulation_(std::make_unique<Simulation>(Bounded(options))) {}
Simulator::~Simulator() = default;

bool Simulator::Next(Batch* batch) { return simulation_->Next(batch); }
int64_t Simulator::fact_count() const { return simulation_->fact_count(); }
int64_t Simulator::end_us() const { return simulation_->end_us(); }

}  // namespace ferrule::demo
