#include "core/ledger/chain_check.h"

#include <algorithm>

#include "absl/strings/str_cat.h"
#include "core/ledger/chain.h"
#include "core/ledger/queries.h"
#include "core/time/civil.h"
#include "ferrule/v1/ledger_service.pb.h"

namespace ferrule::ledger {
namespace {

constexpr int64_t kTail = 200;  // entries that every start looks at

}  // namespace

absl::Status ChainCheck::Break(int64_t sequence, std::string why) {
  broken_sequence_ = sequence;
  broken_ = std::move(why);
  return absl::DataLossError(broken_);
}

absl::Status ChainCheck::See(const RawEntry& entry) {
  if (entry.sequence != sequence_ + 1) {
    return Break(sequence_ + 1, absl::StrCat("entry ", sequence_ + 1, " is missing"));
  }
  if (ChainDigest(digest_, entry.bytes) != entry.digest) {
    return Break(entry.sequence,
                 "its bytes do not give its digest: it, or the digest, was "
                 "changed after it was recorded");
  }
  v1::LedgerEntry parsed;
  if (!parsed.ParseFromArray(entry.bytes.data(), static_cast<int>(entry.bytes.size())) ||
      parsed.sequence() != entry.sequence) {
    return Break(entry.sequence, "its bytes are no entry with that position");
  }
  if (time::ToMicros(parsed.recorded_time()) != entry.recorded_us) {
    return Break(entry.sequence, "the time it is listed under is not the one in its bytes");
  }
  if (entry.recorded_us < recorded_us_) {
    return Break(entry.sequence, "it was recorded before the entry in front of it");
  }
  sequence_ = entry.sequence;
  digest_ = std::string(entry.digest);
  recorded_us_ = entry.recorded_us;
  return HoldAgainstAnchors();
}

absl::Status ChainCheck::HoldAgainstAnchors() {
  for (const Anchor& anchor : anchors_) {
    if (anchor.sequence != sequence_ || anchor.digest == digest_) continue;
    return Break(sequence_,
                 "the digest noted elsewhere for it is another one: it, or an entry before it, was "
                 "replaced and the chain written anew");
  }
  return absl::OkStatus();
}

absl::Status ChainCheck::End(const HeadRow& head) {
  if (head.sequence != sequence_ || head.digest != digest_) {
    return Break(std::min(head.sequence, sequence_) + 1,
                 absl::StrCat("the ledger's head says ", head.sequence,
                              " entries, and the entries end at ", sequence_));
  }
  for (const Anchor& anchor : anchors_) {
    if (anchor.sequence <= sequence_) continue;
    return Break(sequence_ + 1, absl::StrCat("entry ", anchor.sequence,
                                             " was noted elsewhere, and the ledger "
                                             "ends at ",
                                             sequence_, ": its tail was cut off"));
  }
  return absl::OkStatus();
}

absl::Status CheckTail(store::Connection& connection) {
  absl::Status status = connection.Begin(store::TransactionKind::kRead);
  if (!status.ok()) return status;
  const auto look = [&connection]() -> absl::Status {
    const absl::StatusOr<HeadRow> head = ReadHead(connection);
    if (!head.ok()) return head.status();
    const int64_t first = std::max<int64_t>(head->sequence - kTail, 1);
    ChainCheck check;
    absl::Status broken;
    bool begun = false;
    const store::Value parameters[] = {store::Value::Int(first - 1), store::Value::Int(kTail + 2)};
    absl::Status read = connection.Run(sql::kEntriesAfter, parameters, [&](const store::Row& row) {
      if (!broken.ok()) return;
      if (!begun && first > 1) {
        // The digest of the first one stands for everything before it.
        if (row.Int(0) == first) check = ChainCheck(first, row.Bytes(3));
        begun = true;
        if (row.Int(0) == first) return;
      }
      begun = true;
      broken = check.See({row.Int(0), row.Int(1), row.Bytes(2), row.Bytes(3)});
    });
    if (!read.ok()) return read;
    return broken.ok() ? check.End(*head) : broken;
  };
  status = look();
  connection.Rollback().IgnoreError();
  if (!absl::IsDataLoss(status)) return status;
  return absl::DataLossError(absl::StrCat(
      "the ledger's last entries do not fit together (", std::string(status.message()),
      "). Nothing was written. Run: ferruled verify, and restore the last good backup"));
}

}  // namespace ferrule::ledger
