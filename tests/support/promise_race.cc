#include "tests/support/promise_race.h"

#include <atomic>
#include <mutex>
#include <random>
#include <stdexcept>
#include <thread>

#include "absl/strings/str_cat.h"
#include "core/fact/promise.h"
#include "core/time/civil.h"
#include "tests/support/entries.h"

namespace ferrule::testing {
namespace {

constexpr int kDays = 28;

constexpr int kUnits = 6;
constexpr int kOrders = 8;  // a caller

std::string Unit(const std::string& prefix, int i) { return absl::StrCat(prefix, "K-", i); }
std::string Order(const std::string& prefix, int i) { return absl::StrCat(prefix, "R-", i); }

void Must(ledger::Ledger& ledger, v1::Entry entry) {
  entry.set_mode(v1::ENTRY_MODE_OBSERVED);
  const auto receipt = ledger.RecordAndWait(std::move(entry));
  if (!receipt.ok()) throw std::runtime_error(receipt.status().ToString());
}

std::string DateText(const char* field, int day) {
  return absl::StrCat(field, " { year: 2026 month: 4 day: ", day, " } ");
}

// One caller: promises, and now and then gives back what it was promised.
class Caller {
 public:
  Caller(ledger::Ledger* ledger, int number, const std::string& prefix)
      : ledger_(ledger), number_(number), prefix_(prefix), random_(static_cast<uint64_t>(number)) {}

  void Attempt(int64_t n, RaceResult* result) {
    ++result->attempts;
    if (!mine_.empty() && random_() % 4 == 0) return Release(n, result);
    const int unit = static_cast<int>(random_() % kUnits);
    const int from = 1 + static_cast<int>(random_() % kDays);
    const int through = std::min(30, from + static_cast<int>(random_() % 9));
    // Each caller has orders of its own: what is fought over is the units.
    const int order = number_ * kOrders + static_cast<int>(random_() % kOrders);
    const auto receipt =
        Send(n, absl::StrCat("unit_promised { unit: '", Unit(prefix_, unit), "' order: '",
                             Order(prefix_, order), "' ", DateText("from_date", from),
                             DateText("through_date", through), "}"));
    if (receipt.ok()) {
      ++result->kept;
      mine_.push_back({unit, order});
    } else {
      Count(receipt.status(), result);
    }
  }

 private:
  void Release(int64_t n, RaceResult* result) {
    const auto [unit, order] = mine_.back();
    mine_.pop_back();
    const auto receipt = Send(n, absl::StrCat("order_hold_released { unit: '", Unit(prefix_, unit),
                                              "' order: '", Order(prefix_, order), "' }"));
    if (receipt.ok()) {
      ++result->released;
    } else {
      Count(receipt.status(), result);
    }
  }

  absl::StatusOr<v1::Receipt> Send(int64_t n, const std::string& fact) {
    // The true times run ahead and back among the callers, as clocks at counters do.
    const int64_t at_us = kStartUs + kDayUs + (n * 7919) % 100'000;
    return ledger_->RecordAndWait(
        EntryOf(absl::StrCat(prefix_, "race-", number_, "-", n), at_us, fact));
  }

  void Count(const absl::Status& status, RaceResult* result) {
    const auto refusal = ledger::RefusalOf(status);
    if (refusal.ok()) {
      ++result->refused;
      return;
    }
    ++result->failed;
    if (result->first_failure.empty()) result->first_failure = status.ToString();
  }

  ledger::Ledger* ledger_;
  const int number_;
  const std::string prefix_;
  std::mt19937_64 random_;
  std::vector<std::pair<int, int>> mine_;
};

void Prepare(ledger::Ledger& ledger, int orders, const std::string& prefix) {
  Must(ledger, SettingsEntry());
  for (int i = 0; i < kUnits; ++i) {
    const std::string unit = Unit(prefix, i);
    Must(ledger, ReceiveUnit(unit, kStartUs));
    Must(ledger, MakeReady(absl::StrCat("ready-", unit), unit, kStartUs + kHourUs));
  }
  for (int i = 0; i < orders; ++i)
    Must(ledger, TakeOrder(Order(prefix, i), kStartUs + 2 * kHourUs));
}

}  // namespace

RaceResult RunRace(const std::vector<ledger::Ledger*>& ledgers, int callers, int64_t attempts,
                   const std::string& prefix) {
  Prepare(*ledgers.front(), callers * kOrders, prefix);
  std::atomic<int64_t> left = attempts;
  std::mutex mutex;
  RaceResult total;
  std::vector<std::thread> threads;
  for (int c = 0; c < callers; ++c) {
    threads.emplace_back([&, c] {
      Caller caller(ledgers[static_cast<size_t>(c) % ledgers.size()], c, prefix);
      RaceResult own;
      for (int64_t n = left.fetch_sub(1); n > 0; n = left.fetch_sub(1)) caller.Attempt(n, &own);
      std::lock_guard lock(mutex);
      total.attempts += own.attempts;
      total.kept += own.kept;
      total.released += own.released;
      total.refused += own.refused;
      total.failed += own.failed;
      if (total.first_failure.empty()) total.first_failure = own.first_failure;
    });
  }
  for (std::thread& thread : threads) thread.join();
  return total;
}

std::vector<std::string> PromisedTwice(ledger::Ledger& ledger, const std::string& prefix) {
  std::vector<std::string> twice;
  for (int i = 0; i < kUnits; ++i) {
    const auto state = ledger.Get("units/" + Unit(prefix, i));
    if (!state.ok()) return {state.status().ToString()};
    const auto& promises = (*state)->unit().promises();
    for (int a = 0; a < promises.size(); ++a) {
      for (int b = a + 1; b < promises.size(); ++b) {
        if (!fact::ShareDays(promises[a], promises[b])) continue;
        twice.push_back(absl::StrCat(Unit(prefix, i), " to ", promises[a].order(), " and ",
                                     promises[b].order()));
      }
    }
    // Nothing that was let through is questioned afterwards either.
    for (const v1::Finding& question : (*state)->questions()) {
      twice.push_back(absl::StrCat(Unit(prefix, i), ": ", v1::Reason_Name(question.reason())));
    }
  }
  return twice;
}

}  // namespace ferrule::testing
