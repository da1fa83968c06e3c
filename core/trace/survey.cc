#include "core/trace/survey.h"

#include <algorithm>
#include <numeric>
#include <string>

#include "core/fact/subject.h"
#include "core/ledger/span_rows.h"
#include "core/time/civil.h"
#include "core/trace/proof.h"
#include "core/trace/queries.h"
#include "core/trace/recall_items.h"
#include "core/trace/spans.h"

namespace ferrule::trace {
namespace {

using store::Value;

constexpr int kUsualRentals = 20;
constexpr int kMostRentals = 200;
constexpr int kMostRecalls = 1'000;

// splitmix64, a published generator (Steele, Lea, Flood 2014; from memory): the same everywhere.
uint64_t NextRandom(uint64_t* state) {
  uint64_t x = (*state += 0x9e3779b97f4a7c15u);
  x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9u;
  x = (x ^ (x >> 27)) * 0x94d049bb133111ebu;
  return x ^ (x >> 31);
}

absl::StatusOr<std::vector<std::string>> RentalsBegun(ledger::Ledger& ledger, int64_t from_us,
                                                      int64_t to_us,
                                                      v1::ReportSurveyResponse* response) {
  std::vector<std::string> orders;
  const Value parameters[] = {Value::Int(from_us), Value::Int(to_us)};
  absl::Status status = ledger.WithReader([&](store::Connection& connection) -> absl::Status {
    absl::Status found = connection.Run(sql::kOrdersIssued, parameters, [&](const store::Row& row) {
      orders.emplace_back(row.Bytes(0));
    });
    if (!found.ok()) return found;
    return connection.Run(sql::kOpenHolds, {}, [&](const store::Row& row) {
      PutSpan(std::string(row.Bytes(8)), ledger::SpanFromRow(row, 0), response->add_holds());
    });
  });
  if (!status.ok()) return status;
  return orders;
}

absl::Status AddRecalls(ledger::Ledger& ledger, int64_t now_us,
                        v1::ReportSurveyResponse* response) {
  v1::ListRecallsRequest request;
  request.set_include_closed(true);
  request.set_page_size(kMostRecalls);
  auto recalls = ListRecalls(ledger, request, now_us);
  if (!recalls.ok()) return recalls.status();
  for (v1::RecallState& recall : *recalls->mutable_recalls()) {
    v1::ListRecallItemsRequest items;
    items.set_name(fact::SubjectName(fact::SubjectKind::kRecall, recall.recall()));
    auto found = ListRecallItems(ledger, items, now_us);
    if (!found.ok()) return found.status();
    *response->add_recall_totals() = found->totals();
    *response->add_recalls() = std::move(recall);
  }
  return absl::OkStatus();
}

}  // namespace

std::vector<size_t> Draw(size_t size, size_t count, uint64_t seed) {
  std::vector<size_t> all(size);
  std::iota(all.begin(), all.end(), size_t{0});
  count = std::min(count, size);
  for (size_t i = 0; i < count; ++i) {
    std::swap(all[i], all[i + NextRandom(&seed) % (size - i)]);
  }
  all.resize(count);
  std::sort(all.begin(), all.end());
  return all;
}

absl::StatusOr<v1::ReportSurveyResponse> ReportSurvey(ledger::Ledger& ledger,
                                                      const v1::ReportSurveyRequest& request,
                                                      int64_t now_us) {
  if (request.rental_count() < 0 || request.rental_count() > kMostRentals) {
    return absl::InvalidArgumentError("rental_count is out of range; give 1 to 200, or 0 for 20");
  }
  v1::ReportSurveyResponse response;
  const int64_t from_us = request.has_from_time() ? time::ToMicros(request.from_time()) : INT64_MIN;
  const int64_t to_us = request.has_to_time() ? time::ToMicros(request.to_time()) : INT64_MAX;
  auto orders = RentalsBegun(ledger, from_us, to_us, &response);
  if (!orders.ok()) return orders.status();
  const int count = request.rental_count() == 0 ? kUsualRentals : request.rental_count();
  for (size_t i :
       Draw(orders->size(), static_cast<size_t>(count), static_cast<uint64_t>(request.seed()))) {
    v1::GetProofRequest proof;
    proof.set_name((*orders)[i]);
    auto page = GetProof(ledger, proof, now_us);
    if (!page.ok()) return page.status();
    *response.add_proofs() = *std::move(page);
  }
  response.set_rental_count(static_cast<int64_t>(orders->size()));
  response.set_seed(request.seed());
  if (absl::Status status = AddRecalls(ledger, now_us, &response); !status.ok()) return status;
  return response;
}

}  // namespace ferrule::trace
