// The published cases of days and cover told to a served depot and asked of it over a channel.
#include "tests/core/cover/published.h"

#include <gtest/gtest.h>

#include <fstream>
#include <sstream>

#include "absl/strings/str_cat.h"
#include "core/time/civil.h"
#include "ferrule/v1/cover_service.grpc.pb.h"
#include "tests/core/cover/told.h"
#include "tests/service/served_depot.h"

namespace ferrule::testing {
namespace {

std::string BaseSettings() {
  std::ostringstream text;
  text << std::ifstream(FERRULE_SETTINGS).rdbuf();
  return text.str();
}

class Depot {
 public:
  explicit Depot(const PublishedCase& published) : channel_(depot_.Channel(Transport::kInProcess)) {
    v1::Fact settings;
    v1::SettingsPut& put = *settings.mutable_settings_put();
    *put.mutable_settings() = SettingsOf(published.rental, BaseSettings());
    const int64_t long_ago_us = time::StartOfDayMicros(absl::CivilDay(2005, 1, 1), {});
    time::SetMicros(long_ago_us, settings.mutable_happened_time());
    time::SetMicros(long_ago_us, put.mutable_from_time());
    Record(settings, long_ago_us);
    for (const ToldFact& told : FactsOf(published.rental)) Record(told.fact, told.at_us);
  }

  v1::GetDayLedgerResponse Days(const std::string& through) {
    const auto cover = v1::CoverService::NewStub(channel_);
    v1::GetDayLedgerRequest request;
    request.set_name("orders/R-1");
    *request.mutable_through_date() = time::FromDay(time::ParseDay(through).value());
    v1::GetDayLedgerResponse response;
    grpc::ClientContext context;
    const grpc::Status status = cover->GetDayLedger(&context, request, &response);
    EXPECT_TRUE(status.ok()) << status.error_message();
    return response;
  }

 private:
  void Record(const v1::Fact& fact, int64_t at_us) {
    depot_.clock().Set(at_us);
    const auto ledger = v1::LedgerService::NewStub(channel_);
    v1::RecordRequest request;
    v1::Entry& entry = *request.mutable_entry();
    entry.set_entry_id(absl::StrCat("told-", ++entries_));
    entry.set_actor("clerk-cy");
    entry.set_channel("test");
    entry.set_mode(v1::ENTRY_MODE_OBSERVED);
    *entry.add_facts() = fact;
    v1::RecordResponse response;
    grpc::ClientContext context;
    const grpc::Status status = ledger->Record(&context, request, &response);
    EXPECT_TRUE(status.ok()) << fact.ShortDebugString() << "\n" << status.error_message();
  }

  ServedDepot depot_;
  std::shared_ptr<grpc::Channel> channel_;
  int entries_ = 0;
};

TEST(Published, CasesAreAnsweredAsPublished) {
  for (const PublishedCase& published : PublishedCases()) {
    ExpectPublished(published, Depot(published).Days(published.through));
  }
}

}  // namespace
}  // namespace ferrule::testing
