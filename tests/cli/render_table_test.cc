#include "cli/render_table.h"

#include "gtest/gtest.h"

namespace ferrule::cli {
namespace {

TEST(Table, AlignsWordsLeftAndNumbersRight) {
  Table table({{"unit"}, {"turn_count", true}, {"place"}});
  table.Add({"K-1", "7", "north-shelf"});
  table.Add({"K-1042", "12", "dock"});
  EXPECT_EQ(table.Text(),
            "UNIT    TURN  PLACE\n"
            "K-1        7  north-shelf\n"
            "K-1042    12  dock\n");
}

TEST(Table, LeavesOutColumnsThatAreEmptyInText) {
  Table table({{"unit"}, {"order"}, {"place"}});
  table.Add({"K-1", "", "dock"});
  EXPECT_EQ(table.Text(), "UNIT  PLACE\nK-1   dock\n");
  EXPECT_EQ(table.Csv(), "unit,order,place\r\nK-1,,dock\r\n");
}

TEST(Table, CountsLettersAndNotBytes) {
  Table table({{"name"}, {"n", true}});
  table.Add({"Zoë", "1"});
  table.Add({"abcd", "2"});
  EXPECT_EQ(table.Text(), "NAME  N\nZoë   1\nabcd  2\n");
}

// RFC 4180, section 2, rules 6 and 7: quotes around line breaks, commas and doubled quotes.
TEST(Table, QuotesCellsAsTheCsvStandardSays) {
  Table table({{"a"}, {"b"}});
  table.Add({"one, two", "say \"when\""});
  table.Add({"two\nlines", ""});
  EXPECT_EQ(table.Csv(), "a,b\r\n\"one, two\",\"say \"\"when\"\"\"\r\n\"two\nlines\",\r\n");
}

TEST(Table, KeepsFormulasOutOfSpreadsheets) {
  Table table({{"a"}, {"b"}, {"c"}, {"d"}, {"e"}});
  table.Add({"=1+2", "+cmd", "-cmd", "@sum", "\tx"});
  EXPECT_EQ(table.Csv(), "a,b,c,d,e\r\n'=1+2,'+cmd,'-cmd,'@sum,'\tx\r\n");
}

TEST(Table, LeavesNegativeNumbersAlone) {
  Table table({{"a"}, {"b"}});
  table.Add({"-3", "-0.5"});
  EXPECT_EQ(table.Csv(), "a,b\r\n-3,-0.5\r\n");
}

TEST(Table, SendsNoControlCharactersToATerminal) {
  Table table({{"a"}});
  table.Add({"x\x1b[2Jy\x07"});
  EXPECT_EQ(table.Text(), "A\nx?[2Jy?\n");
}

}  // namespace
}  // namespace ferrule::cli
