#include "core/fold/spans.h"

#include <algorithm>
#include <iterator>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/fact/subject.h"
#include "core/fact/words.h"
#include "core/time/civil.h"

namespace ferrule::fold {
namespace {

using fact::SubjectKind;
using fact::SubjectName;

Span Make(v1::SpanKind kind, std::string holder, std::string_view detail,
          const google::protobuf::Timestamp& from) {
  Span span;
  span.kind = kind;
  span.holder = std::move(holder);
  span.detail = std::string(detail);
  span.from_us = time::ToMicros(from);
  return span;
}

std::string HolderOf(const v1::UnitState& unit) {
  switch (unit.custody()) {
    case v1::CUSTODY_PLACE:
      return unit.transfer().empty() ? SubjectName(SubjectKind::kPlace, unit.place())
                                     : SubjectName(SubjectKind::kTransfer, unit.transfer());
    case v1::CUSTODY_HOME:
      return SubjectName(SubjectKind::kOrder, unit.order());
    case v1::CUSTODY_UNACCOUNTED:
      return "nobody";
    default:
      return "gone";
  }
}

void AddUnit(const v1::UnitState& unit, std::vector<Span>* out) {
  if (!unit.has_received()) return;
  out->push_back(Make(v1::SPAN_KIND_CUSTODY, HolderOf(unit), "", unit.custody_since().time()));
  for (const v1::Hold& hold : unit.holds()) {
    out->push_back(Make(v1::SPAN_KIND_HOLD, hold.reference(), fact::HoldKindWords(hold.kind()),
                        hold.placed().time()));
  }
  if (unit.purpose() > v1::PURPOSE_RENTAL) {
    const v1::Stamp& since = unit.has_purpose_since() ? unit.purpose_since() : unit.received();
    out->push_back(Make(v1::SPAN_KIND_PURPOSE, unit.owner(), fact::PurposeWords(unit.purpose()),
                        since.time()));
  }
}

void AddPart(const v1::PartState& part, std::vector<Span>* out) {
  if (part.unit().empty()) return;
  Span span = Make(v1::SPAN_KIND_PART, SubjectName(SubjectKind::kUnit, part.unit()),
                   part.position(), part.since().time());
  span.lot = part.lot();
  out->push_back(std::move(span));
}

void AddBook(const v1::StockBook& book, std::vector<Span>* out) {
  for (const v1::StockAtPlace& at : book.at()) {
    out->push_back(Make(v1::SPAN_KIND_STOCK, SubjectName(SubjectKind::kPlace, at.place()), "",
                        at.since_time()));
  }
  for (const v1::StockOnTheWay& way : book.on_the_way()) {
    out->push_back(Make(v1::SPAN_KIND_STOCK, SubjectName(SubjectKind::kTransfer, way.transfer()),
                        "", way.since_time()));
  }
}

template <typename Kit>
int64_t PiecesIn(const Kit& kit, const std::string& lot) {
  int64_t pieces = 0;
  for (const v1::KitItem& item : kit) {
    if (item.lot() == lot) pieces += item.piece_count();
  }
  return pieces;
}

// Pieces that a fact gives to an order's patient, or below 0 that it takes back.
void AddUse(const fact::FactView& view, const std::string& lot, const std::string& item,
            std::vector<Span>* out) {
  const v1::Fact& fact = view.fact();
  Span use;
  std::string order;
  if (fact.has_handed_over()) {
    order = fact.handed_over().order();
    use.piece_count = PiecesIn(fact.handed_over().kit(), lot);
  } else if (fact.has_exchanged()) {
    order = fact.exchanged().order();
    use.piece_count = PiecesIn(fact.exchanged().kit(), lot);
  } else if (fact.has_carried_over()) {
    order = fact.carried_over().to_order();
    use.piece_count = PiecesIn(fact.carried_over().kit(), lot);
  } else if (fact.has_stock_issued()) {
    order = fact.stock_issued().order();
    use.piece_count = fact.stock_issued().piece_count();
  } else if (fact.has_stock_returned()) {
    order = fact.stock_returned().order();
    use.piece_count = -fact.stock_returned().piece_count();
  }
  if (order.empty() || use.piece_count == 0) return;
  use.kind = v1::SPAN_KIND_USE;
  use.holder = SubjectName(SubjectKind::kOrder, order);
  use.detail = item;
  use.fact = absl::StrCat(view.entry->entry_id(), "#", view.index);
  use.from_us = view.happened_us;
  out->push_back(std::move(use));
}

void End(Span span, int64_t at_us, SpanChanges* changes) {
  // What is open began lately, more often than not.
  const auto begun = std::find(changes->begun.rbegin(), changes->begun.rend(), span);
  span.to_us = at_us;
  if (begun == changes->begun.rend()) {
    // Of a subject folded whole, every span began in this run.
    if (!changes->all) changes->ended.push_back(std::move(span));
  } else if (span.from_us < at_us) {
    *begun = std::move(span);
  } else {
    changes->begun.erase(std::next(begun).base());  // it lasted no time at all
  }
}

}  // namespace

std::vector<Span> OpenSpans(const v1::SubjectState& state) {
  std::vector<Span> out;
  switch (state.state_case()) {
    case v1::SubjectState::kUnit:
      AddUnit(state.unit(), &out);
      break;
    case v1::SubjectState::kPart:
      AddPart(state.part(), &out);
      break;
    case v1::SubjectState::kLot:
      AddBook(state.lot().book(), &out);
      break;
    case v1::SubjectState::kItem:
      AddBook(state.item().book(), &out);
      break;
    default:
      return out;
  }
  if (out.size() > 1) {
    std::sort(out.begin(), out.end());
    out.erase(std::unique(out.begin(), out.end()), out.end());
  }
  return out;
}

void NoteSpans(const fact::FactView& view, const v1::SubjectState& after, std::vector<Span>* open,
               SpanChanges* changes) {
  std::vector<Span> now = OpenSpans(after);
  if (now != *open) {
    std::vector<Span> gone;
    std::set_difference(open->begin(), open->end(), now.begin(), now.end(),
                        std::back_inserter(gone));
    for (Span& span : gone) End(std::move(span), view.happened_us, changes);
    std::set_difference(now.begin(), now.end(), open->begin(), open->end(),
                        std::back_inserter(changes->begun));
    *open = std::move(now);
  }
  if (after.has_lot()) {
    AddUse(view, after.lot().lot(), after.lot().item(), &changes->begun);
  } else if (after.has_item()) {
    AddUse(view, "", after.item().item(), &changes->begun);
  }
}

void Append(SpanChanges later, SpanChanges* changes) {
  if (later.all) {
    *changes = std::move(later);
    return;
  }
  for (Span& span : later.ended) {
    const int64_t at_us = span.to_us;
    span.to_us = kLasts;
    End(std::move(span), at_us, changes);
  }
  std::move(later.begun.begin(), later.begun.end(), std::back_inserter(changes->begun));
}

}  // namespace ferrule::fold
