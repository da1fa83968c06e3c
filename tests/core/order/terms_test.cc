#include "core/order/terms.h"

#include <gtest/gtest.h>

#include <string>

#include "core/time/civil.h"
#include "tests/core/cover/spec.h"

namespace ferrule::order {
namespace {

struct Case {
  explicit Case(const std::string& line)
      : rental(testing::RentalOf("zone=Europe/Berlin " + line)), rules(rental.settings) {}
  const v1::CoverRule& rule() const { return rental.settings.payer_terms(0).rules(0); }
  Start start() const { return StartOf(rental.order, rule().readings(0), rules); }

  testing::Rental rental;
  depot::Rules rules;
};

TEST(Terms, FirstRuleThatFitsClassAndProcedureRules) {
  v1::Settings settings;
  v1::PayerTerms& payer = *settings.add_payer_terms();
  payer.set_id("p");
  payer.add_rules()->add_procedures("partial");
  payer.add_rules()->add_device_classes("knee");
  const depot::Rules rules(settings);
  const auto found = [&](const char* device_class, const char* code, const char* words) {
    v1::OrderState order;
    order.mutable_details()->set_device_class(device_class);
    order.mutable_details()->set_procedure_code(code);
    order.mutable_details()->set_procedure(words);
    const v1::CoverRule* rule = FindCoverRule(order, "p", rules);
    if (rule == nullptr) return -1;
    return rule->procedures_size() > 0 ? 0 : 1;
  };
  EXPECT_EQ(found("knee", "partial", ""), 0);
  EXPECT_EQ(found("knee", "", "partial"), 0);
  EXPECT_EQ(found("knee", "total", ""), 1);
  EXPECT_EQ(found("shoulder", "total", ""), -1);
  EXPECT_EQ(FindCoverRule(v1::OrderState(), "q", rules), nullptr);
}

TEST(Terms, PayerIsTheLastOneThatBegan) {
  const Case c("other=2026-05-20 reading=surgery:1:21 leg=K-1/2026-05-06T12:00/");
  EXPECT_EQ(PayerOn(c.rental.order, absl::CivilDay(2026, 5, 19)), "payer");
  EXPECT_EQ(PayerOn(c.rental.order, absl::CivilDay(2026, 5, 20)), "other");
  EXPECT_EQ(FirstPayer(c.rental.order), "payer");
}

TEST(Terms, CoverEndsByTheOrderOrElseByTheTerms) {
  Case c("surgery=2026-05-04 reading=surgery:1:21 reading=surgery:0:21");
  EXPECT_EQ(CoverEnd(c.rental.order, c.rules), absl::CivilDay(2026, 5, 24));
  *c.rental.order.mutable_details()->mutable_cover_end_date() =
      time::FromDay(absl::CivilDay(2026, 6, 1));
  EXPECT_EQ(CoverEnd(c.rental.order, c.rules), absl::CivilDay(2026, 6, 1));
  EXPECT_FALSE(CoverEnd(Case("reading=surgery:1:21").rental.order, c.rules).has_value());
  const Case unlimited("surgery=2026-05-04 reading=surgery:1:0");
  EXPECT_FALSE(CoverEnd(unlimited.rental.order, unlimited.rules).has_value());
}

TEST(Terms, CountThatIsStoppedHasNoEndWhileThePatientIsAway) {
  const Case away(
      "surgery=2026-05-04 away=stop stay=home:2026-05-06T10:00 "
      "stay=hospital:2026-05-10T10:00 reading=surgery:1:21");
  EXPECT_FALSE(CoverThrough(away.rental.order, away.rule(), away.rule().readings(0)).has_value());
  const Case back(
      "surgery=2026-05-04 away=stop stay=home:2026-05-06T10:00 "
      "stay=hospital:2026-05-10T10:00 stay=home:2026-05-15T10:00 reading=surgery:1:21");
  EXPECT_EQ(CoverThrough(back.rental.order, back.rule(), back.rule().readings(0)),
            absl::CivilDay(2026, 5, 29));
}

TEST(Terms, StartIsJudgedByDaysHoursOrWorkingDays) {
  const std::string base = "surgery=2026-05-01 surgery_at=2026-05-01T14:00 ";
  // Friday to Monday: three days, one working day.
  const std::string used = "use=started:2026-05-04T13:00 ";
  EXPECT_EQ(Case(base + used + "reading=surgery:1:21:surgery:days:3").start(), Start::kInTime);
  EXPECT_EQ(Case(base + used + "reading=surgery:1:21:surgery:days:2").start(), Start::kTooLate);
  EXPECT_EQ(Case(base + used + "reading=surgery:1:21:surgery:working:1").start(), Start::kInTime);
  EXPECT_EQ(Case(base + used + "reading=surgery:1:21:surgery:working:0").start(), Start::kTooLate);
  EXPECT_EQ(Case(base + used + "reading=surgery:1:21:surgery:hours:71").start(), Start::kInTime);
  EXPECT_EQ(Case(base + used + "reading=surgery:1:21:surgery:hours:70").start(), Start::kTooLate);
  EXPECT_EQ(Case(base + "reading=surgery:1:21:surgery:days:2").start(), Start::kUnknown);
  EXPECT_EQ(Case("surgery=2026-05-01 " + used + "reading=surgery:1:21:surgery:hours:70").start(),
            Start::kUnknown);
  EXPECT_EQ(Case(base + "reading=surgery:1:21").start(), Start::kInTime);
}

}  // namespace
}  // namespace ferrule::order
