#include "cli/values.h"

#include "cli/render_findings.h"
#include "cli/render_words.h"
#include "ferrule/v1/facts.pb.h"
#include "gmock/gmock.h"
#include "gtest/gtest.h"

namespace ferrule::cli {
namespace {

using ::testing::HasSubstr;

TEST(Values, ReadHoursAsSeconds) {
  EXPECT_EQ(ParseHours("1234.5").value(), 4'444'200);
  EXPECT_EQ(ParseHours("0.1").value(), 360);
  EXPECT_EQ(ParseHours("0").value(), 0);
  EXPECT_EQ(ParseHours("-1").value(), -3600);  // whether that can be is the service's question
  for (const char* text : {"", "12h", "1,5", "1e3", "nan", "inf", "1.2.3", "0x10", " 1"}) {
    EXPECT_FALSE(ParseHours(text).ok()) << text;
  }
}

TEST(Values, ShowHoursWithOneDecimal) {
  EXPECT_EQ(Hours(4'444'200), "1234.5");
  EXPECT_EQ(Hours(0), "0.0");
  EXPECT_EQ(Hours(179), "0.0");
  EXPECT_EQ(Hours(180), "0.1");
  EXPECT_EQ(Hours(-360), "-0.1");
  for (int64_t tenths = 0; tenths < 20'000; tenths += 7) {
    EXPECT_EQ(ParseHours(Hours(tenths * 360)).value(), tenths * 360);
  }
}

TEST(Values, ReadMoneyToTheHundredth) {
  EXPECT_EQ(ParseMinor("1234.56").value(), 123'456);
  EXPECT_EQ(ParseMinor("0.29").value(), 29);  // 0.29 is no binary fraction
  EXPECT_EQ(ParseMinor("5").value(), 500);
  EXPECT_FALSE(ParseMinor("1.234").ok());
  EXPECT_FALSE(ParseMinor("USD 5").ok());
}

TEST(Values, ReadPairs) {
  EXPECT_EQ(ParsePair("pad-set=L5").value(),
            std::make_pair(std::string("pad-set"), std::string("L5")));
  EXPECT_EQ(ParsePair("a=b=c").value().second, "b=c");
  for (const char* text : {"", "a", "=b", "a="}) EXPECT_FALSE(ParsePair(text).ok()) << text;
}

TEST(Values, ReadEnumsByTheirWords) {
  EXPECT_EQ(ParseEnum(v1::Side_descriptor(), "left").value(), v1::SIDE_LEFT);
  EXPECT_EQ(ParseEnum(v1::HoldKind_descriptor(), "tester-doubt").value(),
            v1::HOLD_KIND_TESTER_DOUBT);
  EXPECT_EQ(ParseEnum(v1::HoldKind_descriptor(), "tester doubt").value(),
            v1::HOLD_KIND_TESTER_DOUBT);
  const auto wrong = ParseEnum(v1::Side_descriptor(), "lift");
  EXPECT_THAT(std::string(wrong.status().message()), HasSubstr("none of left, right, either"));
  EXPECT_THAT(std::string(wrong.status().message()), HasSubstr("did you mean left?"));
  EXPECT_FALSE(ParseEnum(v1::Side_descriptor(), "unspecified").ok());
}

TEST(Words, NameEveryEnumValueAndOtherForUnknownOnes) {
  EXPECT_EQ(Word(v1::SIDE_LEFT), "left");
  EXPECT_EQ(Word(v1::SIDE_UNSPECIFIED), "");
  EXPECT_EQ(Word(v1::HOLD_KIND_TESTER_DOUBT), "tester doubt");
  EXPECT_EQ(Word(static_cast<v1::Side>(99)), "other");
}

TEST(Words, RulesReadBackAsTheyAreShown) {
  const auto* reasons = v1::Reason_descriptor();
  for (int i = 0; i < reasons->value_count(); ++i) {
    const auto reason = static_cast<v1::Reason>(reasons->value(i)->number());
    EXPECT_EQ(RuleOf(RuleWord(reason)), reason);
  }
  EXPECT_EQ(RuleOf("REASON_KIT_MISSING"), v1::REASON_KIT_MISSING);
  EXPECT_EQ(RuleOf("KIT_MISSING"), v1::REASON_KIT_MISSING);
  EXPECT_EQ(RuleOf("kit-missing"), v1::REASON_KIT_MISSING);
  EXPECT_EQ(RuleOf("kit"), v1::REASON_UNSPECIFIED);
}

TEST(Words, MotionSaysOnlyWhatIsGiven) {
  v1::Motion motion;
  EXPECT_EQ(MotionWords(motion), "");
  motion.set_extension_deg(-5);
  motion.set_flexion_deg(90);
  motion.set_daily_use_s(21'600);
  EXPECT_EQ(MotionWords(motion), "extension -5 deg, flexion 90 deg, 6.0 h a day");
}

}  // namespace
}  // namespace ferrule::cli
