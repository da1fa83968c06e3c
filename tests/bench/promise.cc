// Promises: how long an answer takes at a branch of 250 units with 60 open orders, how the odds
// were kept, and what a million attempts by 16 callers let through.
#include <algorithm>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "core/board/move_preview.h"
#include "core/board/promise_answer.h"
#include "core/store/open.h"
#include "core/time/civil.h"
#include "core/time/clock.h"
#include "ferrule/v1/promise_service.grpc.pb.h"
#include "service/depot_host.h"
#include "tests/bench/benches.h"
#include "tests/bench/depots.h"
#include "tests/bench/load.h"
#include "tests/support/entries.h"
#include "tests/support/promise_calibration.h"
#include "tests/support/promise_race.h"

namespace ferrule::bench {
namespace {

using testing::EntryOf;
using testing::kDayUs;
using testing::kHourUs;
using testing::kStartUs;

constexpr int kUnits = 250;
constexpr int kOpenOrders = 60;
constexpr int kRuns = 51;

double MedianMs(const std::function<void()>& run) {
  std::vector<double> times;
  for (int i = 0; i < kRuns; ++i) {
    const Stopwatch watch;
    run();
    times.push_back(watch.Seconds() * 1000);
  }
  return Median(std::move(times));
}

std::string Order(int i) { return absl::StrCat("R-", 100 + i); }

v1::Entry TakeOrder(const std::string& order, int64_t needed_day, int64_t at_us) {
  const absl::CivilDay day = time::DayFromNumber(needed_day);
  const std::string date =
      absl::StrCat("{ year: ", day.year(), " month: ", day.month(), " day: ", day.day(), " }");
  return EntryOf("take-" + order, at_us,
                 "order_taken { order: '" + order +
                     "' details { patient: 'P-1' prescriber: 'D-1' branch: 'north' device_class: "
                     "'knee' side: SIDE_LEFT procedure: 'x' length_of_need_days: 21 surgery_date " +
                     date + " needed_date " + date +
                     " motion { extension_deg: 0 flexion_deg: 90 } } }",
                 v1::ENTRY_MODE_OBSERVED);
}

// A branch of 250 knees: 190 out with due days all around today, 30 ready, 30 to be cleaned; 60
// open orders for the coming four weeks, half of them promised.
void FillBranch(ledger::Ledger& ledger, board::PromiseDesk& desk) {
  const auto record = [&](v1::Entry entry) {
    entry.set_mode(v1::ENTRY_MODE_OBSERVED);
    Must(ledger.RecordAndWait(std::move(entry)).status());
  };
  record(testing::SettingsEntry());
  const int64_t today = time::DayNumber(time::LocalDay(kStartUs, absl::UTCTimeZone()));
  for (int i = 0; i < kUnits; ++i) {
    const std::string unit = UnitTag(i, kUnits);
    const int64_t received_us = kStartUs - 90 * kDayUs;
    record(testing::ReceiveUnit(unit, received_us));
    if (i % 25 < 3) continue;  // on the dock
    record(testing::MakeReady("ready-" + unit, unit, received_us + kHourUs));
    if (i % 25 < 6) continue;
    const std::string order = absl::StrCat("O-", i);
    const int64_t out_us = kStartUs - (1 + i % 24) * kDayUs;
    record(TakeOrder(order, today - 1 - i % 24, out_us - kDayUs));
    record(testing::HandOver("out-" + order, unit, order, out_us));
  }
  for (int i = 0; i < kOpenOrders; ++i) {
    record(TakeOrder(Order(i), today + 1 + i % 28, kStartUs + kHourUs + i));
  }
  for (int i = 0; i < kOpenOrders; i += 2) {
    v1::AssessPromiseRequest request;
    request.set_name("orders/" + Order(i));
    request.set_firm(true);
    const auto answer = Must(AssessPromise(ledger, desk, request, kStartUs + 2 * kHourUs));
    if (answer.proposal().empty()) continue;
    v1::Entry entry;
    entry.set_entry_id("promise-" + Order(i));
    entry.set_actor("bench");
    *entry.mutable_facts() = answer.proposal();
    Must(ledger.RecordAndWait(std::move(entry)).status());
  }
}

// The floor: the states of the pool read by key, and no more.
double ReadPoolMs(ledger::Ledger& ledger, board::PromiseDesk& desk) {
  return MedianMs([&] {
    const auto members = Must(desk.index.Members(ledger, "north", "knee"));
    for (const auto* names : {&members.units, &members.orders}) {
      for (const std::string& name : *names) Must(ledger.Get(name).status());
    }
  });
}

}  // namespace

void Promise(const Options& options, Report* report) {
  const std::string file = FreshFile(options, "promise");
  time::ManualClock clock(kStartUs + 2 * kHourUs);
  service::HostOptions host_options;
  host_options.sqlite_path = file;
  host_options.clock = &clock;
  host_options.listen = {"127.0.0.1:0"};
  auto host = Must(service::OpenDepot(std::move(host_options)));
  ledger::Ledger& ledger = host->ledger();
  board::PromiseDesk desk;
  FillBranch(ledger, desk);

  const int64_t now_us = clock.NowMicros();
  v1::AssessPromiseRequest request;
  request.set_device_class("knee");
  request.set_side(v1::SIDE_LEFT);
  request.set_branch("north");
  *request.mutable_date() = time::FromDay(time::LocalDay(now_us, absl::UTCTimeZone()) + 12);
  v1::AssessMoveRequest move;
  move.set_name("orders/" + Order(0));
  *move.mutable_surgery_date() = time::FromDay(time::LocalDay(now_us, absl::UTCTimeZone()) + 4);

  const Stopwatch first;
  Must(AssessPromise(ledger, desk, request, now_us).status());
  report->Put("promise", "units", kUnits);
  report->Put("promise", "open_orders", kOpenOrders);
  report->Put("promise", "first_ms", first.Seconds() * 1000);
  const double floor_ms = ReadPoolMs(ledger, desk);
  const double answer_ms =
      MedianMs([&] { Must(AssessPromise(ledger, desk, request, now_us).status()); });
  const double move_ms = MedianMs([&] { Must(AssessMove(ledger, desk, move, now_us).status()); });
  report->PutAgainst("promise", "answer_ms", answer_ms, "states read", floor_ms, false);
  report->PutAgainst("promise", "cascade_ms", move_ms, "states read", floor_ms, false);

  auto stub =
      v1::PromiseService::NewStub(Connect("127.0.0.1:" + std::to_string(host->ports().at(0))));
  const double call_ms = MedianMs([&] {
    grpc::ClientContext context;
    v1::AssessPromiseResponse response;
    const grpc::Status status = stub->AssessPromise(&context, request, &response);
    if (!status.ok()) GiveUp(status.error_message());
  });
  report->PutAgainst("promise", "call_ms", call_ms, "states read", floor_ms, false);
}

void PromiseCalibration(const Options& options, Report* report) {
  testing::Calibration sum;
  const int runs = std::max(1, options.repeats);
  for (int run = 0; run < runs; ++run) {
    testing::CalibrationOptions calibration;
    calibration.seed = static_cast<uint64_t>(run) + 1;
    store::SqliteOptions store;
    store.path = FreshFile(options, absl::StrCat("calibration-", run));
    testing::Add(testing::Calibrate(Must(store::OpenSqlite(store)), calibration), &sum);
  }
  report->Put("promise_calibration", "promises", sum.promises);
  report->Put("promise_calibration", "worst_difference", sum.worst);
  for (size_t i = 0; i < sum.deciles.size(); ++i) {
    const testing::Decile& d = sum.deciles[i];
    report->Put("promise_calibration", absl::StrCat("decile_", i),
                {{"count", d.count}, {"told", d.told}, {"kept", d.kept}, {"error", d.error}});
  }
  for (const auto& [part, d] : sum.parts) {
    report->Put("promise_calibration", part,
                {{"count", d.count}, {"told", d.told}, {"kept", d.kept}});
  }
}

namespace {

constexpr int kCallers = 16;
constexpr int64_t kRound = 5'000;

// Rounds on fresh units, so that no unit's history grows without end.
void Race(const std::vector<ledger::Ledger*>& ledgers, int64_t attempts, const std::string& engine,
          Report* report) {
  testing::RaceResult sum;
  std::vector<std::string> twice;
  const Stopwatch watch;
  for (int64_t round = 0; sum.attempts < attempts; ++round) {
    const std::string prefix = absl::StrCat("r", round, "-");
    const testing::RaceResult result =
        testing::RunRace(ledgers, kCallers, std::min(kRound, attempts - sum.attempts), prefix);
    sum.attempts += result.attempts;
    sum.kept += result.kept;
    sum.released += result.released;
    sum.refused += result.refused;
    sum.failed += result.failed;
    for (std::string& words : testing::PromisedTwice(*ledgers.back(), prefix)) {
      twice.push_back(std::move(words));
    }
  }
  const std::string section = "promise_race_" + engine;
  report->Put(section, "callers", kCallers);
  report->Put(section, "attempts", sum.attempts);
  report->Put(section, "kept", sum.kept);
  report->Put(section, "released", sum.released);
  report->Put(section, "refused", sum.refused);
  report->Put(section, "failed", sum.failed);
  report->Put(section, "promised_twice", twice.size());
  report->Put(section, "seconds", watch.Seconds());
  if (!twice.empty()) GiveUp("promised twice: " + twice.front());
}

}  // namespace

void PromiseRace(const Options& options, Report* report) {
  const time::ManualClock clock(kStartUs + 30 * kDayUs);
  store::SqliteOptions store;
  store.path = FreshFile(options, "race");
  {
    auto ledger = Must(ledger::Ledger::Open(Must(store::OpenSqlite(store)), &clock, {}));
    Race({ledger.get()}, options.facts, "sqlite", report);
  }
  if (options.postgres.empty()) return;
  // Two ledgers on one database, as two servers are.
  const std::string conninfo = FreshSchema(options, "race");
  auto one = Must(ledger::Ledger::Open(Must(store::OpenPostgres(conninfo)), &clock, {}));
  auto other = Must(ledger::Ledger::Open(Must(store::OpenPostgres(conninfo)), &clock, {}));
  Race({one.get(), other.get()}, options.facts, "postgresql", report);
}

}  // namespace ferrule::bench
