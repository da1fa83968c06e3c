// A transfer and its two ends.
#include <algorithm>
#include <string>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "core/stock/fold.h"

namespace ferrule::stock {
namespace {

bool SameGoods(const v1::StockLine& a, const v1::StockLine& b) {
  return a.lot() == b.lot() && (!a.lot().empty() || a.item() == b.item());
}

void Send(const fact::FactView& view, const v1::TransferSent& f, finding::Raiser* raiser,
          v1::TransferState* transfer) {
  if (transfer->has_sent()) {
    // Another parcel under the same number: this one stays as it is.
    return raiser->Raise(v1::REASON_TRANSFER_NUMBER_IN_USE, {{"item", f.transfer()}},
                         {&transfer->sent()});
  }
  finding::SetStamp(view, transfer->mutable_sent());
  transfer->set_from_place(f.from_place());
  transfer->set_to_place(f.to_place());
  *transfer->mutable_units() = f.units();
  std::sort(transfer->mutable_units()->begin(), transfer->mutable_units()->end());
  *transfer->mutable_lines() = f.lines();
  transfer->set_seal(f.seal());
  transfer->set_carrier(f.carrier());
  *transfer->mutable_open_units() = transfer->units();
  *transfer->mutable_open_lines() = f.lines();
}

// What arrived leaves the open list; pieces that were never sent are named.
void Arrive(const v1::StockLine& line, finding::Raiser* raiser, v1::TransferState* transfer) {
  int64_t left = line.piece_count();
  auto* open = transfer->mutable_open_lines();
  for (v1::StockLine& sent : *open) {
    if (!SameGoods(sent, line)) continue;
    const auto arrived = static_cast<int32_t>(std::min<int64_t>(left, sent.piece_count()));
    sent.set_piece_count(sent.piece_count() - arrived);
    left -= arrived;
  }
  open->erase(std::remove_if(open->begin(), open->end(),
                             [](const v1::StockLine& sent) { return sent.piece_count() == 0; }),
              open->end());
  if (left == 0) return;
  raiser->Raise(
      v1::REASON_NOT_SENT_WITH_TRANSFER,
      {{"subject", absl::StrCat(left, " ", line.item())}, {"item", transfer->transfer()}});
}

std::string Open(const v1::TransferState& transfer) {
  std::vector<std::string> open(transfer.open_units().begin(), transfer.open_units().end());
  for (const v1::StockLine& line : transfer.open_lines()) {
    open.push_back(absl::StrCat(line.piece_count(), " ", line.item()));
  }
  return absl::StrJoin(open, ", ");
}

void CheckSeal(const v1::TransferReceived& f, finding::Raiser* raiser,
               const v1::TransferState& transfer) {
  const bool other = !transfer.seal().empty() && f.seal() != transfer.seal();
  if (!other && !f.seal_broken()) return;
  const std::string found = f.seal_broken() ? "a broken one" : f.seal().empty() ? "none" : f.seal();
  raiser->Raise(v1::REASON_SEAL_DIFFERS,
                {{"item", transfer.transfer()}, {"expected", transfer.seal()}, {"found", found}});
}

void Receive(const fact::FactView& view, const v1::TransferReceived& f, finding::Raiser* raiser,
             v1::TransferState* transfer) {
  const bool sent = transfer->has_sent();
  finding::SetStamp(view, transfer->mutable_received());
  transfer->set_arrived_place(f.place());
  if (!sent) {
    return raiser->Raise(v1::REASON_NOT_SENT_WITH_TRANSFER,
                         {{"subject", "what arrived"}, {"item", transfer->transfer()}});
  }
  CheckSeal(f, raiser, *transfer);
  for (const std::string& unit : f.units()) {
    auto* open = transfer->mutable_open_units();
    const auto it = std::find(open->begin(), open->end(), unit);
    if (it == open->end()) {
      raiser->Raise(v1::REASON_NOT_SENT_WITH_TRANSFER,
                    {{"subject", unit}, {"item", transfer->transfer()}});
    } else {
      open->erase(it);
    }
  }
  for (const v1::StockLine& line : f.lines()) Arrive(line, raiser, transfer);
  const std::string open = Open(*transfer);
  if (open.empty()) return;
  raiser->Raise(v1::REASON_TRANSFER_SHORT, {{"item", transfer->transfer()}, {"list", open}});
}

}  // namespace

void ApplyToTransfer(const fact::FactView& view, finding::Raiser* raiser,
                     v1::TransferState* transfer) {
  const v1::Fact& fact = view.fact();
  if (fact.has_transfer_sent()) return Send(view, fact.transfer_sent(), raiser, transfer);
  if (fact.has_transfer_received()) Receive(view, fact.transfer_received(), raiser, transfer);
}

}  // namespace ferrule::stock
