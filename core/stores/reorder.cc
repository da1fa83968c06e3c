#include "core/stores/reorder.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "core/depot/known.h"
#include "core/fact/counted.h"
#include "core/plan/distributions.h"
#include "core/stores/goods.h"
#include "core/stores/places.h"
#include "core/stores/queries.h"
#include "core/time/civil.h"

namespace ferrule::stores {
namespace {

using store::Value;

constexpr int kUsualWindowDays = 90;
constexpr int kUsualPerCent = 95;
constexpr char kRule[] =
    "Order when the pieces that can be used, on the shelf and on the way, are no more than the "
    "reorder point: the stock that lasts through lead time and review with the chance in the "
    "settings, from the use of each day in the window. Then up to the point and one review's use, "
    "in whole packages.";

using ItemAtBranch = std::pair<std::string, std::string>;  // branch, item

// Pieces used a day in the window, by branch and item.
absl::Status ReadUse(store::Connection& connection, const depot::Rules& rules, int64_t now_us,
                     int window_days, std::map<ItemAtBranch, std::vector<int64_t>>* use) {
  const int64_t slack_us = int64_t{2} * 24 * 3'600'000'000;
  const int64_t since_us = now_us - window_days * int64_t{24} * 3'600'000'000 - slack_us;
  const Value parameters[] = {Value::Int(since_us)};
  return connection.Run(sql::kUsesSince, parameters, [&](const store::Row& row) {
    const std::string branch(row.Bytes(1));
    const absl::TimeZone zone = rules.ZoneOf(branch);
    const int64_t ago = time::LocalDay(now_us, zone) - time::LocalDay(row.Int(2), zone);
    // The window is the days before today: today is not over.
    if (ago < 1 || ago > window_days) return;
    std::vector<int64_t>& daily = (*use)[{branch, std::string(row.Bytes(0))}];
    daily.resize(static_cast<size_t>(window_days));
    daily[static_cast<size_t>(ago - 1)] += row.Int(3);
  });
}

struct OnHand {
  int64_t usable = 0;
  int64_t expired = 0;
};

void AddRow(const std::string& branch, const v1::StockItem& item, const OnHand& on_hand,
            std::vector<int64_t> daily, int window_days, v1::ReportReorderResponse* response) {
  daily.resize(static_cast<size_t>(window_days));
  for (int64_t& pieces : daily) pieces = std::max<int64_t>(pieces, 0);  // returns of earlier days
  int64_t used = 0;
  for (int64_t pieces : daily) used += pieces;
  const ReorderLevels levels = LevelsOf(daily, item);
  v1::ReorderRow* row = response->add_rows();
  row->set_branch(branch);
  row->set_item(item.id());
  row->set_usable_count(on_hand.usable);
  row->set_expired_count(on_hand.expired);
  row->set_used_count(used);
  row->set_window_days(window_days);
  row->set_cover_days(levels.cover_days);
  row->set_reorder_point_count(levels.point);
  row->set_order_count(OrderCount(levels, on_hand.usable, item.package_piece_count()));
  const int per_cent = item.service_percent() == 0 ? kUsualPerCent : item.service_percent();
  row->set_words(absl::StrFormat(
      "%d used in %s; lasts %s with a chance of %d %%%s", used,
      fact::Counted(window_days, "day", "days"), fact::Counted(levels.cover_days, "day", "days"),
      per_cent,
      item.lead_time_days() == 0 ? "; no lead time in the settings, so a day is taken" : ""));
}

}  // namespace

ReorderLevels LevelsOf(const std::vector<int64_t>& daily, const v1::StockItem& item) {
  ReorderLevels levels;
  levels.cover_days = std::max(1, item.lead_time_days() + item.review_days());
  if (daily.empty()) return levels;
  const auto days = static_cast<double>(daily.size());
  double sum = 0;
  double squares = 0;
  for (int64_t pieces : daily) {
    sum += static_cast<double>(pieces);
    squares += static_cast<double>(pieces) * static_cast<double>(pieces);
  }
  const double mean = sum / days;
  const double variance = daily.size() < 2 ? mean : (squares - sum * mean) / (days - 1);
  const int per_cent = item.service_percent() == 0 ? kUsualPerCent : item.service_percent();
  if (sum > 0) {
    const plan::CountLaw law =
        plan::CountLawOfMoments(mean * levels.cover_days, variance * levels.cover_days);
    levels.point = plan::Quantile(law, per_cent / 100.0);
  }
  levels.up_to =
      levels.point + static_cast<int64_t>(std::ceil(mean * std::max(1, item.review_days())));
  return levels;
}

int64_t OrderCount(const ReorderLevels& levels, int64_t usable, int package_pieces) {
  if (usable > levels.point || levels.up_to <= usable) return 0;
  const int64_t package = std::max(1, package_pieces);
  return (levels.up_to - usable + package - 1) / package * package;
}

absl::StatusOr<v1::ReportReorderResponse> ReportReorder(ledger::Ledger& ledger,
                                                        const v1::ReportReorderRequest& request,
                                                        int64_t now_us) {
  const auto book = ledger.Book();
  const depot::Rules& rules = book->At(now_us);
  if (absl::Status known = depot::KnowBranch(rules, request.branch()); !known.ok()) return known;
  const v1::Settings& settings = rules.settings();
  const int window_days =
      settings.usage_window_days() == 0 ? kUsualWindowDays : settings.usage_window_days();
  v1::ReportReorderResponse response;
  response.set_rule(kRule);
  std::map<ItemAtBranch, OnHand> on_hand;
  std::map<ItemAtBranch, std::vector<int64_t>> use;
  absl::Status status = ledger.WithReader([&](store::Connection& connection) -> absl::Status {
    absl::Status read = ReadUse(connection, rules, now_us, window_days, &use);
    if (!read.ok()) return read;
    read = EachBook(connection, [&](const std::string& lot, const std::string& item,
                                    const v1::StockBook& goods) {
      for (const v1::StockRow& row : RowsOf(lot, item, goods, rules, now_us)) {
        OnHand& here = on_hand[{row.branch(), item}];
        (row.expired() ? here.expired : here.usable) += row.piece_count();
      }
    });
    if (!read.ok()) return read;
    return AddGoodsOnTheWay(connection, rules,
                            [&](const std::string& branch, const v1::StockLine& line) {
                              on_hand[{branch, line.item()}].usable += line.piece_count();
                            });
  });
  if (!status.ok()) return status;
  for (const v1::Branch& branch : settings.branches()) {
    if (!request.branch().empty() && branch.id() != request.branch()) continue;
    for (const v1::StockItem& item : settings.stock_items()) {
      AddRow(branch.id(), item, on_hand[{branch.id(), item.id()}], use[{branch.id(), item.id()}],
             window_days, &response);
    }
  }
  return AddPars(ledger, request.branch(), now_us, std::move(response));
}

}  // namespace ferrule::stores
