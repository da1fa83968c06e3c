// Any order of arrival gives the same states and answers, on both engines, and what is stored is
// what the facts give.
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdlib>
#include <functional>
#include <future>
#include <map>
#include <random>
#include <set>
#include <string>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_replace.h"
#include "core/order/due.h"
#include "core/unit/ready.h"
#include "tests/support/entries.h"
#include "tests/support/ledger_depot.h"
#include "tests/support/random_history.h"
#include "tests/support/stored_spans.h"

namespace ferrule::testing {
namespace {

constexpr int kOrders = 20;

int Histories() {
  const char* histories = std::getenv("FERRULE_PROPERTY_HISTORIES");
  return histories != nullptr ? std::atoi(histories) : 300;
}

// Fixed width, so that ids sort alike under every prefix.
std::string Prefix(int history, int order) {
  return absl::StrCat("h", 100'000 + history, "o", 10 + order, "-");
}

// Everything the depot says about one history's subjects, with the prefix taken off.
std::string Picture(LedgerDepot& depot, const std::string& prefix) {
  std::string out;
  const auto book = depot.ledger().Book();
  for (const std::string& name : SubjectsOfHistory(prefix)) {
    auto state = depot.ledger().Get(name);
    if (!state.ok()) continue;
    absl::StrAppend(&out, (*state)->DebugString(), StoredSpans(depot.ledger(), name));
    if ((*state)->has_unit()) {
      unit::ReadyQuery query;
      query.at_us = kStartUs + 20 * kDayUs;
      for (const v1::Finding& f : unit::Assess(**state, *book, query)) {
        absl::StrAppend(&out, f.DebugString());
      }
    }
    if ((*state)->has_order()) {
      for (const v1::RentalEnd& end : order::Ends((*state)->order())) {
        absl::StrAppend(&out, end.DebugString());
      }
    }
  }
  return absl::StrReplaceAll(out, {{prefix, ""}});
}

// The history in a random order of arrival, with some entries sent twice.
std::vector<v1::Entry> Arrival(int history, int order) {
  std::vector<v1::Entry> entries =
      RandomHistory(static_cast<uint64_t>(history), Prefix(history, order));
  if (order == 0) return entries;
  std::mt19937_64 random(static_cast<uint64_t>(history * 1'000 + order));
  const size_t count = entries.size();
  for (size_t i = 0; i < count; ++i) {
    if (random() % 4 == 0) entries.push_back(entries[i]);
  }
  std::shuffle(entries.begin(), entries.end(), random);
  return entries;
}

// All arrival orders of a history side by side, in three commits, so that late facts meet facts
// that are stored and facts that are only decided.
void RecordInThirds(LedgerDepot& depot, int history) {
  std::vector<std::vector<v1::Entry>> arrivals;
  for (int order = 0; order < kOrders; ++order) arrivals.push_back(Arrival(history, order));
  for (size_t third = 0; third < 3; ++third) {
    std::vector<v1::Entry> batch;
    for (const std::vector<v1::Entry>& arrival : arrivals) {
      for (size_t i = third * arrival.size() / 3; i < (third + 1) * arrival.size() / 3; ++i) {
        batch.push_back(arrival[i]);
      }
    }
    for (const auto& outcome : depot.RecordBatch(std::move(batch))) {
      ASSERT_TRUE(outcome.ok()) << outcome.status();
    }
  }
}

std::vector<std::string> PicturesOf(LedgerDepot& depot, int history) {
  RecordInThirds(depot, history);
  std::vector<std::string> out;
  for (int order = 0; order < kOrders; ++order) {
    out.push_back(Picture(depot, Prefix(history, order)));
  }
  return out;
}

TEST(RandomHistory, SendsEveryKindOfFact) {
  std::set<int> sent;
  for (int history = 0; history < 300; ++history) {
    for (const v1::Entry& entry : RandomHistory(static_cast<uint64_t>(history), "h-")) {
      for (const v1::Fact& fact : entry.facts()) sent.insert(fact.what_case());
    }
  }
  const auto* what = v1::Fact::descriptor()->FindOneofByName("what");
  for (int i = 0; i < what->field_count(); ++i) {
    const int kind = what->field(i)->number();
    // Settings concern every subject, and an answer names a question that a shuffled history may
    // not have raised: both have tests of their own.
    if (kind == v1::Fact::kSettingsPut || kind == v1::Fact::kQuestionAnswered) continue;
    EXPECT_TRUE(sent.contains(kind))
        << what->field(i)->name() << ": give it a line in tests/support/random_history.cc";
  }
}

TEST(LedgerProperty, ArrivalMakesNoDifferenceAndBothEnginesAgree) {
  std::map<std::string, std::unique_ptr<LedgerDepot>> depots;
  for (const char* engine : {"sqlite", "postgresql"}) {
    depots[engine] = std::make_unique<LedgerDepot>(engine);
    depots[engine]->MustRecord(SettingsEntry());
  }
  int64_t pictures = 0;
  int64_t questions = 0;
  for (int history = 0; history < Histories(); ++history) {
    std::map<std::string, std::future<std::vector<std::string>>> running;
    for (auto& [engine, depot] : depots) {
      running[engine] = std::async(std::launch::async, PicturesOf, std::ref(*depot), history);
    }
    std::string expected;
    for (auto& [engine, future] : running) {
      for (const std::string& picture : future.get()) {
        if (expected.empty()) expected = picture;
        ASSERT_EQ(picture, expected) << "history " << history << ", " << engine;
        ++pictures;
      }
    }
    if (expected.find("questions") != std::string::npos) ++questions;
  }
  EXPECT_EQ(pictures, int64_t{2} * kOrders * Histories());
  EXPECT_GT(questions, Histories() / 2) << "the histories are too tame to show anything";
  for (auto& [engine, depot] : depots) {
    const ledger::VerifyReport report = depot->MustVerify();
    EXPECT_TRUE(report.ok()) << engine << ": " << report.broken;
    for (const std::string& differing : report.differing_states) {
      ADD_FAILURE() << engine << ": " << differing;
    }
  }
}

}  // namespace
}  // namespace ferrule::testing
