#include "core/label/card.h"

#include "gmock/gmock.h"
#include "gtest/gtest.h"

namespace ferrule::label {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::Pair;

TEST(StationLine, ThatIsACard) {
  const auto line = ParseStationLine("  /product wipe-q lot=L9\r\n");
  ASSERT_TRUE(line.ok()) << line.status();
  EXPECT_EQ(line->kind, StationLine::Kind::kCard);
  EXPECT_EQ(line->card, Card::kProduct);
  EXPECT_THAT(line->words, ElementsAre("wipe-q", "lot=L9"));
}

TEST(StationLine, EveryCardHasItsUse) {
  for (const CardWord& card : Cards()) {
    EXPECT_EQ(card.use.substr(0, card.word.size() + 1), "/" + std::string(card.word));
    EXPECT_LE(card.least, card.most);
    std::string line = "/" + std::string(card.word);
    for (int i = 0; i < card.least; ++i) line += " x";
    ASSERT_TRUE(ParseStationLine(line).ok()) << line;
    EXPECT_EQ(ParseStationLine(line)->card, card.card);
  }
}

TEST(StationLine, ThatHoldsReadings) {
  const auto line = ParseStationLine("visual=yes earth-ohm=0.12");
  ASSERT_TRUE(line.ok()) << line.status();
  EXPECT_EQ(line->kind, StationLine::Kind::kReadings);
  EXPECT_THAT(line->readings, ElementsAre(Pair("visual", "yes"), Pair("earth-ohm", "0.12")));
}

TEST(StationLine, ThatIsAnythingElseIsAScan) {
  for (const char* text : {"K-0417", "]d2010950600013435221X=1", "(01)12345678901231(21)a=b",
                           "https://example.org/01/1?x=2", "+A123BJC5D6E71G"}) {
    const auto line = ParseStationLine(text);
    ASSERT_TRUE(line.ok()) << text;
    EXPECT_EQ(line->kind, StationLine::Kind::kScan) << text;
    EXPECT_EQ(line->scan, text);
  }
  EXPECT_EQ(ParseStationLine(" \r\n")->kind, StationLine::Kind::kNothing);
}

TEST(StationLine, ACardsWordWithoutItsSignMayHaveBeenMeant) {
  EXPECT_EQ(CardMeant("clean"), "/clean");
  EXPECT_EQ(CardMeant(" WET 12"), "/wet");
  EXPECT_EQ(CardMeant("quit"), "/end");
  EXPECT_EQ(CardMeant("?"), "/help");
  EXPECT_EQ(CardMeant("K-0417"), "");
  EXPECT_EQ(CardMeant(""), "");
}

TEST(StationLine, OutOfShapeIsRefusedInWords) {
  const auto words = [](const std::string& text) {
    return std::string(ParseStationLine(text).status().message());
  };
  EXPECT_THAT(words("/cleen"), HasSubstr("no card /cleen; there are /by, /clean"));
  EXPECT_THAT(words("/"), HasSubstr("there is no card /;"));
  EXPECT_THAT(words("/by"), HasSubstr("/by PERSON"));
  EXPECT_THAT(words("/wet 1 2"), HasSubstr("/wet MINUTES"));
  EXPECT_THAT(words("visual=yes stop"), HasSubstr("ITEM=VALUE"));
  EXPECT_THAT(words("visual="), HasSubstr("ITEM=VALUE"));
  EXPECT_THAT(words(std::string(513, 'K')), HasSubstr("run together"));
}

}  // namespace
}  // namespace ferrule::label
