#include "core/fact/timed_id.h"

#include <gtest/gtest.h>

#include <string>

namespace ferrule::fact {
namespace {

// RFC 9562, appendix A.6: made at 2022-02-22 14:22:22.00-05:00, with 0xCC3 and 0x18C4DC0C0C07398F
// for chance.
constexpr char kExample[] = "017F22E2-79B0-7CC3-98C4-DC0C0C07398F";
constexpr int64_t kExampleMs = 1'645'557'742'000;

TEST(TimedId, TheExampleOfTheStandardIsReadAndMade) {
  EXPECT_EQ(MadeMs(kExample), kExampleMs);
  EXPECT_EQ(TimedId(kExampleMs, {0x0C, 0xC3, 0x18, 0xC4, 0xDC, 0x0C, 0x0C, 0x07, 0x39, 0x8F}),
            "017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
}

TEST(TimedId, EitherCaseCountsAndSoDoesWhatFollowsAHyphen) {
  for (const char* id :
       {"017f22e2-79b0-7cc3-98c4-dc0c0c07398f", "017F22e2-79B0-7cC3-98c4-Dc0c0c07398F",
        "017F22E2-79B0-7CC3-98C4-DC0C0C07398F-12"}) {
    EXPECT_EQ(MadeMs(id), kExampleMs) << id;
  }
}

TEST(TimedId, WhatIsNoSuchUuidHasNoTime) {
  for (const char* id : {
           "",
           "entry-1",
           "919108F7-52D1-4320-9BAC-F847DB4148A8",  // version 4, RFC 9562 A.3
           "1EC9414C-232A-6B00-B3C8-9F6BDECED846",  // version 6, RFC 9562 A.5
           "017F22E2-79B0-7CC3-18C4-DC0C0C07398F",  // variants of other kinds
           "017F22E2-79B0-7CC3-C8C4-DC0C0C07398F",
           "017F22E279B07CC398C4DC0C0C07398F",       // without hyphens
           "017F22E2-79B0-7CC3-98C4DC0C0C07398F-",   // hyphens elsewhere
           "017F22E2-79B0-7CC3-98C4-DC0C0C07398",    // a digit short
           "017F22E2-79B0-7CC3-98C4-DC0C0C07398F0",  // and one more
           "017F22E2-79B0-7CC3-98C4-DC0C0C07398G",
           "-17F22E2-79B0-7CC3-98C4-DC0C0C07398F",
           "{017F22E2-79B0-7CC3-98C4-DC0C0C07398F}",
       }) {
    EXPECT_EQ(MadeMs(id), std::nullopt) << id;
  }
}

TEST(TimedId, EveryTimeComesBackAndChanceTouchesNeitherItNorTheForm) {
  std::string last;
  for (const int64_t ms :
       {int64_t{0}, int64_t{1}, kExampleMs, (int64_t{1} << 43) - 1, (int64_t{1} << 48) - 1}) {
    for (const int byte : {0x00, 0x55, 0xAA, 0xFF}) {
      std::array<uint8_t, 10> chance;
      chance.fill(static_cast<uint8_t>(byte));
      const std::string id = TimedId(ms, chance);
      EXPECT_EQ(MadeMs(id), ms) << id;
      EXPECT_GT(id, last);  // in the order of times, and here of chance
      last = id;
    }
  }
}

}  // namespace
}  // namespace ferrule::fact
