#include "core/fact/stores_words.h"

namespace ferrule::fact {
namespace {

// "2 pad-set of lot L-3", "2 walker" where they are only counted.
template <typename Goods>
std::string GoodsWords(int64_t count, const Goods& goods) {
  std::string text = absl::StrCat(count, " ", goods.item());
  if (!goods.lot().empty()) absl::StrAppend(&text, " of lot ", goods.lot());
  return text;
}
template <typename Goods>
std::string GoodsWords(const Goods& goods) {
  return GoodsWords(goods.piece_count(), goods);
}

void AddLines(const google::protobuf::RepeatedPtrField<v1::StockLine>& lines, Line* line) {
  for (const v1::StockLine& one : lines) line->Detail("", GoodsWords(one));
}

}  // namespace

void Add(const v1::StockReceived& f, Line* line) {
  line->Word("", GoodsWords(f)).Word("at", f.place()).Detail("from", f.supplier());
  line->Day("use by", f.has_expiry_date(), f.expiry_date());
}
void Add(const v1::StockMoved& f, Line* line) {
  line->Word("", GoodsWords(f)).Word("from", f.from_place()).Word("to", f.to_place());
}
void Add(const v1::StockIssued& f, Line* line) {
  line->Word("", GoodsWords(f)).Word("from", f.place()).Word("for order", f.order());
  line->Detail("", f.reason());
}
void Add(const v1::StockReturned& f, Line* line) {
  line->Word("", GoodsWords(f)).Word("from order", f.order()).Word("to", f.place());
}
void Add(const v1::StockDiscarded& f, Line* line) {
  line->Word("", GoodsWords(f)).Word("from", f.place()).Detail("", f.reason());
}
void Add(const v1::StockAdjusted& f, Line* line) {
  const int64_t change = f.change_count();
  line->Word("", GoodsWords(change < 0 ? -change : change, f))
      .Word("", change < 0 ? "fewer" : "more");
  line->Word("at", f.place()).Detail("count", f.count()).Detail("approved by", f.approved_by());
}
void Add(const v1::TransferSent& f, Line* line) {
  line->Word("", f.transfer()).Word("from", f.from_place()).Word("to", f.to_place());
  line->All("", f.units());
  AddLines(f.lines(), line);
  line->Detail("seal", f.seal()).Detail("with", f.carrier());
}
void Add(const v1::TransferReceived& f, Line* line) {
  line->Word("", f.transfer()).Word("at", f.place()).All("", f.units());
  AddLines(f.lines(), line);
  line->Detail("seal", f.seal()).Detail("", f.seal_broken() ? "seal broken" : "");
}
void Add(const v1::ClosetUseReported& f, Line* line) {
  const std::string& what = f.item().empty() ? f.device_class() : f.item();
  line->Word("at", f.place()).Detail("", absl::StrCat(f.piece_count(), " ", what));
  line->Detail("papers from", f.chase());
}
void Add(const v1::ClosetUseSettled& f, Line* line) {
  line->Word("at", f.place())
      .Detail("", absl::StrCat(f.fact().entry_id(), " fact ", f.fact().index()));
  line->Detail("order", f.order()).Detail("", f.reason());
}
void Add(const v1::CountOpened& f, Line* line) {
  line->Word("", f.count()).All("of", f.places());
  line->Detail("cut-off",
               f.has_cut_off_time() ? time::FormatUtc(time::ToMicros(f.cut_off_time())) : "");
}
void Add(const v1::CountTallied& f, Line* line) {
  line->Word("for", f.count()).Word("at", f.place());
  if (f.round() > 1) line->Detail("round", absl::StrCat(f.round()));
  line->Count(f.units_size(), "unit", "units");
  AddLines(f.lines(), line);
  line->Count(f.unreadable_size(), "tag unreadable", "tags unreadable");
}
void Add(const v1::CountClosed& f, Line* line) {
  line->Word("", f.count()).Count(f.differences_size(), "difference", "differences");
  line->Detail("approved by", f.approved_by());
}
void Add(const v1::RecallOpened& f, Line* line) {
  const v1::RecallScope& scope = f.scope();
  line->Word("", f.recall()).Detail("", f.notice()).Detail("from", f.source());
  line->Day("dated", f.has_notice_date(), f.notice_date()).All("models", scope.models());
  for (const v1::SerialRange& range : scope.serials()) {
    line->Detail("serials", absl::StrCat(range.first(), " to ", range.last()));
  }
  line->All("parts", scope.parts()).All("part lots", scope.part_lots());
  line->All("lots", scope.lots()).All("units", scope.units());
  line->Detail("", f.exercise() ? "an exercise" : "").Detail("", f.instruction());
}
void Add(const v1::RecallOutcomeNoted& f, Line* line) {
  line->Word("", f.recall()).Word("for", f.subject()).Detail("", RecallOutcomeWords(f.outcome()));
  line->Detail("by", f.contact()).Detail("", f.evidence());
}
void Add(const v1::RecallClosed& f, Line* line) {
  line->Word("", f.recall()).Count(f.open_item_count(), "item open", "items open");
  line->Detail("", f.because());
}
void Add(const v1::SealBroken& f, Line* line) {
  line->Word("of", f.unit()).Detail("", f.seal()).Detail("", f.words());
}
void Add(const v1::PurposeChanged& f, Line* line) {
  line->Word("of", f.unit()).Word("to", PurposeWords(f.purpose())).Detail("owner", f.owner());
  line->Day("goes back by", f.has_return_date(), f.return_date()).All("papers", f.papers());
  line->Detail("", f.reason());
}

std::string_view RecallOutcomeWords(v1::RecallOutcome outcome) {
  switch (outcome) {
    case v1::RECALL_OUTCOME_UNSPECIFIED:
      return "not stated";
    case v1::RECALL_OUTCOME_CONTACTED:
      return "contacted";
    case v1::RECALL_OUTCOME_CORRECTED:
      return "corrected";
    case v1::RECALL_OUTCOME_RETURNED:
      return "sent back";
    case v1::RECALL_OUTCOME_DESTROYED:
      return "destroyed";
    case v1::RECALL_OUTCOME_NOT_COVERED:
      return "not covered";
    case v1::RECALL_OUTCOME_UNACCOUNTED:
      return "unaccounted";
    default:
      return "other";
  }
}

std::string_view CountExplanationWords(v1::CountExplanation explanation) {
  switch (explanation) {
    case v1::COUNT_EXPLANATION_UNSPECIFIED:
      return "not stated";
    case v1::COUNT_EXPLANATION_NONE:
      return "unexplained";
    case v1::COUNT_EXPLANATION_MOVED:
      return "moved";
    case v1::COUNT_EXPLANATION_LATER_SCAN:
      return "scanned later";
    case v1::COUNT_EXPLANATION_SWAP:
      return "swap";
    case v1::COUNT_EXPLANATION_OTHER_PLACE:
      return "other place";
    case v1::COUNT_EXPLANATION_MISREAD:
      return "misread";
    case v1::COUNT_EXPLANATION_LATE_PAPER:
      return "late paper";
    default:
      return "other";
  }
}

}  // namespace ferrule::fact
