#include "cli/render_stores.h"

#include "absl/strings/str_cat.h"
#include "cli/goods_flags.h"
#include "cli/render_words.h"
#include "core/fact/words.h"

namespace ferrule::cli {
namespace {

std::string Goods(const v1::StockLine& line) {
  return absl::StrCat(line.piece_count(), " ", GoodsName(line.item(), line.lot()));
}

void AddTransfer(const v1::TransferState& transfer, absl::TimeZone zone, Fields* fields) {
  fields->Add("from", transfer.from_place());
  fields->Add("to", transfer.to_place());
  fields->Add("sent", StampWords(transfer.sent(), zone));
  fields->Add("arrived", StampWords(transfer.received(), zone));
  fields->Add("arrived at", transfer.arrived_place());
  fields->Add("seal", transfer.seal());
  fields->Add("carrier", transfer.carrier());
  fields->Add("units", Joined(transfer.units()));
  for (const v1::StockLine& line : transfer.lines()) fields->Add("goods", Goods(line));
  fields->Add("units not there", Joined(transfer.open_units()));
  for (const v1::StockLine& line : transfer.open_lines()) {
    fields->Add("goods not there", Goods(line));
  }
}

void AddCount(const v1::CountState& count, absl::TimeZone zone, Fields* fields) {
  fields->Add("places", Joined(count.places()));
  fields->Add("cut-off", Local(count.cut_off_time(), zone));
  fields->Add("opened", StampWords(count.opened(), zone));
  for (const v1::CountTally& tally : count.tallies()) {
    fields->Add("tally", absl::StrCat(tally.place(), ", round ", tally.round(), ", ",
                                      StampWords(tally.tallied(), zone)));
  }
  fields->Add("closed", StampWords(count.closed(), zone));
  fields->Add("approved by", count.approved_by());
}

void AddRecall(const v1::RecallState& recall, absl::TimeZone zone, Fields* fields) {
  fields->Add("notice", recall.notice());
  fields->Add("source", recall.source());
  fields->Add("dated", Day(recall.notice_date()));
  fields->Add("models", Joined(recall.scope().models()));
  for (const v1::SerialRange& range : recall.scope().serials()) {
    fields->Add("serials", absl::StrCat(range.first(), " to ", range.last()));
  }
  fields->Add("parts", Joined(recall.scope().parts()));
  fields->Add("part lots", Joined(recall.scope().part_lots()));
  fields->Add("lots", Joined(recall.scope().lots()));
  fields->Add("units", Joined(recall.scope().units()));
  fields->Add("hazard", recall.hazard());
  fields->Add("asked for", recall.instruction());
  fields->Add("exercise", recall.exercise() ? "yes" : "");
  fields->Add("opened", StampWords(recall.opened(), zone));
  fields->Add("outcomes noted", absl::StrCat(recall.outcome_count()));
  fields->Add("closed", StampWords(recall.closed(), zone));
  fields->Add("closed because", recall.closed_because());
}

void AddComplaint(const v1::ComplaintState& complaint, absl::TimeZone zone, Fields* fields) {
  fields->Add("about", complaint.subject());
  fields->Add("kind", std::string(fact::ComplaintKindWords(complaint.kind())));
  fields->Add("branch", complaint.branch());
  fields->Add("from", std::string(fact::ComplaintSourceWords(complaint.source())));
  fields->Add("harm", std::string(fact::HarmWords(complaint.harm())));
  fields->Add("words", complaint.words());
  fields->Add("received", StampWords(complaint.received(), zone));
  fields->Add("first answer", StampWords(complaint.answered(), zone));
  fields->Add("answered by", complaint.answered_how());
  fields->Add("closed", StampWords(complaint.closed(), zone));
  if (!complaint.has_closed()) return;
  fields->Add("outcome", std::string(fact::ComplaintOutcomeWords(complaint.outcome())));
  fields->Add("done", complaint.done());
  fields->Add("looked into by", complaint.investigator());
}

}  // namespace

void AddBookFields(const v1::StockBook& book, absl::TimeZone zone, Fields* fields) {
  if (!book.followed()) return;
  fields->Add("received",
              absl::StrCat(book.received_count(), ", first ", StampWords(book.received(), zone)));
  fields->Add("use by", Day(book.expiry_date()));
  for (const v1::StockAtPlace& at : book.at()) {
    fields->Add(at.place().empty() ? "at no stated place" : absl::StrCat("at ", at.place()),
                absl::StrCat(at.piece_count(), at.piece_count() < 0 ? ", below zero" : ""));
  }
  for (const v1::StockOnTheWay& way : book.on_the_way()) {
    fields->Add("on the way", absl::StrCat(way.piece_count(), " with ", way.transfer()));
  }
  const auto count = [fields](const char* name, int64_t pieces) {
    if (pieces != 0) fields->Add(name, absl::StrCat(pieces));
  };
  count("to patients", book.issued_count());
  count("own use", book.own_use_count());
  count("came back", book.returned_count());
  count("thrown away", book.discarded_count());
  count("counted more", book.gained_count());
  count("counted fewer", book.lost_count());
}

void AddStoresFields(const v1::SubjectState& state, absl::TimeZone zone, Fields* fields) {
  switch (state.state_case()) {
    case v1::SubjectState::kItem:
      return AddBookFields(state.item().book(), zone, fields);
    case v1::SubjectState::kTransfer:
      return AddTransfer(state.transfer(), zone, fields);
    case v1::SubjectState::kCount:
      return AddCount(state.count(), zone, fields);
    case v1::SubjectState::kRecall:
      return AddRecall(state.recall(), zone, fields);
    case v1::SubjectState::kComplaint:
      return AddComplaint(state.complaint(), zone, fields);
    case v1::SubjectState::kPlace:
      for (const v1::ClosetUse& use : state.place().uses()) {
        fields->Add("used, no papers",
                    absl::StrCat(use.piece_count(), " ",
                                 use.item().empty() ? use.device_class() : use.item(), ", ",
                                 StampWords(use.reported(), zone)));
      }
      return;
    default:
      return;
  }
}

}  // namespace ferrule::cli
