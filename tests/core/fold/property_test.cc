// The order of arrival makes no difference to a fold, and applying facts one by one gives what
// folding them all gives. Many histories, no database.
#include <gtest/gtest.h>

#include <algorithm>
#include <map>
#include <random>
#include <set>
#include <string>
#include <vector>

#include "core/fact/subject.h"
#include "core/finding/catalog.h"
#include "core/fold/fold.h"
#include "tests/support/folded_depot.h"
#include "tests/support/random_history.h"

namespace ferrule::fold {
namespace {

using testing::kDayUs;
using testing::kStartUs;

constexpr int kHistories = 2'000;

depot::SettingsBook Book() {
  v1::SettingsState state;
  *state.add_versions() = testing::VersionFrom(kStartUs - kDayUs, testing::SmallSettings());
  return depot::SettingsBook(state);
}

using BySubject = std::map<std::string, std::vector<fact::FactView>>;

// Some facts lie after the ledger's clock.
BySubject ViewsOf(const std::vector<v1::Entry>& entries) {
  BySubject out;
  for (const v1::Entry& entry : entries) {
    for (int i = 0; i < entry.facts_size(); ++i) {
      const int64_t happened_us = time::ToMicros(entry.facts(i).happened_time());
      for (const std::string& name : fact::SubjectsOf(entry.facts(i))) {
        out[name].push_back({&entry, i, happened_us, kStartUs + 7 * kDayUs, 1});
      }
    }
  }
  return out;
}

// Every fact, some more than once, in a random order.
std::vector<fact::FactView> Shuffled(std::vector<fact::FactView> facts, std::mt19937_64* random) {
  const size_t count = facts.size();
  for (size_t i = 0; i < count; ++i) {
    if ((*random)() % 3 == 0) facts.push_back(facts[i]);
  }
  std::shuffle(facts.begin(), facts.end(), *random);
  return facts;
}

TEST(FoldProperty, OrderAndRepetitionMakeNoDifference) {
  const depot::SettingsBook book = Book();
  int with_questions = 0;
  for (int history = 0; history < kHistories; ++history) {
    const auto entries = testing::RandomHistory(static_cast<uint64_t>(history), "h-");
    std::mt19937_64 random(static_cast<uint64_t>(history));
    for (const auto& [name, facts] : ViewsOf(entries)) {
      const v1::SubjectState expected = Fold(name, facts, book);
      if (expected.questions_size() > 0) ++with_questions;
      for (int order = 0; order < 5; ++order) {
        const v1::SubjectState state = Fold(name, Shuffled(facts, &random), book);
        ASSERT_EQ(state.SerializeAsString(), expected.SerializeAsString())
            << "history " << history << ", " << name << "\n"
            << state.DebugString() << "instead of\n"
            << expected.DebugString();
      }
    }
  }
  EXPECT_GT(with_questions, kHistories) << "the histories are too tame to show anything";
}

TEST(FoldProperty, ApplyingFactByFactGivesTheFoldOfThoseKnown) {
  const depot::SettingsBook book = Book();
  int applied = 0;
  int folded_again = 0;
  for (int history = 0; history < kHistories; ++history) {
    const auto entries = testing::RandomHistory(static_cast<uint64_t>(history), "h-");
    std::mt19937_64 random(static_cast<uint64_t>(history));
    for (auto& [name, arrival] : ViewsOf(entries)) {
      // Mostly in true time, with some facts late: both ways are taken often.
      std::sort(arrival.begin(), arrival.end(), fact::Before);
      for (size_t i = 1; i < arrival.size(); ++i) {
        if (random() % 4 == 0) std::swap(arrival[i], arrival[random() % i]);
      }
      v1::SubjectState state = Empty(name);
      std::vector<fact::FactView> known;
      for (const fact::FactView& view : arrival) {
        known.push_back(view);
        const v1::SubjectState expected = Fold(name, known, book);
        if (InOrder(view, state)) {
          const int before = state.questions_size();
          const int raised = Apply(view, book, &state);
          ++applied;
          if (!view.fact().has_question_answered()) {
            ASSERT_EQ(state.questions_size(), before + raised);
          }
        } else {
          state = expected;
          ++folded_again;
        }
        ASSERT_EQ(state.SerializeAsString(), expected.SerializeAsString())
            << "history " << history << ", " << name << "\n"
            << state.DebugString() << "instead of\n"
            << expected.DebugString();
      }
    }
  }
  EXPECT_GT(applied, kHistories * 10);
  EXPECT_GT(folded_again, kHistories * 5);
}

// A key of the words that no fold ever fills is a particular that nobody reads: the name of the
// missing paper, say. Rules that few of these histories break are left out.
TEST(FoldProperty, WhatTheWordsAskForIsGiven) {
  const depot::SettingsBook book = Book();
  const std::set<std::string> from_elsewhere = {"subject",   "time",       "newer.when",
                                                "newer.who", "older.when", "older.who"};
  std::map<v1::Reason, std::set<std::string>> given;
  std::map<v1::Reason, int> times;
  for (int history = 0; history < kHistories; ++history) {
    const auto entries = testing::RandomHistory(static_cast<uint64_t>(history), "h-");
    for (const auto& [name, facts] : ViewsOf(entries)) {
      const std::string kind = name.substr(0, name.find('/') - 1);  // "unit" of "units/K-1"
      const v1::SubjectState state = Fold(name, facts, book);
      for (const v1::Finding& question : state.questions()) {
        given[question.reason()].insert(kind);
        ++times[question.reason()];
        for (const v1::FindingValue& value : question.values()) {
          if (!value.value().empty()) given[question.reason()].insert(value.key());
        }
      }
    }
  }
  std::set<std::string> lost;
  int looked_at = 0;
  for (const auto& [reason, keys] : given) {
    if (times[reason] < 10) continue;
    ++looked_at;
    for (std::string_view key : finding::KeysOf(reason)) {
      const std::string wanted(key);
      if (from_elsewhere.contains(wanted) || keys.contains(wanted)) continue;
      lost.insert(v1::Reason_Name(reason) + " " + wanted);
    }
  }
  EXPECT_EQ(lost, std::set<std::string>());
  EXPECT_GT(looked_at, 35);
}

}  // namespace
}  // namespace ferrule::fold
