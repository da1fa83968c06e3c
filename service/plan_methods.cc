#include "service/plan_methods.h"

#include <algorithm>
#include <memory>
#include <optional>
#include <string>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/outlook/backtest.h"
#include "core/outlook/figure.h"
#include "core/outlook/fleet_size.h"
#include "core/outlook/forecast.h"
#include "core/outlook/measures.h"
#include "core/outlook/transfers.h"
#include "core/outlook/what_if.h"
#include "core/time/civil.h"
#include "ferrule/v1/plan_service.pb.h"
#include "service/backtest_stream.h"
#include "service/errors.h"
#include "service/limits.h"
#include "service/method.h"
#include "service/requests.h"

namespace ferrule::service {
namespace {

using Reader = std::shared_ptr<outlook::RecordsReader>;

std::string Path(const char* method) { return absl::StrCat("/ferrule.v1.PlanService/", method); }

// Puts time, actor and entry behind the fact that core named by its place in the ledger.
absl::Status FillStamp(ledger::Ledger& ledger, v1::Stamp* stamp) {
  absl::StatusOr<v1::Stamp> found = outlook::StampOf(ledger, outlook::KeyOf(*stamp));
  if (!found.ok()) return found.status();
  *stamp = *std::move(found);
  return absl::OkStatus();
}

absl::Status Fill(ledger::Ledger& ledger, v1::GetForecastResponse* response) {
  for (v1::ClassForecast& forecast : *response->mutable_forecasts()) {
    for (v1::ForecastRecord& record : *forecast.mutable_records()) {
      if (absl::Status s = FillStamp(ledger, record.mutable_since()); !s.ok()) return s;
    }
  }
  return absl::OkStatus();
}

absl::Status Fill(ledger::Ledger& ledger, v1::ReportMeasuresResponse* response) {
  for (v1::Measure& measure : *response->mutable_measures()) {
    for (v1::MeasureRecord& record : *measure.mutable_records()) {
      if (!record.has_stamp()) continue;
      if (absl::Status s = FillStamp(ledger, record.mutable_stamp()); !s.ok()) return s;
    }
  }
  return absl::OkStatus();
}

template <class Response>
absl::Status Fill(ledger::Ledger&, Response*) {
  return absl::OkStatus();
}

// An answer out of the records, now or as known then.
template <class Request, class Response>
Method Answer(const Reader& reader, const char* name,
              absl::StatusOr<Response> (*compute)(const outlook::Records&, const Request&,
                                                  int64_t)) {
  return Unary<Request, Response>(
      Path(name), RunsOn::kPool,
      [reader, compute](CallContext& context, const Request& request,
                        Response* response) -> absl::Status {
        std::optional<int64_t> known;
        if (request.has_known_time()) {
          const auto known_us = InstantOf("known_time", request.known_time());
          if (!known_us.ok()) return known_us.status();
          known = std::min(*known_us, context.now_us);
        }
        const auto records = reader->At(known, context.now_us);
        if (!records.ok()) return records.status();
        absl::StatusOr<Response> computed =
            compute(**records, request, known.value_or(context.now_us));
        if (!computed.ok()) return computed.status();
        *response = *std::move(computed);
        if (absl::Status status = Fill(reader->ledger(), response); !status.ok()) return status;
        if (response->ByteSizeLong() < static_cast<size_t>(kMaxMessageBytes)) {
          return absl::OkStatus();
        }
        return absl::InvalidArgumentError(
            "the answer is too large for one message: ask for one branch, one class or fewer days");
      });
}

}  // namespace

std::vector<Method> PlanMethods(ledger::Ledger* ledger) {
  const auto reader = std::make_shared<outlook::RecordsReader>(ledger);
  std::vector<Method> methods;
  methods.push_back(Answer(reader, "GetForecast", &outlook::Forecast));
  methods.push_back(Answer(reader, "ReportFleetSize", &outlook::SizeFleets));
  methods.push_back(Answer(reader, "ReportWhatIf", &outlook::WhatIf));
  methods.push_back(Answer(reader, "ReportTransfers", &outlook::SuggestTransfers));
  methods.push_back(Answer(reader, "ReportMeasures", &outlook::Measures));
  methods.push_back(Answer(reader, "ReportForecastDiary", &outlook::ScoreDiary));
  methods.push_back(ServerStreaming<v1::WatchBacktestRequest>(
      Path("WatchBacktest"), [reader](StreamCall& call, const v1::WatchBacktestRequest& request) {
        return OpenBacktest(reader, call, request);
      }));
  return methods;
}

}  // namespace ferrule::service
