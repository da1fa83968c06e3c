#include "cli/page.h"

#include <limits>

#include "cli/plan_ask.h"
#include "gmock/gmock.h"
#include "gtest/gtest.h"

namespace ferrule::cli {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

TEST(Page, EscapesWhatPeopleWrote) {
  EXPECT_EQ(Escaped("a<b>&\"c\""), "a&lt;b&gt;&amp;&quot;c&quot;");
  Page page("<script>", "<b>");
  page.Heading("<i>");
  EXPECT_THAT(page.Html(), Not(HasSubstr("<script>")));
  EXPECT_THAT(page.Html(), Not(HasSubstr("<i>")));
}

TEST(Page, DrawsGapsAndNothingAtAll) {
  const double gap = std::numeric_limits<double>::quiet_NaN();
  Page page("t", "s");
  page.Add(Chart{"empty", "d", "u", {}, {}, {}, 0});
  page.Add(Chart{"gap",
                 "d",
                 "u",
                 {"1", "2", "3"},
                 {{"band", false, {gap, 1, 1}, {gap, 2, 2}}},
                 {{"line", ChartLine::Look::kMain, {1, gap, 2}}},
                 0});
  page.AddBars("bars", "d", {{"a", 0, "0"}, {"b", 2, "2"}});
  const std::string html = page.Html();
  EXPECT_THAT(html, Not(HasSubstr("nan")));
  EXPECT_THAT(html, HasSubstr("<title id=\"t2\">gap</title>"));
}

TEST(Page, TablesHaveTheCellsOfTheCsv) {
  Table table({{"name"}, {"n", true}});
  table.Add({"with, comma and \"quote\"", "3"});
  Page page("t", "s");
  page.Add("numbers", table);
  EXPECT_THAT(page.Html(), HasSubstr("<td>with, comma and &quot;quote&quot;</td><td>3</td>"));
  EXPECT_THAT(page.Html(), HasSubstr("<th scope=\"col\">name</th>"));
}

TEST(PlanWords, MoneyAndShares) {
  EXPECT_EQ(Money(123'456, "EUR"), "1234.56 EUR");
  EXPECT_EQ(Money(-5, ""), "-0.05");
  EXPECT_EQ(Percent(.0123), "1.2 %");
  EXPECT_EQ(Decimal(2.345, 2), "2.35");
}

}  // namespace
}  // namespace ferrule::cli
