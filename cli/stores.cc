// Stores commands: goods come, move, go; transfers, closets, seals, purposes.
#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "cli/catalog.h"
#include "cli/goods_flags.h"
#include "cli/report.h"
#include "cli/values.h"

namespace ferrule::cli {
namespace {

const Positional kItem{"ITEM", "item of the stores, for instance pad-set"};
const Positional kPieces{"PIECES", "how many pieces"};

// The fields that every fact about goods has.
template <typename Fact>
void ReadLot(const Line& line, Values& values, Fact& fact) {
  fact.set_item(line.Arg("ITEM"));
  fact.set_piece_count(static_cast<int32_t>(values.WholeIn("PIECES")));
  IfGiven(line.Get("--lot"), [&](const std::string& v) { fact.set_lot(v); });
}

absl::Status StockIn(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::StockReceived& fact = *report->Add()->mutable_stock_received();
  ReadLot(line, values, fact);
  fact.set_place(line.Arg("PLACE"));
  IfGiven(values.Day("--expiry"),
          [&](const google::type::Date& v) { *fact.mutable_expiry_date() = v; });
  IfGiven(line.Get("--supplier"), [&](const std::string& v) { fact.set_supplier(v); });
  if (!values.status().ok()) return values.status();
  return report->Send();
}

absl::Status StockMove(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::StockMoved& fact = *report->Add()->mutable_stock_moved();
  ReadLot(line, values, fact);
  fact.set_from_place(line.Arg("FROM"));
  fact.set_to_place(line.Arg("TO"));
  if (!values.status().ok()) return values.status();
  return report->Send();
}

absl::Status StockIssue(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::StockIssued& fact = *report->Add()->mutable_stock_issued();
  ReadLot(line, values, fact);
  fact.set_place(line.Arg("PLACE"));
  IfGiven(line.Get("--order"), [&](const std::string& v) { fact.set_order(v); });
  IfGiven(line.Get("--reason"), [&](const std::string& v) { fact.set_reason(v); });
  if (!values.status().ok()) return values.status();
  return report->Send();
}

absl::Status StockReturn(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::StockReturned& fact = *report->Add()->mutable_stock_returned();
  ReadLot(line, values, fact);
  fact.set_place(line.Arg("PLACE"));
  fact.set_order(line.Arg("ORDER"));
  if (!values.status().ok()) return values.status();
  return report->Send();
}

absl::Status StockDiscard(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::StockDiscarded& fact = *report->Add()->mutable_stock_discarded();
  ReadLot(line, values, fact);
  fact.set_place(line.Arg("PLACE"));
  fact.set_reason(line.Arg("REASON"));
  if (!values.status().ok()) return values.status();
  return report->Send();
}

absl::Status TransferSend(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::TransferSent& fact = *report->Add()->mutable_transfer_sent();
  fact.set_transfer(line.Arg("TRANSFER"));
  fact.set_from_place(line.Arg("FROM"));
  fact.set_to_place(line.Arg("TO"));
  for (const std::string& unit : line.All("--unit")) fact.add_units(unit);
  ReadGoods(line, values, fact.mutable_lines());
  IfGiven(line.Get("--seal"), [&](const std::string& v) { fact.set_seal(v); });
  IfGiven(line.Get("--carrier"), [&](const std::string& v) { fact.set_carrier(v); });
  if (!values.status().ok()) return values.status();
  return report->Send();
}

absl::Status TransferReceive(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::TransferReceived& fact = *report->Add()->mutable_transfer_received();
  fact.set_transfer(line.Arg("TRANSFER"));
  fact.set_place(line.Arg("PLACE"));
  for (const std::string& unit : line.All("--unit")) fact.add_units(unit);
  ReadGoods(line, values, fact.mutable_lines());
  IfGiven(line.Get("--seal"), [&](const std::string& v) { fact.set_seal(v); });
  fact.set_seal_broken(line.Has("--seal-broken"));
  if (!values.status().ok()) return values.status();
  return report->Send();
}

absl::Status ClosetUse(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::ClosetUseReported& fact = *report->Add()->mutable_closet_use_reported();
  fact.set_place(line.Arg("PLACE"));
  IfGiven(line.Get("--class"), [&](const std::string& v) { fact.set_device_class(v); });
  IfGiven(line.Get("--item"), [&](const std::string& v) { fact.set_item(v); });
  fact.set_piece_count(static_cast<int32_t>(values.Whole("--pieces").value_or(1)));
  IfGiven(line.Get("--chase"), [&](const std::string& v) { fact.set_chase(v); });
  if (!values.status().ok()) return values.status();
  return report->Send();
}

absl::Status ClosetSettle(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::ClosetUseSettled& fact = *report->Add()->mutable_closet_use_settled();
  fact.set_place(line.Arg("PLACE"));
  fact.mutable_fact()->set_entry_id(line.Arg("ENTRY"));
  fact.mutable_fact()->set_index(static_cast<int32_t>(values.Whole("--fact").value_or(0)));
  IfGiven(line.Get("--order"), [&](const std::string& v) { fact.set_order(v); });
  IfGiven(line.Get("--reason"), [&](const std::string& v) { fact.set_reason(v); });
  if (!values.status().ok()) return values.status();
  return report->Send();
}

absl::Status SealBroken(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  v1::SealBroken& fact = *report->Add()->mutable_seal_broken();
  fact.set_unit(line.Arg("UNIT"));
  IfGiven(line.Get("--seal"), [&](const std::string& v) { fact.set_seal(v); });
  IfGiven(line.Get("--seen"), [&](const std::string& v) { fact.set_words(v); });
  return report->Send(fact.unit());
}

absl::Status Purpose(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::PurposeChanged& fact = *report->Add()->mutable_purpose_changed();
  fact.set_unit(line.Arg("UNIT"));
  fact.set_purpose(values.OneOfIn<v1::Purpose>("PURPOSE"));
  IfGiven(line.Get("--owner"), [&](const std::string& v) { fact.set_owner(v); });
  IfGiven(values.Day("--return-by"),
          [&](const google::type::Date& v) { *fact.mutable_return_date() = v; });
  for (const std::string& paper : line.All("--paper")) fact.add_papers(paper);
  IfGiven(line.Get("--reason"), [&](const std::string& v) { fact.set_reason(v); });
  if (!values.status().ok()) return values.status();
  return report->Send(fact.unit());
}

void AddGoodsCommands(Catalog* catalog) {
  constexpr auto kGroup = Group::kStores;
  const Positional at{"PLACE", "where they are"};
  const Flag order{"--order", "ORDER", "the patient's order"};
  const Flag reason{"--reason", "TEXT", "what for"};
  catalog->push_back({"stock-in",
                      kGroup,
                      Kind::kRecords,
                      "take goods into the stores",
                      {kItem, {"PLACE", "where they are put"}, kPieces},
                      {kLotFlag,
                       {"--expiry", "DAY", "last day on which they may be used"},
                       {"--supplier", "NAME", "from whom"}},
                      "ferrule stock-in pad-set north-shelf 50 --lot L5 --expiry 2027-01-31",
                      StockIn});
  catalog->push_back({"stock-move",
                      kGroup,
                      Kind::kRecords,
                      "put goods in another place",
                      {kItem, {"FROM", "where they were"}, {"TO", "where they are now"}, kPieces},
                      {kLotFlag},
                      "ferrule stock-move pad-set north-shelf north-closet 10 --lot L5",
                      StockMove});
  catalog->push_back({"stock-issue",
                      kGroup,
                      Kind::kRecords,
                      "give goods out without a unit",
                      {kItem, at, kPieces},
                      {kLotFlag, order, reason},
                      "ferrule stock-issue walker north-shelf 1 --order R-2001",
                      StockIssue});
  catalog->push_back({"stock-return",
                      kGroup,
                      Kind::kRecords,
                      "take goods back from a patient; never what is for one patient only",
                      {kItem, {"PLACE", "where they are put"}, kPieces, {"ORDER", "the order"}},
                      {kLotFlag},
                      "ferrule stock-return walker north-dock 1 R-2001",
                      StockReturn});
  catalog->push_back({"stock-discard",
                      kGroup,
                      Kind::kRecords,
                      "throw goods away",
                      {kItem, at, kPieces, {"REASON", "why, in quotes"}},
                      {kLotFlag},
                      "ferrule stock-discard pad-set north-shelf 4 expired --lot L5",
                      StockDiscard});
}

void AddMovingCommands(Catalog* catalog) {
  constexpr auto kGroup = Group::kStores;
  const Positional transfer{"TRANSFER", "the transfer's number"};
  const Positional closet{"PLACE", "the closet"};
  catalog->push_back({"transfer-send",
                      kGroup,
                      Kind::kRecords,
                      "send units and goods to another branch",
                      {transfer, {"FROM", "where they stood"}, {"TO", "where they are to arrive"}},
                      {kUnitsFlag,
                       kGoodsFlag,
                       {"--seal", "NUMBER", "number of the seal"},
                       {"--carrier", "NAME", "who carries them"}},
                      "ferrule transfer-send T-4 north-shelf west-dock --unit K-0417 --seal Z-5",
                      TransferSend});
  catalog->push_back({"transfer-receive",
                      kGroup,
                      Kind::kRecords,
                      "take in what arrived, as it was found",
                      {transfer, {"PLACE", "where it is put"}},
                      {kUnitsFlag,
                       kGoodsFlag,
                       {"--seal", "NUMBER", "number of the seal as found"},
                       {"--seal-broken", "", "the seal was broken: the units count as soiled"}},
                      "ferrule transfer-receive T-4 west-dock --unit K-0417 --seal Z-5",
                      TransferReceive});
  catalog->push_back({"closet-use",
                      kGroup,
                      Kind::kRecords,
                      "say that something out of a closet was used and the papers are not here",
                      {closet},
                      {{"--class", "CLASS", "class of the device that was used"},
                       {"--item", "ITEM", "item of the stores that was used"},
                       {"--pieces", "N", "how many; default 1"},
                       {"--chase", "TEXT", "who is asked for the papers; never a patient"}},
                      "ferrule closet-use north-closet --class knee --chase 'ward 4'",
                      ClosetUse});
  catalog->push_back({"closet-settle",
                      kGroup,
                      Kind::kRecords,
                      "say that the papers of such a use came",
                      {closet, {"ENTRY", "the entry that reported the use"}},
                      {{"--fact", "N", "which fact of it; default 0"},
                       {"--order", "ORDER", "the order under which it was used"},
                       {"--reason", "TEXT", "how it was settled"}},
                      "ferrule closet-settle north-closet ENTRY --order R-2001",
                      ClosetSettle});
  catalog->push_back(
      {"seal-broken",
       kGroup,
       Kind::kRecords,
       "say that the seal of a unit's bag is broken: it counts as soiled",
       {{"UNIT", "the unit's tag"}},
       {{"--seal", "NUMBER", "number of the seal"}, {"--seen", "TEXT", "what was seen"}},
       "ferrule seal-broken K-0417 --seen 'bag torn'",
       SealBroken});
  catalog->push_back(
      {"purpose",
       kGroup,
       Kind::kRecords,
       "change what a unit is on the books for, from a day on",
       {{"UNIT", "the unit's tag"}, {"PURPOSE", "rental, demonstration, loaner or cross-rented"}},
       {{"--owner", "NAME", "who owns it"},
        {"--return-by", "DAY", "day by which a rented-in unit goes back"},
        {"--paper", "TEXT", "paper that its owner gave with it", true},
        {"--reason", "TEXT", "why"}},
       "ferrule purpose K-0417 cross-rented --owner partner --return-by 2026-06-30",
       Purpose});
}

}  // namespace

void AddStoresCommands(Catalog* catalog) {
  AddGoodsCommands(catalog);
  AddMovingCommands(catalog);
}

}  // namespace ferrule::cli
