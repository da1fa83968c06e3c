#include "service/depot_methods.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "tests/service/served_depot.h"
#include "tests/support/entries.h"

namespace ferrule::service {
namespace {

using ferrule::testing::DetailsOf;
using ferrule::testing::EntryOf;
using ferrule::testing::kDayUs;
using ferrule::testing::kHourUs;
using ferrule::testing::kStartUs;
using ferrule::testing::ServedDepot;
using ferrule::testing::Transport;
using ::testing::HasSubstr;

class DepotMethods : public ::testing::Test {
 protected:
  DepotMethods() {
    Record(ferrule::testing::SettingsEntry());
    depot_.clock().Set(kStartUs + 30 * kDayUs);
    for (int i = 0; i < 7; ++i) {
      Record(ferrule::testing::ReceiveUnit(absl::StrCat("K-", i), kStartUs));
    }
    Record(ferrule::testing::MakeReady("ready", "K-1", kStartUs + kHourUs));
    Record(ferrule::testing::TakeOrder("R-1", kStartUs + 2 * kHourUs));
  }
  void Record(v1::Entry entry) {
    const auto receipt = depot_.host().ledger().RecordAndWait(std::move(entry));
    ASSERT_TRUE(receipt.ok()) << receipt.status();
  }
  std::unique_ptr<v1::DepotService::Stub> Stub(Transport transport = Transport::kTcp) {
    return v1::DepotService::NewStub(depot_.Channel(transport));
  }
  template <class Request, class Response>
  grpc::Status Call(v1::DepotService::Stub& stub,
                    grpc::Status (v1::DepotService::Stub::*method)(grpc::ClientContext*,
                                                                   const Request&, Response*),
                    const Request& request, Response* response) {
    grpc::ClientContext context;
    return (stub.*method)(&context, request, response);
  }

  ServedDepot depot_;
};

TEST_F(DepotMethods, EveryTransportGivesTheSameBytes) {
  std::vector<std::string> answers[3];
  const Transport transports[] = {Transport::kInProcess, Transport::kTcp, Transport::kSocket};
  for (int t = 0; t < 3; ++t) {
    const auto stub = Stub(transports[t]);
    const auto keep = [&](const grpc::Status& status, const auto& response) {
      answers[t].push_back(absl::StrCat(status.error_code(), status.error_message(),
                                        status.error_details(), response.SerializeAsString()));
    };
    for (const char* name : {"units/K-1", "units/K-2", "units/none", "K-1", "orders/R-1"}) {
      v1::GetUnitRequest get;
      get.set_name(name);
      v1::GetUnitResponse unit;
      keep(Call(*stub, &v1::DepotService::Stub::GetUnit, get, &unit), unit);
      v1::AssessUnitRequest assess;
      assess.set_name(name);
      v1::AssessUnitResponse assessed;
      keep(Call(*stub, &v1::DepotService::Stub::AssessUnit, assess, &assessed), assessed);
      v1::GetOrderRequest order;
      order.set_name(name);
      v1::GetOrderResponse ordered;
      keep(Call(*stub, &v1::DepotService::Stub::GetOrder, order, &ordered), ordered);
    }
    v1::GetBoardResponse board;
    keep(Call(*stub, &v1::DepotService::Stub::GetBoard, v1::GetBoardRequest(), &board), board);
    v1::ListUnitsResponse units;
    keep(Call(*stub, &v1::DepotService::Stub::ListUnits, v1::ListUnitsRequest(), &units), units);
    v1::GetSettingsResponse settings;
    keep(Call(*stub, &v1::DepotService::Stub::GetSettings, v1::GetSettingsRequest(), &settings),
         settings);
  }
  EXPECT_EQ(answers[0], answers[1]);
  EXPECT_EQ(answers[0], answers[2]);
}

TEST_F(DepotMethods, UnitAsKnownThenIsTheFoldOfWhatWasRecordedByThen) {
  depot_.clock().Set(kStartUs + 31 * kDayUs);
  Record(
      EntryOf("move", kStartUs + 3 * kHourUs, "unit_moved { unit: 'K-1' to_place: 'west-shelf' }"));
  const auto stub = Stub();
  v1::GetUnitRequest request;
  request.set_name("units/K-1");
  v1::GetUnitResponse now;
  ASSERT_TRUE(Call(*stub, &v1::DepotService::Stub::GetUnit, request, &now).ok());
  EXPECT_EQ(now.state().unit().place(), "west-shelf");
  time::SetMicros(kStartUs + 30 * kDayUs + kHourUs, request.mutable_known_time());
  v1::GetUnitResponse then;
  ASSERT_TRUE(Call(*stub, &v1::DepotService::Stub::GetUnit, request, &then).ok());
  EXPECT_EQ(then.state().unit().place(), "north-shelf");
}

TEST_F(DepotMethods, QuestionsLeaveInWords) {
  Record(ferrule::testing::HandOver("out", "K-2", "R-1", kStartUs + 3 * kHourUs,
                                    v1::ENTRY_MODE_OBSERVED));
  const auto stub = Stub();
  v1::GetUnitRequest request;
  request.set_name("units/K-2");
  v1::GetUnitResponse response;
  ASSERT_TRUE(Call(*stub, &v1::DepotService::Stub::GetUnit, request, &response).ok());
  ASSERT_GT(response.state().questions_size(), 0);
  for (const v1::Finding& question : response.state().questions()) {
    EXPECT_FALSE(question.text().empty());
    EXPECT_FALSE(question.remedy().empty());
  }
  // Words are for those who read, not for the record.
  const auto kept = depot_.host().ledger().Get("units/K-2");
  ASSERT_TRUE(kept.ok());
  EXPECT_EQ((*kept)->questions(0).text(), "");
}

TEST_F(DepotMethods, AssessmentGivesReasonsAndThePathToReady) {
  const auto stub = Stub();
  v1::AssessUnitRequest request;
  request.set_name("units/K-1");
  v1::AssessUnitResponse ready;
  ASSERT_TRUE(Call(*stub, &v1::DepotService::Stub::AssessUnit, request, &ready).ok());
  EXPECT_TRUE(ready.ready()) << ready.DebugString();
  request.set_name("units/K-2");
  v1::AssessUnitResponse soiled;
  ASSERT_TRUE(Call(*stub, &v1::DepotService::Stub::AssessUnit, request, &soiled).ok());
  EXPECT_FALSE(soiled.ready());
  EXPECT_GT(soiled.steps_size(), 0);
  ASSERT_GT(soiled.findings_size(), 0);
  EXPECT_FALSE(soiled.findings(0).text().empty());
}

TEST_F(DepotMethods, AssessmentForAnOrderLooksAtServiceUntilItsLastDayOfUse) {
  // K-1 was received on 2 March: with 52 days, its last day before service is 23 April. R-1 is for
  // 21 days. Going out on 3 April, its last day of use is that very day; on 4 April it is not.
  v1::Entry settings = ferrule::testing::SettingsEntry("settings-2");
  v1::Settings& version = *settings.mutable_facts(0)->mutable_settings_put()->mutable_settings();
  version.set_version("2");
  version.mutable_models(0)->set_service_plan("plan");
  v1::ServicePlan& plan = *version.add_service_plans();
  plan.set_id("plan");
  plan.set_interval_days(52);
  Record(settings);
  const auto stub = Stub();
  const auto assess = [&](const std::string& order, int day) {
    v1::AssessUnitRequest request;
    request.set_name("units/K-1");
    request.set_order(order);
    time::SetMicros(kStartUs + day * kDayUs, request.mutable_at_time());
    v1::AssessUnitResponse response;
    EXPECT_TRUE(Call(*stub, &v1::DepotService::Stub::AssessUnit, request, &response).ok());
    return response;
  };
  EXPECT_TRUE(assess("R-1", 32).ready()) << assess("R-1", 32).DebugString();
  const v1::AssessUnitResponse late = assess("R-1", 33);
  ASSERT_EQ(late.findings_size(), 1) << late.DebugString();
  EXPECT_EQ(late.findings(0).reason(), v1::REASON_SERVICE_DUE_BEFORE_RETURN);
  EXPECT_THAT(late.findings(0).text(), HasSubstr("2026-04-23"));
  EXPECT_EQ(late.steps(0), "do the planned service");
  EXPECT_TRUE(assess("", 33).ready()) << "for no order in particular";
}

TEST_F(DepotMethods, AssessmentForAnOrderCountsItsHoursOfUse) {
  v1::Entry settings = ferrule::testing::SettingsEntry("settings-2");
  v1::Settings& version = *settings.mutable_facts(0)->mutable_settings_put()->mutable_settings();
  version.set_version("2");
  version.mutable_models(0)->set_service_plan("plan");
  v1::ServicePlan& plan = *version.add_service_plans();
  plan.set_id("plan");
  plan.set_interval_hours(84);  // 21 days of 4 hours
  Record(settings);
  const auto stub = Stub();
  for (const int hours : {4, 5}) {
    const std::string order = absl::StrCat("H-", hours);
    v1::Entry taken = ferrule::testing::TakeOrder(order, kStartUs + 2 * kHourUs);
    taken.mutable_facts(0)
        ->mutable_order_taken()
        ->mutable_details()
        ->mutable_motion()
        ->set_daily_use_s(hours * 3600);
    Record(taken);
    v1::AssessUnitRequest request;
    request.set_name("units/K-1");
    request.set_order(order);
    time::SetMicros(kStartUs + 20 * kDayUs, request.mutable_at_time());
    v1::AssessUnitResponse response;
    ASSERT_TRUE(Call(*stub, &v1::DepotService::Stub::AssessUnit, request, &response).ok());
    EXPECT_EQ(response.ready(), hours == 4) << response.DebugString();
  }
}

TEST_F(DepotMethods, WrongNamesAreToldApart) {
  const auto stub = Stub();
  const auto get = [&](const std::string& name) {
    v1::GetUnitRequest request;
    request.set_name(name);
    v1::GetUnitResponse response;
    return Call(*stub, &v1::DepotService::Stub::GetUnit, request, &response);
  };
  const grpc::Status unknown = get("units/K-99");
  EXPECT_EQ(unknown.error_code(), grpc::StatusCode::NOT_FOUND);
  EXPECT_EQ(DetailsOf(unknown).info.reason(), "SUBJECT_UNKNOWN");
  EXPECT_EQ(DetailsOf(unknown).info.metadata().at("name"), "units/K-99");
  for (const char* name : {"K-1", "", "units/", "orders/R-1", "units/a b"}) {
    const grpc::Status status = get(name);
    EXPECT_EQ(status.error_code(), grpc::StatusCode::INVALID_ARGUMENT) << name;
    EXPECT_EQ(DetailsOf(status).bad_request.field_violations(0).field(), "name");
  }
}

TEST_F(DepotMethods, InstantOutsideTheCalendarIsRefused) {
  const auto stub = Stub();
  v1::GetUnitRequest request;
  request.set_name("units/K-1");
  request.mutable_known_time()->set_seconds(std::numeric_limits<int64_t>::max());
  v1::GetUnitResponse response;
  const grpc::Status status = Call(*stub, &v1::DepotService::Stub::GetUnit, request, &response);
  EXPECT_EQ(status.error_code(), grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_EQ(DetailsOf(status).bad_request.field_violations(0).field(), "known_time");
}

TEST_F(DepotMethods, UnitsAreFoundBySerialNumberAndByPlace) {
  const auto stub = Stub();
  const auto found = [&](const v1::ListUnitsRequest& request) {
    v1::ListUnitsResponse response;
    EXPECT_TRUE(Call(*stub, &v1::DepotService::Stub::ListUnits, request, &response).ok());
    std::vector<std::string> units;
    for (const v1::UnitRow& row : response.units()) units.push_back(row.unit());
    return units;
  };
  v1::ListUnitsRequest by_serial;
  by_serial.set_serial("S-K-3");
  EXPECT_EQ(found(by_serial), std::vector<std::string>{"K-3"});
  by_serial.set_branch("west");
  EXPECT_TRUE(found(by_serial).empty());

  v1::ListUnitsRequest by_place;
  by_place.set_place("north-dock");
  EXPECT_EQ(found(by_place), (std::vector<std::string>{"K-0", "K-2", "K-3", "K-4", "K-5", "K-6"}));
  by_place.set_serial("S-K-4");
  EXPECT_EQ(found(by_place), std::vector<std::string>{"K-4"});
  by_place.set_place("nowhere");
  EXPECT_TRUE(found(by_place).empty());
}

TEST_F(DepotMethods, PagesOfUnitsJoinUpAndTheTokenFitsItsArgumentsOnly) {
  const auto stub = Stub();
  v1::ListUnitsRequest request;
  request.set_branch("north");
  request.set_page_size(3);
  std::vector<std::string> seen;
  v1::ListUnitsResponse response;
  do {
    ASSERT_TRUE(Call(*stub, &v1::DepotService::Stub::ListUnits, request, &response).ok());
    for (const v1::UnitRow& row : response.units()) seen.push_back(row.unit());
    request.set_page_token(response.next_page_token());
    if (seen.size() == 3) request.set_page_size(2);  // another size is the same list
  } while (!response.next_page_token().empty());
  EXPECT_EQ(seen, (std::vector<std::string>{"K-0", "K-1", "K-2", "K-3", "K-4", "K-5", "K-6"}));

  request.set_page_token("");
  ASSERT_TRUE(Call(*stub, &v1::DepotService::Stub::ListUnits, request, &response).ok());
  request.set_page_token(response.next_page_token());
  request.set_branch("west");
  grpc::Status status = Call(*stub, &v1::DepotService::Stub::ListUnits, request, &response);
  EXPECT_EQ(status.error_code(), grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_EQ(DetailsOf(status).info.reason(), "PAGE_TOKEN_MISMATCH");
  for (const char* token : {"units/K-3", "%%%", "MTIzNDU2Nzg5MDEyMzQ1"}) {
    request.set_page_token(token);
    status = Call(*stub, &v1::DepotService::Stub::ListUnits, request, &response);
    EXPECT_EQ(status.error_code(), grpc::StatusCode::INVALID_ARGUMENT) << token;
  }
  request.clear_page_token();
  request.set_page_size(-1);
  status = Call(*stub, &v1::DepotService::Stub::ListUnits, request, &response);
  EXPECT_EQ(DetailsOf(status).bad_request.field_violations(0).field(), "page_size");
}

TEST_F(DepotMethods, HistoryPagesJoinUp) {
  const auto stub = Stub();
  v1::ListHistoryRequest request;
  request.set_name("units/K-1");
  request.set_page_size(2);
  std::vector<std::string> seen;
  v1::ListHistoryResponse response;
  do {
    const grpc::Status status =
        Call(*stub, &v1::DepotService::Stub::ListHistory, request, &response);
    ASSERT_TRUE(status.ok()) << status.error_message();
    for (const v1::HistoryRow& row : response.rows()) {
      seen.push_back(absl::StrCat(row.ref().entry_id(), ":", row.ref().index()));
    }
    request.set_page_token(response.next_page_token());
  } while (!response.next_page_token().empty());
  EXPECT_EQ(seen, (std::vector<std::string>{"receive-K-1:0", "ready:0", "ready:1", "ready:2",
                                            "ready:3"}));
}

TEST_F(DepotMethods, SettingsInForceAndByName) {
  const auto stub = Stub();
  v1::GetSettingsRequest request;
  v1::GetSettingsResponse response;
  ASSERT_TRUE(Call(*stub, &v1::DepotService::Stub::GetSettings, request, &response).ok());
  EXPECT_EQ(response.version().settings().version(), "1");
  ASSERT_EQ(response.all_size(), 1);
  EXPECT_EQ(response.all(0).settings().version(), "1");
  EXPECT_EQ(response.all(0).settings().branches_size(), 0);
  request.set_version("no-such");
  const grpc::Status status = Call(*stub, &v1::DepotService::Stub::GetSettings, request, &response);
  EXPECT_EQ(status.error_code(), grpc::StatusCode::NOT_FOUND);
  EXPECT_EQ(DetailsOf(status).info.reason(), "SETTINGS_VERSION_UNKNOWN");
}

TEST_F(DepotMethods, BoardCountsEveryUnitOfTheFleet) {
  const auto stub = Stub();
  v1::GetBoardResponse board;
  ASSERT_TRUE(Call(*stub, &v1::DepotService::Stub::GetBoard, v1::GetBoardRequest(), &board).ok());
  int units = 0;
  for (const v1::BoardRow& row : board.rows()) units += row.unit_count();
  EXPECT_EQ(units, 7);
}

}  // namespace
}  // namespace ferrule::service
