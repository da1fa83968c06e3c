#include "core/papers/page.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace ferrule::papers {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

TEST(Page, EscapesEveryTextThatItIsGiven) {
  Page page("<b>T</b>", "a & b");
  page.Heading("<i>");
  page.Fields({{"\"n\"", "'v'"}});
  page.Table({"<th>"}, {{"<td>"}});
  page.Boxes({"<li>"});
  page.Paragraph("<script>alert(1)</script>");
  page.Caution({"<c>"});
  page.SignHere({"<s>"});
  const std::string html = page.Html();
  EXPECT_THAT(html, HasSubstr("&lt;script&gt;alert(1)&lt;/script&gt;"));
  for (const char* raw : {"<script", "<i>", "<b>", "<c>", "<s>", "\"n\"", "'v'", "a & b"}) {
    EXPECT_THAT(html, Not(HasSubstr(raw)));
  }
}

TEST(Page, NeedsNothingFromOutside) {
  Page page("T", "S");
  page.Paragraph("p");
  for (const char* outside : {"http", "<link", "<img", "src=", "@import", "url("}) {
    EXPECT_THAT(page.Html(), Not(HasSubstr(outside)));
  }
}

TEST(Page, LeavesALineForWhatIsNotKnownAndCellsToWriteIn) {
  Page page("T", "S");
  page.Fields({{"Name", ""}});
  page.Table({"a", "b"}, {{"x"}});
  EXPECT_THAT(page.Html(), HasSubstr("<dt>Name</dt><dd class=\"w\"></dd>"));
  EXPECT_THAT(page.Html(), HasSubstr("<td>x</td><td></td>"));
}

TEST(Page, DaysAreNotBrokenAndHeadsStandOnEveryPage) {
  Page page("T", "S");
  page.Table({"since", "what"}, {{"2026-03-20", "ring"}});
  EXPECT_THAT(page.Html(), HasSubstr("<td class=\"n\">2026-03-20</td><td>ring</td>"));
  EXPECT_THAT(page.Html(), HasSubstr("<thead><tr><th>since</th>"));
}

}  // namespace
}  // namespace ferrule::papers
