// Tests core/exchange/fhir_check.cc and core/exchange/fhir_table.cc.
#include "core/exchange/fhir_check.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "core/exchange/fhir_table.h"

namespace ferrule::exchange {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

Json Use() {
  return Json::parse(R"({"resourceType":"DeviceUseStatement","id":"u1","status":"active",
    "subject":{"reference":"Patient/p1"},"device":{"reference":"Device/d1"},
    "timingPeriod":{"start":"2026-03-03","end":"2026-03-23T10:00:00-05:00"}})");
}
std::vector<std::string> Wrong(const Json& json) {
  std::vector<std::string> out;
  for (const v1::Trouble& t : CheckFhir(json, "R")) out.push_back(t.where());
  return out;
}

TEST(Fhir, TakesAResourceAsItShouldBe) { EXPECT_THAT(Wrong(Use()), IsEmpty()); }

TEST(Fhir, NamesWhatIsMissingTooManyOrUnknown) {
  Json json = Use();
  json.erase("subject");
  EXPECT_THAT(Wrong(json), ElementsAre("R.subject"));
  json = Use();
  json["colour"] = "red";
  EXPECT_THAT(Wrong(json), ElementsAre("R.colour"));
  json = Use();
  json["device"] = Json::array({json["device"]});
  EXPECT_THAT(Wrong(json), ElementsAre("R.device"));
  json = Use();
  json["status"] = "rented";
  EXPECT_THAT(Wrong(json), ElementsAre("R.status"));
  json = Use();
  json["device"]["reference"] = "Patient/p1";
  EXPECT_THAT(Wrong(json), ElementsAre("R.device"));
}

// What both outside validators let pass.
TEST(Fhir, TakesOneOfAChoiceAndDaysOfTheCalendar) {
  Json json = Use();
  json["timingDateTime"] = "2026-03-03";
  EXPECT_THAT(Wrong(json), ElementsAre("R.timing[x]"));
  for (const char* bad :
       {"2026-02-30", "2026-04-31", "2026-13-01", "2026-3-1", "2026-03-01T10:00:00",
        "2026-03-01T25:00:00Z", "2026-03-01T10:00:00+15:00", ""}) {
    json = Use();
    json["timingPeriod"]["start"] = bad;
    EXPECT_THAT(Wrong(json), ElementsAre("R.timingPeriod.start")) << bad;
  }
  for (const char* good : {"2026", "2026-03", "2028-02-29", "2026-03-01T23:59:60Z",
                           "2013-05-08T09:33:27+07:00", "2026-03-01T10:00:00.123+14:00"}) {
    json = Use();
    json["timingPeriod"]["start"] = good;
    EXPECT_THAT(Wrong(json), IsEmpty()) << good;
  }
}

TEST(Fhir, TakesExtensionsOfPrimitivesAndContainedResources) {
  Json json = Use();
  json["_status"] = Json::parse(R"({"extension":[{"url":"http://example.org/x"}]})");
  json["contained"] = Json::parse(R"([{"resourceType":"Device","id":"d1"}])");
  json["device"]["reference"] = "#d1";
  EXPECT_THAT(Wrong(json), IsEmpty());
}

TEST(Fhir, RefusesJsonThatIsTooDeepOrNone) {
  std::string deep;
  for (int i = 0; i < 100'000; ++i) deep += "[";
  EXPECT_TRUE(ParseJson(deep).is_discarded());
  EXPECT_TRUE(ParseJson("{\"a\":1").is_discarded());
  EXPECT_TRUE(ParseJson("\xff").is_discarded());
  EXPECT_FALSE(CheckFhir(Json(7), "R").empty());
  EXPECT_FALSE(CheckFhir(Json::parse(R"({"resourceType":7})"), "R").empty());
}

TEST(FhirTable, HasTheRequiredElementsOfTheTenTypes) {
  std::vector<std::string> required;
  for (const FhirElement& e : FhirElements()) {
    if (e.min == 1 && e.path.starts_with("DeviceRequest.") &&
        e.path.find('.', 14) == std::string_view::npos) {
      required.emplace_back(e.path);
    }
  }
  EXPECT_THAT(required, ElementsAre("DeviceRequest.intent", "DeviceRequest.code[x]",
                                    "DeviceRequest.subject"));
}

}  // namespace
}  // namespace ferrule::exchange
