#include <algorithm>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/board/cover_reports.h"
#include "core/board/queries.h"
#include "core/cover/changes.h"
#include "core/cover/day_ledger.h"
#include "core/depot/known.h"
#include "core/fact/subject.h"
#include "core/fact/words.h"
#include "core/finding/raise.h"
#include "core/fold/fold.h"
#include "core/ledger/history.h"
#include "core/order/terms.h"
#include "core/time/civil.h"

namespace ferrule::board {
namespace {

using store::Value;

struct BilledOrder {
  std::string name;
  int64_t id = 0;
};

// One order's facts in the order in which they became known, and what its claims made of them.
class OrderCorrections {
 public:
  OrderCorrections(ledger::Ledger& ledger, std::string name, std::vector<fact::FactView> facts,
                   std::shared_ptr<const depot::SettingsBook> book_now,
                   v1::ReportCorrectionsResponse* response)
      : ledger_(ledger),
        name_(std::move(name)),
        facts_(std::move(facts)),
        book_now_(std::move(book_now)),
        response_(response) {
    std::sort(facts_.begin(), facts_.end(), [](const fact::FactView& a, const fact::FactView& b) {
      return a.sequence != b.sequence ? a.sequence < b.sequence : a.index < b.index;
    });
  }

  absl::Status Run() {
    const v1::SubjectState now = FoldFirst(facts_.size(), *book_now_);
    for (size_t i = 0; i < facts_.size(); ++i) {
      if (!facts_[i].fact().has_days_billed() || !Counts(i, now.order())) continue;
      if (absl::Status compared = Compare(i, now.order()); !compared.ok()) return compared;
    }
    return absl::OkStatus();
  }

 private:
  // Whether the bill at `i` still stands: it was not reversed, and no later correction states its
  // days anew.
  bool Counts(size_t i, const v1::OrderState& now) const {
    const fact::FactView& view = facts_[i];
    const v1::DaysBilled& f = view.fact().days_billed();
    bool stands = false;
    for (const v1::BilledDays& billed : now.billed()) {
      const v1::FactRef& ref = billed.noted().fact();
      stands |= ref.entry_id() == view.entry->entry_id() && ref.index() == view.index;
    }
    for (size_t k = i + 1; stands && k < facts_.size(); ++k) {
      if (!facts_[k].fact().has_days_billed()) continue;
      const v1::DaysBilled& later = facts_[k].fact().days_billed();
      stands =
          !(later.correction() && time::ToDay(later.from_date()) <= time::ToDay(f.from_date()) &&
            time::ToDay(f.through_date()) <= time::ToDay(later.through_date()));
    }
    return stands;
  }

  v1::SubjectState FoldFirst(size_t count, const depot::SettingsBook& book) const {
    return fold::Fold(name_, {facts_.begin(), facts_.begin() + static_cast<std::ptrdiff_t>(count)},
                      book);
  }

  static v1::DayLedger LedgerOf(const v1::OrderState& order, const depot::SettingsBook& book,
                                absl::CivilDay through) {
    const depot::Rules& rules = book.At(time::ToMicros(order.handed_over().time()));
    const absl::TimeZone zone = rules.ZoneOf(order.details().branch());
    return cover::CountDays(order, rules, 0, {through, time::StartOfDayMicros(through + 1, zone)});
  }

  static int64_t AmountOf(const v1::OrderState& order, const depot::SettingsBook& book) {
    const depot::Rules& rules = book.At(time::ToMicros(order.handed_over().time()));
    const v1::CoverRule* rule = order::FindCoverRule(order, order::FirstPayer(order), rules);
    return rule == nullptr ? 0 : rule->amount_minor();
  }

  absl::Status Compare(size_t bill, const v1::OrderState& now) {
    const fact::FactView& view = facts_[bill];
    const v1::DaysBilled& f = view.fact().days_billed();
    const absl::CivilDay from = time::ToDay(f.from_date());
    const absl::CivilDay through = time::ToDay(f.through_date());
    auto book_then = ledger_.BookKnownAt(view.recorded_us);
    if (!book_then.ok()) return book_then.status();
    const v1::SubjectState then = FoldFirst(bill + 1, **book_then);
    const v1::DayLedger ledger_then = LedgerOf(then.order(), **book_then, through);
    const v1::DayLedger ledger_now = LedgerOf(now, *book_now_, through);
    std::vector<v1::CorrectedDay> days = cover::ChangedDays(ledger_then, ledger_now, from, through);
    if (days.empty()) return absl::OkStatus();
    NameCauses(bill, through, &days);
    v1::Correction* out = response_->add_corrections();
    out->set_order(now.order());
    out->set_claim(f.claim());
    *out->mutable_from_date() = f.from_date();
    *out->mutable_through_date() = f.through_date();
    time::SetMicros(view.recorded_us, out->mutable_billed_time());
    out->set_covered_then_count(cover::UnitsWithin(ledger_then, from, through));
    out->set_covered_now_count(cover::UnitsWithin(ledger_now, from, through));
    out->set_amount_difference_minor(out->covered_now_count() * AmountOf(now, *book_now_) -
                                     out->covered_then_count() *
                                         AmountOf(then.order(), **book_then));
    for (v1::CorrectedDay& day : days) *out->add_days() = std::move(day);
    return absl::OkStatus();
  }

  // Lets the later facts in one by one; whichever changed a day last is its cause. A day that no
  // fact of the order changes was changed by the settings.
  void NameCauses(size_t bill, absl::CivilDay through, std::vector<v1::CorrectedDay>* days) const {
    v1::DayLedger before = LedgerOf(FoldFirst(bill + 1, *book_now_).order(), *book_now_, through);
    for (size_t i = bill + 1; i < facts_.size(); ++i) {
      v1::DayLedger after = LedgerOf(FoldFirst(i + 1, *book_now_).order(), *book_now_, through);
      for (v1::CorrectedDay& day : *days) {
        const absl::CivilDay date = time::ToDay(day.date());
        if (cover::ChangedDays(before, after, date, date).empty()) continue;
        finding::SetStamp(facts_[i], day.mutable_cause());
        day.set_cause_text(fact::Describe(facts_[i].fact()));
      }
      before = std::move(after);
    }
    for (v1::CorrectedDay& day : *days) {
      if (!day.has_cause()) day.set_cause_text("the settings changed");
    }
  }

  ledger::Ledger& ledger_;
  const std::string name_;
  std::vector<fact::FactView> facts_;
  const std::shared_ptr<const depot::SettingsBook> book_now_;
  v1::ReportCorrectionsResponse* response_;
};

// The orders that were billed, those that the request asks for.
absl::Status FindBilled(store::Connection& connection, const v1::ReportCorrectionsRequest& request,
                        std::vector<BilledOrder>* found) {
  bool readable = true;
  const Value parameters[] = {Value::Text(request.branch())};
  const absl::Status read =
      connection.Run(sql::kRentalStatesWithId, parameters, [&](const store::Row& row) {
        v1::SubjectState state;
        const std::string_view bytes = row.Bytes(0);
        readable &= state.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
        if (!request.name().empty() && state.name() != request.name()) return;
        if (!state.order().billed().empty()) found->push_back({state.name(), row.Int(1)});
      });
  if (!read.ok()) return read;
  if (!readable) return absl::DataLossError("a stored state cannot be read; run: ferruled rebuild");
  std::sort(found->begin(), found->end(),
            [](const BilledOrder& a, const BilledOrder& b) { return a.name < b.name; });
  return absl::OkStatus();
}

}  // namespace

absl::StatusOr<v1::ReportCorrectionsResponse> ReportCorrections(
    ledger::Ledger& ledger, const v1::ReportCorrectionsRequest& request, int64_t now_us) {
  const bool known_then = request.has_known_time();
  const int64_t at_us = known_then ? time::ToMicros(request.known_time()) : now_us;
  std::shared_ptr<const depot::SettingsBook> book = ledger.Book();
  if (known_then) {
    auto known = ledger.BookKnownAt(at_us);
    if (!known.ok()) return known.status();
    book = *std::move(known);
  }
  if (absl::Status known = depot::KnowBranch(book->At(at_us), request.branch()); !known.ok()) {
    return known;
  }
  // The histories first, then what they mean: reading the settings of an earlier time asks for a
  // reading connection of its own.
  const int64_t head = ledger.head().sequence;
  std::vector<BilledOrder> billed;
  std::vector<std::unique_ptr<ledger::History>> histories;
  const absl::Status read = ledger.WithReader([&](store::Connection& connection) -> absl::Status {
    if (absl::Status found = FindBilled(connection, request, &billed); !found.ok()) {
      return found;
    }
    int64_t through = head;
    if (known_then) {
      auto sequence = ledger::SequenceKnownAt(connection, at_us, head);
      if (!sequence.ok()) return sequence.status();
      through = *sequence;
    }
    for (const BilledOrder& order : billed) {
      auto& history = histories.emplace_back(std::make_unique<ledger::History>());
      if (absl::Status loaded = history->Load(connection, order.id, through); !loaded.ok()) {
        return loaded;
      }
    }
    return absl::OkStatus();
  });
  if (!read.ok()) return read;
  v1::ReportCorrectionsResponse response;
  for (size_t i = 0; i < billed.size(); ++i) {
    OrderCorrections corrections(ledger, billed[i].name, histories[i]->views(), book, &response);
    if (absl::Status status = corrections.Run(); !status.ok()) return status;
  }
  return response;
}

}  // namespace ferrule::board
