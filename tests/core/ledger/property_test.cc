// Any order of arrival gives the same states and answers, on both engines, and what is stored is
// what the facts give.
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
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

int FromEnvironment(const char* name, int otherwise) {
  const char* value = std::getenv(name);
  return value != nullptr ? std::atoi(value) : otherwise;
}

int Histories() { return FromEnvironment("FERRULE_PROPERTY_HISTORIES", 300); }
// The first one's number: a long run is cut into several, each with depots of its own.
int FirstHistory() { return FromEnvironment("FERRULE_PROPERTY_FIRST", 0); }

// Fixed width, so that ids sort alike under every prefix, and one takes another's place in
// serialized bytes.
std::string Prefix(int history, int order) {
  return absl::StrCat("h", 100'000 + history, "o", 10 + order, "-");
}

using InForm = std::string (*)(const google::protobuf::Message&);
std::string AsBytes(const google::protobuf::Message& message) {
  return absl::StrCat(message.ByteSizeLong(), ":", message.SerializeAsString());
}
std::string AsText(const google::protobuf::Message& message) { return message.DebugString(); }

// Everything the depot says about one history's subjects, with the prefix of the first order in
// place of its own.
std::string Picture(LedgerDepot& depot, int history, int order, InForm form) {
  std::string out;
  const auto book = depot.ledger().Book();
  for (const std::string& name : SubjectsOfHistory(Prefix(history, order))) {
    auto state = depot.ledger().Get(name);
    if (!state.ok()) continue;
    absl::StrAppend(&out, form(**state), StoredSpans(depot.ledger(), name));
    if ((*state)->has_unit()) {
      unit::ReadyQuery query;
      query.at_us = kStartUs + 20 * kDayUs;
      for (const v1::Finding& f : unit::Assess(**state, *book, query)) out += form(f);
    }
    if ((*state)->has_order()) {
      for (const v1::RentalEnd& end : order::Ends((*state)->order())) out += form(end);
    }
  }
  return absl::StrReplaceAll(out, {{Prefix(history, order), Prefix(history, 0)}});
}

// The history in a random order of arrival, with some entries sent twice.
std::vector<v1::Entry> Arrival(const std::vector<v1::Entry>& first, int history, int order) {
  if (order == 0) return first;
  std::vector<v1::Entry> entries;
  for (const v1::Entry& entry : first) {
    const std::string bytes = absl::StrReplaceAll(entry.SerializeAsString(),
                                                  {{Prefix(history, 0), Prefix(history, order)}});
    EXPECT_TRUE(entries.emplace_back().ParseFromString(bytes));
  }
  std::mt19937_64 random(static_cast<uint64_t>(history * 1'000 + order));
  const size_t count = entries.size();
  for (size_t i = 0; i < count; ++i) {
    if (random() % 4 == 0) entries.push_back(entries[i]);
  }
  std::shuffle(entries.begin(), entries.end(), random);
  return entries;
}

// All arrival orders of a history side by side, in three batches, so that late facts meet facts
// that are stored and facts that are only decided.
using Batches = std::array<std::vector<v1::Entry>, 3>;
Batches ArrivalsOf(int history) {
  const std::vector<v1::Entry> first =
      RandomHistory(static_cast<uint64_t>(history), Prefix(history, 0));
  Batches batches;
  for (int order = 0; order < kOrders; ++order) {
    std::vector<v1::Entry> arrival = Arrival(first, history, order);
    for (size_t i = 0; i < arrival.size(); ++i) {
      batches[i * batches.size() / arrival.size()].push_back(std::move(arrival[i]));
    }
  }
  return batches;
}

// What the depot says of each arrival order.
std::vector<std::string> PicturesOf(LedgerDepot& depot, int history, const Batches& batches) {
  for (const std::vector<v1::Entry>& batch : batches) {
    for (const auto& outcome : depot.RecordBatch(batch)) {
      EXPECT_TRUE(outcome.ok()) << outcome.status();
    }
  }
  std::vector<std::string> out;
  for (int order = 0; order < kOrders; ++order) {
    out.push_back(Picture(depot, history, order, AsBytes));
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
  int questions = 0;
  for (int history = FirstHistory(); history < FirstHistory() + Histories(); ++history) {
    const Batches batches = ArrivalsOf(history);
    std::map<std::string, std::future<std::vector<std::string>>> running;
    for (auto& [engine, depot] : depots) {
      running[engine] =
          std::async(std::launch::async, PicturesOf, std::ref(*depot), history, std::cref(batches));
    }
    std::string expected;
    for (auto& [engine, future] : running) {
      const std::vector<std::string> pictures = future.get();
      ASSERT_EQ(pictures.size(), size_t{kOrders});
      if (expected.empty()) expected = pictures[0];
      for (int order = 0; order < kOrders; ++order) {
        if (pictures[static_cast<size_t>(order)] == expected) continue;
        FAIL() << "history " << history << ", " << engine << ", arrival " << order << " gives\n"
               << Picture(*depots[engine], history, order, AsText) << "\nand the first arrival\n"
               << Picture(*depots.begin()->second, history, 0, AsText);
      }
    }
    ASSERT_FALSE(expected.empty());
    const std::string text = Picture(*depots.begin()->second, history, 0, AsText);
    if (text.find("questions") != std::string::npos) ++questions;
  }
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
