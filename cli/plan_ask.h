// Asking the planning service: longer than the counter waits, with what its commands share.
#pragma once

#include <chrono>
#include <string>

#include "cli/page.h"
#include "cli/session.h"
#include "cli/values.h"
#include "core/time/civil.h"
#include "ferrule/v1/plan_service.grpc.pb.h"

namespace ferrule::cli {

// Forecasts over a whole depot take their time; the service itself ends a call after a minute.
inline constexpr std::chrono::seconds kPlanDeadline{60};

template <typename Request, typename Response>
absl::Status AskPlan(Session& session,
                     grpc::Status (v1::PlanService::StubInterface::*method)(grpc::ClientContext*,
                                                                            const Request&,
                                                                            Response*),
                     const Request& request, Response* response) {
  const auto channel = session.Channel();
  if (!channel.ok()) return channel.status();
  const std::unique_ptr<v1::PlanService::StubInterface> stub = v1::PlanService::NewStub(*channel);
  grpc::ClientContext context;
  context.set_deadline(std::chrono::system_clock::now() + kPlanDeadline);
  return FromGrpc((stub.get()->*method)(&context, request, response));
}

// Fills a request's known time.
template <typename Request>
absl::Status PutKnownAt(Session& session, Request* request) {
  const auto known = session.KnownAt();
  if (!known.ok()) return known.status();
  if (known->has_value()) time::SetMicros(**known, request->mutable_known_time());
  return absl::OkStatus();
}

// Branch and class of device, as flags.
template <typename Request>
void PutBranchAndClass(const Line& line, Request* request) {
  request->set_branch(line.Get("--branch").value_or(""));
  request->set_device_class(line.Get("--class").value_or(""));
}

inline constexpr Flag kPlanBranch{"--branch", "BRANCH", "only this branch"};
inline constexpr Flag kPlanClass{"--class", "CLASS", "only this class of device"};
inline constexpr Flag kPlanDays{"--days", "N", "coming days looked at"};
inline constexpr Flag kPlanSeed{"--seed", "N",
                                "what chance is drawn from; the same seed gives the same answer"};
inline constexpr Flag kPlanHtml{"--html", "FILE", "write a page with pictures, too"};

// Writes the page to the file behind --html, when there is one, and says so on standard error.
absl::Status WritePage(Session& session, const Page& page);

// "12.3" and "4.5 %".
std::string Decimal(double value, int places = 1);
std::string Percent(double share, int places = 1);
// Hundredths with the currency: "1234.50 EUR".
std::string Money(int64_t minor, const std::string& currency);
// "2026-03-05" as "5 Mar".
std::string ShortDay(const google::type::Date& date);
// One day more or less.
int64_t DayNumberOf(const google::type::Date& date);

// Caution under every forecast.
inline constexpr char kForecastCaution[] =
    "A forecast is odds, not a promise: what patients need, orders and the people at the branch "
    "decide.\n";

}  // namespace ferrule::cli
