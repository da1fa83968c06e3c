#include "core/exchange/csv.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <random>

namespace ferrule::exchange {
namespace {

using ::testing::ElementsAre;
using ::testing::SizeIs;

std::vector<std::vector<std::string>> Fields(std::string_view text, char delimiter = ',') {
  std::vector<std::vector<std::string>> out;
  for (CsvRecord& record : CsvReader(delimiter).Feed(text, true)) {
    EXPECT_EQ(record.wrong, "");
    out.push_back(record.fields);
  }
  return out;
}

// The examples of RFC 4180, section 2.
TEST(Csv, ReadsTheExamplesOfTheRfc) {
  EXPECT_THAT(Fields("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n"),
              ElementsAre(ElementsAre("aaa", "bbb", "ccc"), ElementsAre("zzz", "yyy", "xxx")));
  EXPECT_EQ(Fields("aaa,bbb,ccc\r\nzzz,yyy,xxx"), Fields("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n"));
  EXPECT_THAT(Fields("\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx"),
              ElementsAre(ElementsAre("aaa", "b\r\nbb", "ccc"), ElementsAre("zzz", "yyy", "xxx")));
  EXPECT_THAT(Fields("\"aaa\",\"b\"\"bb\",\"ccc\""),
              ElementsAre(ElementsAre("aaa", "b\"bb", "ccc")));
}

TEST(Csv, KeepsBlanksAndEmptyFields) {
  EXPECT_THAT(Fields(" a ,,\n"), ElementsAre(ElementsAre(" a ", "", "")));
  EXPECT_THAT(Fields("\n\na\n\n"), ElementsAre(ElementsAre("a")));
  EXPECT_THAT(Fields("a;b", ';'), ElementsAre(ElementsAre("a", "b")));
}

TEST(Csv, AQuoteInsideOfAnUnquotedFieldStandsForItself) {
  EXPECT_THAT(Fields("6\" strap,37'36.8\"N 121\"W,a\"\r\nb,c,d"),
              ElementsAre(ElementsAre("6\" strap", "37'36.8\"N 121\"W", "a\""),
                          ElementsAre("b", "c", "d")));
}

TEST(Csv, TheMarkOfUtf8IsNoPartOfTheHeader) {
  EXPECT_EQ(WithoutMark("\xEF\xBB\xBF\"a\",b"), "\"a\",b");
  EXPECT_EQ(WithoutMark("a,b"), "a,b");
  EXPECT_EQ(WithoutMark("\xEF\xBB"), "\xEF\xBB");
}

TEST(Csv, SaysWhatBreaksTheRfcAndGoesOnWithTheNextLine) {
  const auto records =
      CsvReader().Feed("a, \"b,c\",d\nok,1\n\"x\"y,2\nok,3\n\"never closed\n", true);
  ASSERT_THAT(records, SizeIs(5));
  EXPECT_NE(records[0].wrong, "");
  EXPECT_EQ(records[1].wrong, "");
  EXPECT_NE(records[2].wrong, "");
  EXPECT_EQ(records[3].wrong, "");
  EXPECT_NE(records[4].wrong, "");
}

TEST(Csv, KnowsLinesAndOffsetsWhereverItIsCut) {
  const std::string text = "h1,h2\r\n\"a\nb\",2\r\n\r\nc,3\nd,4";
  for (size_t cut = 0; cut <= text.size(); ++cut) {
    CsvReader reader;
    std::vector<CsvRecord> records = reader.Feed(std::string_view(text).substr(0, cut), false);
    for (CsvRecord& more : reader.Feed(std::string_view(text).substr(cut), true)) {
      records.push_back(std::move(more));
    }
    ASSERT_THAT(records, SizeIs(4));
    EXPECT_EQ(records[1].line, 2);
    EXPECT_EQ(records[2].line, 5);
    EXPECT_EQ(records[3].line, 6);
    for (const CsvRecord& record : records) {
      EXPECT_EQ(text.compare(static_cast<size_t>(record.offset), record.fields[0].size(),
                             record.fields[0]) == 0,
                record.line != 2);
    }
    EXPECT_EQ(records[3].end, static_cast<int64_t>(text.size()));
  }
}

TEST(Csv, AnUnclosedQuoteDoesNotEatTheFile) {
  std::string text = "\"";
  text.append(CsvReader::kMostRecordBytes + 10, 'x');
  text += "\nok,1\n";
  const auto records = CsvReader().Feed(text, true);
  ASSERT_THAT(records, SizeIs(2));
  EXPECT_NE(records[0].wrong, "");
  EXPECT_THAT(records[1].fields, ElementsAre("ok", "1"));
}

TEST(Csv, AnyFieldComesBack) {
  std::mt19937 random(4180);
  for (int round = 0; round < 500; ++round) {
    std::vector<std::string> fields(1 + random() % 4);
    for (std::string& field : fields) {
      for (int n = int(random() % 8); n > 0; --n) field += "a,\"\r\n ;"[random() % 7];
    }
    fields[0] += 'x';
    std::string text;
    for (const std::string& field : fields) {
      text += (text.empty() && &field == &fields[0] ? "" : ",") + QuoteCsv(field);
    }
    EXPECT_THAT(Fields(text + "\r\n"), ElementsAre(fields));
  }
}

}  // namespace
}  // namespace ferrule::exchange
