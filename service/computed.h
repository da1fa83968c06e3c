// Methods whose answer core computes: whole, or page by page.
#pragma once

#include <string>
#include <utility>

#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "service/limits.h"
#include "service/method.h"
#include "service/page_token.h"
#include "service/requests.h"

namespace ferrule::service {

// Answers of core: of the ledger, the request and the instant of the call.
template <class Request, class Response>
using Compute = absl::StatusOr<Response> (*)(ledger::Ledger&, const Request&, int64_t now_us);

// Checks the instants that a request may name.
template <class Request>
absl::Status CheckTimes(const Request& request) {
  const auto* type = Request::descriptor();
  for (const char* name : {"known_time", "from_time", "to_time"}) {
    const auto* field = type->FindFieldByName(name);
    if (field == nullptr || !request.GetReflection()->HasField(request, field)) continue;
    const auto& time = static_cast<const google::protobuf::Timestamp&>(
        request.GetReflection()->GetMessage(request, field));
    const auto us = InstantOf(name, time);
    if (!us.ok()) return us.status();
  }
  return absl::OkStatus();
}

// A report that core computes whole.
//   absl::StatusOr<Response> compute(const CallContext&, const Request&)
template <class Request, class Response, class ComputeFor>
Method ReportFor(std::string path, ComputeFor compute) {
  return Unary<Request, Response>(
      std::move(path), RunsOn::kPool,
      [compute](CallContext& context, const Request& request, Response* response) {
        if (absl::Status times = CheckTimes(request); !times.ok()) return times;
        absl::StatusOr<Response> computed = compute(context, request);
        if (!computed.ok()) return computed.status();
        *response = *std::move(computed);
        return absl::OkStatus();
      });
}

// The same, whoever calls.
template <class Request, class Response>
Method Report(ledger::Ledger* ledger, std::string path, Compute<Request, Response> compute) {
  return ReportFor<Request, Response>(
      std::move(path), [ledger, compute](const CallContext& context, const Request& request) {
        return compute(*ledger, request, context.now_us);
      });
}

// A list that core computes page by page; the token that travels is core's key, bound to the
// arguments. `compute` as above.
template <class Request, class Response, class ComputeFor>
Method ListFor(std::string path, int default_size, ComputeFor compute) {
  return Unary<Request, Response>(
      std::move(path), RunsOn::kPool,
      [default_size, compute](CallContext& context, const Request& request, Response* response) {
        if (absl::Status times = CheckTimes(request); !times.ok()) return times;
        Request arguments = request;
        arguments.clear_page_token();
        arguments.clear_page_size();
        absl::StatusOr<std::string> key = ReadPageToken(request.page_token(), arguments);
        if (!key.ok()) return key.status();
        const absl::StatusOr<int> size = PageSize(request.page_size(), default_size);
        if (!size.ok()) return size.status();
        Request page = arguments;
        page.set_page_token(*std::move(key));
        page.set_page_size(*size);
        absl::StatusOr<Response> computed = compute(context, page);
        if (!computed.ok()) return computed.status();
        *response = *std::move(computed);
        response->set_next_page_token(MakePageToken(response->next_page_token(), arguments));
        return absl::OkStatus();
      });
}

// The same, whoever calls.
template <class Request, class Response>
Method List(ledger::Ledger* ledger, std::string path, int default_size,
            Compute<Request, Response> compute) {
  return ListFor<Request, Response>(
      std::move(path), default_size,
      [ledger, compute](const CallContext& context, const Request& page) {
        return compute(*ledger, page, context.now_us);
      });
}

}  // namespace ferrule::service
