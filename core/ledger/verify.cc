// Verify and rebuild: the ledger against itself, the states against the ledger.
#include <deque>
#include <functional>
#include <optional>
#include <vector>

#include "absl/strings/str_cat.h"
#include "core/fold/columns.h"
#include "core/ledger/chain.h"
#include "core/ledger/group.h"
#include "core/ledger/ledger.h"
#include "core/ledger/queries.h"
#include "core/ledger/refold.h"
#include "core/ledger/span_rows.h"
#include "core/store/migrate.h"

namespace ferrule::ledger {
namespace {

constexpr size_t kMostDiffering = 20;

// Follows the chain row by row and remembers the first break.
class ChainCheck {
 public:
  absl::Status See(const RawEntry& entry) {
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
    if (entry.recorded_us < recorded_us_) {
      return Break(entry.sequence, "it was recorded before the entry in front of it");
    }
    sequence_ = entry.sequence;
    digest_ = std::string(entry.digest);
    recorded_us_ = entry.recorded_us;
    return absl::OkStatus();
  }
  absl::Status Break(int64_t sequence, std::string why) {
    broken_sequence_ = sequence;
    broken_ = std::move(why);
    return absl::DataLossError(broken_);
  }

  int64_t sequence_ = 0;
  std::string digest_;
  int64_t recorded_us_ = INT64_MIN;
  int64_t broken_sequence_ = 0;
  std::string broken_;
};

fold::Columns ColumnsFromRow(const store::Row& row) {
  auto day = [&row](int column) {
    return row.IsNull(column) ? std::nullopt : std::optional<int64_t>(row.Int(column));
  };
  fold::Columns c;
  c.branch = row.Bytes(3);
  c.place = row.Bytes(4);
  c.model = row.Bytes(5);
  c.device_class = row.Bytes(6);
  c.serial = row.Bytes(7);
  c.partner = row.Bytes(8);
  c.custody = static_cast<int>(row.Int(9));
  c.hygiene = static_cast<int>(row.Int(10));
  c.condition = static_cast<int>(row.Int(11));
  c.commitment = static_cast<int>(row.Int(12));
  c.status = static_cast<int>(row.Int(13));
  c.due_day = day(14);
  c.due_basis = static_cast<int>(row.Int(15));
  c.needed_day = day(16);
  c.failed_pickups = static_cast<int>(row.Int(17));
  c.questions = static_cast<int>(row.Int(18));
  return c;
}

using Differs = std::function<void(std::string)>;

absl::Status CompareSpans(store::Connection& reader, const Refolder& refolder,
                          const Differs& differs) {
  const std::deque<Refolder::Slot>& slots = refolder.slots();
  std::vector<SpanSum> stored(slots.size());  // by number, which counts from 1
  int64_t strays = 0;
  absl::Status status = reader.Run(sql::kAllSpans, {}, [&](const store::Row& row) {
    const int64_t id = row.Int(0);
    if (id < 1 || id > static_cast<int64_t>(slots.size())) {
      ++strays;
    } else {
      stored[static_cast<size_t>(id) - 1].Add(SpanFromRow(row, 1));
    }
  });
  if (!status.ok()) return status;
  if (strays > 0) differs(absl::StrCat(strays, " intervals belong to no subject"));
  for (size_t i = 0; i < slots.size(); ++i) {
    SpanSum folded;
    for (const fold::Span& span : UnpackSpans(slots[i].spans)) folded.Add(span);
    if (folded == stored[i]) continue;
    differs(absl::StrCat(slots[i].name, ": the stored intervals are not those of its facts"));
  }
  return absl::OkStatus();
}

absl::Status CompareStates(store::Connection& reader, const Refolder& refolder,
                           VerifyReport* report) {
  auto differs = [report](std::string what) {
    if (report->differing_states.size() < kMostDiffering) {
      report->differing_states.push_back(std::move(what));
    }
  };
  absl::Status status = reader.Run(sql::kAllStates, {}, [&](const store::Row& row) {
    ++report->states;
    const std::string name(row.Bytes(1));
    const Refolder::Slot* found = refolder.Find(name);
    if (found == nullptr) {
      differs(absl::StrCat(name, ": stored, but no fact names it"));
      return;
    }
    const Refolder::Slot& slot = *found;
    fold::Columns columns = fold::ColumnsOf(*slot.state, refolder.book());
    columns.kind = 0;
    if (slot.id != row.Int(0)) differs(absl::StrCat(name, ": stored under another number"));
    if (slot.state->SerializeAsString() != row.Bytes(2)) {
      differs(absl::StrCat(name, ": the stored state is not the fold of its facts"));
    } else if (columns != ColumnsFromRow(row)) {
      differs(absl::StrCat(name, ": the stored columns do not follow from its state"));
    }
  });
  if (!status.ok()) return status;
  if (report->states < static_cast<int64_t>(refolder.slots().size())) {
    differs(absl::StrCat(static_cast<int64_t>(refolder.slots().size()) - report->states,
                         " subjects of the ledger have no stored state"));
  }
  int64_t rows = 0;
  uint64_t sum = 0;
  status = reader.Run(sql::kAllFactSubjects, {}, [&](const store::Row& row) {
    ++rows;
    sum += Refolder::MixRow(row.Int(0), row.Int(1), row.Int(2), row.Int(3));
  });
  if (!status.ok()) return status;
  if (rows != refolder.fact_subject_count() || sum != refolder.fact_subject_sum()) {
    differs("the index of facts by subject does not match the ledger");
  }
  return CompareSpans(reader, refolder, differs);
}

}  // namespace

absl::StatusOr<VerifyReport> Verify(store::Database& database,
                                    const std::function<void(int64_t)>& progress) {
  auto reader = database.OpenReader();
  if (!reader.ok()) return reader.status();
  absl::Status status = store::CheckSchema(**reader);
  if (status.ok()) status = (*reader)->Begin(store::TransactionKind::kRead);
  if (!status.ok()) return status;
  absl::StatusOr<HeadRow> head = ReadHead(**reader);
  if (!head.ok()) return head.status();

  VerifyReport report;
  ChainCheck chain;
  Refolder refolder;
  status = refolder.Run(
      **reader, INT64_MAX, [&chain](const RawEntry& entry) { return chain.See(entry); }, progress);
  report.entries = chain.sequence_;
  report.facts = refolder.fact_count();
  if (chain.broken_sequence_ == 0 && status.ok() &&
      (head->sequence != chain.sequence_ || head->digest != chain.digest_)) {
    chain
        .Break(std::min(head->sequence, chain.sequence_) + 1,
               absl::StrCat("the ledger's head says ", head->sequence,
                            " entries, and the entries end at ", chain.sequence_))
        .IgnoreError();
  }
  report.first_broken_sequence = chain.broken_sequence_;
  report.broken = chain.broken_;
  if (chain.broken_sequence_ != 0) return report;
  if (!status.ok()) return status;
  status = CompareStates(**reader, refolder, &report);
  if (!status.ok()) return status;
  return report;
}

absl::StatusOr<int64_t> Rebuild(store::Database& database,
                                const std::function<void(int64_t)>& progress) {
  auto writer = database.OpenWriter();
  if (!writer.ok()) return writer.status();
  absl::Status status = store::CheckSchema(**writer);
  if (status.ok()) status = (*writer)->Begin(store::TransactionKind::kWrite);
  if (!status.ok()) return status;
  absl::StatusOr<int64_t> facts = RefoldInTransaction(**writer, progress);
  if (facts.ok()) {
    status = (*writer)->Commit();
    if (status.ok()) return facts;
  } else {
    status = facts.status();
  }
  (*writer)->Rollback().IgnoreError();
  return status;
}

}  // namespace ferrule::ledger
