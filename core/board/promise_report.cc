#include "core/board/promise_report.h"

#include <algorithm>
#include <tuple>
#include <utility>

#include "core/board/lists.h"
#include "core/board/promise_answer.h"
#include "core/depot/known.h"
#include "core/fact/promise.h"
#include "core/fact/subject.h"
#include "core/time/civil.h"

namespace ferrule::board {
namespace {

void AddRows(const PoolView& view, const std::string& device_class, bool in_danger,
             v1::ReportPromisesResponse* response) {
  const promise::Pool pool = view.PoolFor(nullptr, "");
  const Verdicts verdicts = VerdictsOf(view.rules());
  for (const PoolView::Order& order : view.orders()) {
    const v1::OrderState& state = order.state->order();
    if (order.claim < 0 || !state.has_promise()) continue;
    const promise::Claim& claim = pool.claims()[static_cast<size_t>(order.claim)];
    if (claim.unit == promise::kNoUnit || claim.bound) continue;
    const double odds = pool.OddsOf(order.claim);
    if (in_danger && odds >= verdicts.yes_from) continue;
    v1::PromiseRow* row = response->add_rows();
    *row->mutable_promise() = state.promise();
    row->set_branch(view.branch());
    row->set_device_class(device_class);
    row->set_odds_permille(Permille(odds));
    row->set_standing(view.units()[static_cast<size_t>(claim.unit)].standing);
  }
}

// All waiting orders of the pools asked for.
absl::StatusOr<std::vector<ledger::StatePtr>> WaitingOrders(ledger::Ledger& ledger,
                                                            PromiseDesk& desk,
                                                            const v1::ListWaitingRequest& request) {
  const auto pools = desk.index.Pools(ledger);
  if (!pools.ok()) return pools.status();
  std::vector<ledger::StatePtr> waiting;
  for (const auto& [branch, device_class] : *pools) {
    if (!request.branch().empty() && branch != request.branch()) continue;
    if (!request.device_class().empty() && device_class != request.device_class()) continue;
    const absl::StatusOr<PoolMembers> members = desk.index.Members(ledger, branch, device_class);
    if (!members.ok()) return members.status();
    for (const std::string& name : members->orders) {
      absl::StatusOr<ledger::StatePtr> state = ledger.Get(name);
      if (!state.ok()) return state.status();
      if ((*state)->order().has_waiting()) waiting.push_back(*std::move(state));
    }
  }
  std::sort(waiting.begin(), waiting.end(),
            [](const auto& a, const auto& b) { return ServedBefore(a->order(), b->order()); });
  return waiting;
}

void FillRow(const v1::OrderState& order, v1::WaitingRow* row) {
  const v1::OrderDetails& d = order.details();
  row->set_order(order.order());
  row->set_branch(d.branch());
  row->set_device_class(d.device_class());
  row->set_side(d.side());
  if (d.has_surgery_date()) *row->mutable_surgery_date() = d.surgery_date();
  if (d.has_needed_date()) *row->mutable_needed_date() = d.needed_date();
  *row->mutable_waiting() = order.waiting();
}

// Where the page begins: after the order that the token names.
absl::StatusOr<size_t> FirstRow(ledger::Ledger& ledger, const std::vector<ledger::StatePtr>& all,
                                const std::string& token) {
  if (token.empty()) return 0;
  absl::StatusOr<ledger::StatePtr> last =
      ledger.Get(fact::SubjectName(fact::SubjectKind::kOrder, token));
  if (!last.ok()) return last.status();
  const auto after = std::upper_bound(all.begin(), all.end(), *last,
                                      [](const ledger::StatePtr& a, const ledger::StatePtr& b) {
                                        return ServedBefore(a->order(), b->order());
                                      });
  return static_cast<size_t>(after - all.begin());
}

}  // namespace

absl::StatusOr<v1::ReportPromisesResponse> ReportPromises(ledger::Ledger& ledger, PromiseDesk& desk,
                                                          const v1::ReportPromisesRequest& request,
                                                          int64_t now_us) {
  absl::Status status = depot::KnowBranch(ledger.Book()->At(now_us), request.branch());
  if (!status.ok()) return status;
  const auto pools = desk.index.Pools(ledger);
  if (!pools.ok()) return pools.status();
  v1::ReportPromisesResponse response;
  for (const auto& [branch, device_class] : *pools) {
    if (branch.empty() || device_class.empty()) continue;
    if (!request.branch().empty() && branch != request.branch()) continue;
    const auto view = PoolView::Read(ledger, desk, branch, device_class, now_us);
    if (!view.ok()) return view.status();
    AddRows(*view, device_class, request.in_danger(), &response);
  }
  std::sort(response.mutable_rows()->begin(), response.mutable_rows()->end(),
            [](const v1::PromiseRow& a, const v1::PromiseRow& b) {
              return std::make_tuple(time::ToDay(a.promise().from_date()), a.promise().order()) <
                     std::make_tuple(time::ToDay(b.promise().from_date()), b.promise().order());
            });
  return response;
}

absl::StatusOr<v1::ListWaitingResponse> ListWaiting(ledger::Ledger& ledger, PromiseDesk& desk,
                                                    const v1::ListWaitingRequest& request,
                                                    int64_t now_us) {
  absl::Status status = depot::KnowBranch(ledger.Book()->At(now_us), request.branch());
  if (!status.ok()) return status;
  const absl::StatusOr<int> size = PageSize(request.page_size(), 50);
  if (!size.ok()) return size.status();
  const auto waiting = WaitingOrders(ledger, desk, request);
  if (!waiting.ok()) return waiting.status();
  const absl::StatusOr<size_t> first = FirstRow(ledger, *waiting, request.page_token());
  if (!first.ok()) return first.status();
  v1::ListWaitingResponse response;
  for (size_t i = *first; i < waiting->size(); ++i) {
    if (response.rows_size() == *size) {
      response.set_next_page_token(response.rows().rbegin()->order());
      break;
    }
    FillRow((*waiting)[i]->order(), response.add_rows());
  }
  return response;
}

}  // namespace ferrule::board
