#include "core/exchange/hl7.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <random>

namespace ferrule::exchange {
namespace {

// Constructed, synthetic; segments as an integrator would send them.
constexpr char kOrder[] =
    "MSH|^~\\&|EHR|CLINIC|DEPOT|DEPOT|20260301101500-0500||OMG^O19^OMG_O19|MSG00001|P|2.5.1\r"
    "PID|1||PT0001^^^CLINIC^MR||TEST^PATIENT^Q||19580214|F\r"
    "ORC|NW|ORD1001^EHR\r"
    "OBR|1|ORD1001^EHR||E0935^CPM device knee only^HCPCS\r";

TEST(Hl7Parse, CountsMshFieldsFromTheSeparatorItself) {
  const auto message = ParseHl7(kOrder);
  ASSERT_TRUE(message.ok());
  EXPECT_EQ(message->msh().Get(1), "|");
  EXPECT_EQ(message->msh().Get(2), "^~\\&");
  EXPECT_EQ(message->msh().Get(3), "EHR");
  EXPECT_EQ(message->msh().Get(9, 3), "OMG_O19");
  EXPECT_EQ(message->msh().Get(12), "2.5.1");
  EXPECT_EQ(message->Find("OBR")->Get(4, 3), "HCPCS");
  EXPECT_EQ(message->Find("PID")->Get(3, 5), "MR");
  EXPECT_EQ(message->Find("ZZZ"), nullptr);
  EXPECT_EQ(message->msh().Get(99), "");
}

TEST(Hl7Parse, TakesTheDelimitersThatTheMessageNames) {
  const auto message = ParseHl7("MSH#*!+$#EHR#CLINIC\rPID#1##A*B!C*D#x$y\r");
  ASSERT_TRUE(message.ok()) << message.status();
  EXPECT_EQ(message->delimiters.field, '#');
  EXPECT_EQ(message->Find("PID")->Get(3, 2), "B");
  EXPECT_EQ(message->Find("PID")->Get(3, 2, 2), "D");
  EXPECT_EQ(message->Find("PID")->Field(4)[0][0][1], "y");
}

TEST(Hl7Parse, BlanksAtAValuesEndAreNoPartOfIt) {
  const std::string text = "MSH|^~\\&|EHR  |CLINIC\rORC|NW |N1   ^EHR |  N 2 |   \r";
  const auto message = ParseHl7(text);
  ASSERT_TRUE(message.ok()) << message.status();
  EXPECT_EQ(message->msh().Get(3), "EHR");
  EXPECT_EQ(message->Find("ORC")->Get(1), "NW");
  EXPECT_EQ(message->Find("ORC")->Get(2), "N1");
  EXPECT_EQ(message->Find("ORC")->Get(2, 2), "EHR");
  EXPECT_EQ(message->Find("ORC")->Get(3), "  N 2");
  EXPECT_EQ(message->Find("ORC")->Get(4), "");
  EXPECT_EQ(ComposeHl7(*message), text);
}

TEST(Hl7Parse, TakesLineFeedsAndEmptyLines) {
  for (const char* end : {"\r", "\n", "\r\n", "\r\r\n"}) {
    const auto message = ParseHl7(std::string("MSH|^~\\&|A") + end + "PID|1" + end + end + "PV1|1");
    ASSERT_TRUE(message.ok());
    EXPECT_EQ(message->segments.size(), 3u);
  }
}

TEST(Hl7Parse, RefusesWhatIsNoMessage) {
  for (const char* bad :
       {"", "M", "MSH", "MSH|", "PID|1||X", "MSH|^", "MSH||||||", "MSH|^^\\&|A", "MSHA^~\\&A",
        "MSH|^~\\&|A\rpid|1", "MSH|^~\\&|A\rTOOLONG|1", "\x0bMSH|^~\\&|A"}) {
    EXPECT_FALSE(ParseHl7(bad).ok()) << bad;
  }
}

TEST(Hl7Parse, RefusesMoreSegmentsThanAreTaken) {
  std::string text = "MSH|^~\\&|A\r";
  for (size_t i = 0; i < kMaxHl7Segments; ++i) text += "NTE|1\r";
  EXPECT_FALSE(ParseHl7(text).ok());
}

TEST(Hl7Parse, RefusesAMessageOfNothingButSeparators) {
  std::string text = "MSH|^~\\&|A\rNTE|";
  text.append(kMaxHl7Parts - 10, '~');
  EXPECT_TRUE(ParseHl7(text).ok());
  text.append(10, '^');
  EXPECT_FALSE(ParseHl7(text).ok());
}

// Published pair: python3-hl7 0.4.5, util.py.
TEST(Hl7Escape, AsTheOutsideReaderDoesIt) {
  const Delimiters d;
  EXPECT_EQ(EscapeHl7("a|b^c~d\\e&f\r", d), "a\\F\\b\\S\\c\\R\\d\\E\\e\\T\\f\\.br\\");
  EXPECT_EQ(UnescapeHl7("\\F\\\\S\\\\R\\\\E\\\\T\\\\X41\\", d), "|^~\\&A");
}

TEST(Hl7Escape, KeepsWhatMeansNothingHere) {
  const Delimiters d;
  for (const char* text :
       {"\\H\\bold\\N\\", "\\Zlocal\\", "\\", "a\\b", "\\X4\\", "\\XZZ\\", "\\.sp3\\", "\\q\\"}) {
    EXPECT_EQ(UnescapeHl7(text, d), text);
  }
}

TEST(Hl7Escape, WithoutAnEscapeSignLosesOnlyDelimiters) {
  Delimiters d;
  d.escape = d.subcomponent = 0;
  EXPECT_EQ(EscapeHl7("a|b", d), "a b");
  EXPECT_EQ(UnescapeHl7("a\\F\\b", d), "a\\F\\b");
}

TEST(Hl7Compose, GivesTheSameMessageBack) {
  const auto message = ParseHl7(kOrder);
  ASSERT_TRUE(message.ok());
  EXPECT_EQ(ComposeHl7(*message), kOrder);
}

// Any text in any field, with any delimiters, comes back.
TEST(Hl7Compose, AnyTextComesBack) {
  std::mt19937 random(20260301);
  for (int round = 0; round < 2000; ++round) {
    Hl7Message message;
    if (round % 3 == 1) message.delimiters = {'#', '*', '!', '+', '$'};
    if (round % 3 == 2) message.delimiters = {'|', '.', '~', '\\', '&'};
    Hl7Segment msh("MSH", {});
    msh.Set(1, std::string(1, message.delimiters.field));
    msh.Set(2, message.delimiters.Encoding());
    Hl7Segment zzz("ZZZ", {});
    std::string texts[4];
    for (size_t i = 0; i < 4; ++i) {
      for (int n = int(random() % 12); n > 0; --n) texts[i] += static_cast<char>(random() % 256);
      texts[i] += 'x';
      zzz.Set(1 + i / 2, texts[i], 1 + i % 2);
    }
    message.segments = {msh, zzz};
    const auto again = ParseHl7(ComposeHl7(message));
    ASSERT_TRUE(again.ok());
    for (size_t i = 0; i < 4; ++i) {
      EXPECT_EQ(again->segments[1].Get(1 + i / 2, 1 + i % 2), texts[i]);
    }
  }
}

}  // namespace
}  // namespace ferrule::exchange
