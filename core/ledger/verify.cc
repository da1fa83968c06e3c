// Verify and rebuild: the ledger against itself, the states against the ledger.
#include <algorithm>
#include <deque>
#include <functional>
#include <optional>
#include <vector>

#include "absl/strings/str_cat.h"
#include "core/fact/counted.h"
#include "core/fold/columns.h"
#include "core/ledger/chain_check.h"
#include "core/ledger/group.h"
#include "core/ledger/ledger.h"
#include "core/ledger/queries.h"
#include "core/ledger/refold.h"
#include "core/ledger/span_rows.h"
#include "core/ledger/whole.h"
#include "core/store/integrity.h"
#include "core/store/migrate.h"

namespace ferrule::ledger {
namespace {

constexpr size_t kMostDiffering = 20;

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

constexpr size_t kKeysAtOnce = 500;

// A repeat of an entry that stands under another key is not recognised.
absl::Status FileAnew(store::Connection& writer, const std::vector<Page::Misfiled>& misfiled) {
  for (size_t i = 0; i < misfiled.size(); i += kKeysAtOnce) {
    std::vector<store::Value> rows;
    for (size_t j = i; j < std::min(misfiled.size(), i + kKeysAtOnce); ++j) {
      rows.push_back(store::Value::Int(misfiled[j].key));
      rows.push_back(store::Value::Int(misfiled[j].sequence));
    }
    const absl::Status status =
        writer.RunMany(sql::kPutEntryKey, 2, rows, [](size_t, const store::Row&) {});
    if (!status.ok()) return status;
  }
  return absl::OkStatus();
}

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
  if (strays > 0)
    differs(
        fact::Counted(strays, "interval belongs to no subject", "intervals belong to no subject"));
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
  for (const Page::Misfiled& row : refolder.misfiled()) {
    differs(absl::StrCat("entry ", row.sequence,
                         ": it is not filed under its id, and sent again it would be recorded a "
                         "second time"));
  }
  absl::Status status = reader.Run(sql::kAllStates, {}, [&](const store::Row& row) {
    ++report->states;
    const std::string name(row.Bytes(1));
    const Refolder::Slot* found = refolder.Find(name);
    if (found == nullptr) {
      differs(absl::StrCat(name, ": stored, but no fact names it"));
      return;
    }
    const Refolder::Slot& slot = *found;
    fold::Columns columns = slot.columns;
    columns.kind = 0;
    if (slot.id != row.Int(0)) differs(absl::StrCat(name, ": stored under another number"));
    if (slot.state != row.Bytes(2)) {
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

absl::StatusOr<WholeReport> CheckWhole(store::Database& database,
                                       const std::function<void(int64_t)>& progress,
                                       std::span<const Anchor> anchors) {
  auto reader = database.OpenReader();
  if (!reader.ok()) return reader.status();
  absl::Status status = store::CheckSchema(**reader);
  if (!status.ok()) return status;
  absl::StatusOr<std::vector<std::string>> faults = store::EngineFaults(**reader);
  if (!faults.ok()) return faults.status();
  status = (*reader)->Begin(store::TransactionKind::kRead);
  if (!status.ok()) return status;
  absl::StatusOr<HeadRow> head = ReadHead(**reader);
  if (!head.ok()) return head.status();

  WholeReport report;
  report.engine_faults = *std::move(faults);
  report.anchors = static_cast<int64_t>(anchors.size());
  ChainCheck chain(anchors);
  Refolder refolder;
  status = refolder.Run(
      **reader, INT64_MAX, [&chain](const RawEntry& entry) { return chain.See(entry); }, progress);
  if (chain.broken_sequence() == 0 && status.ok()) chain.End(*head).IgnoreError();
  report.entries = chain.sequence();
  report.facts = refolder.fact_count();
  report.first_broken_sequence = chain.broken_sequence();
  report.broken = chain.broken();
  if (chain.broken_sequence() != 0) return report;
  if (!status.ok()) return status;
  status = CompareStates(**reader, refolder, &report);
  if (!status.ok()) return status;
  return report;
}

absl::StatusOr<VerifyReport> Verify(store::Database& database,
                                    const std::function<void(int64_t)>& progress) {
  absl::StatusOr<WholeReport> report = CheckWhole(database, progress);
  if (!report.ok()) return report.status();
  if (!report->engine_faults.empty()) return absl::DataLossError(report->engine_faults.front());
  return VerifyReport(*report);
}

namespace {

absl::StatusOr<HeadRow> StoredRow(store::Database& database) {
  auto reader = database.OpenReader();
  if (!reader.ok()) return reader.status();
  if (absl::Status status = store::CheckSchema(**reader); !status.ok()) return status;
  return ReadHead(**reader);
}

}  // namespace

absl::StatusOr<Head> StoredHead(store::Database& database) {
  const absl::StatusOr<HeadRow> row = StoredRow(database);
  if (!row.ok()) return row.status();
  Head head;
  head.sequence = row->sequence;
  head.digest = row->digest;
  head.recorded_us = row->recorded_us;
  return head;
}

absl::StatusOr<std::string> StoredEpoch(store::Database& database) {
  const absl::StatusOr<HeadRow> row = StoredRow(database);
  if (!row.ok()) return row.status();
  return row->epoch;
}

absl::StatusOr<int64_t> Rebuild(store::Database& database,
                                const std::function<void(int64_t)>& progress) {
  auto writer = database.OpenWriter();
  if (!writer.ok()) return writer.status();
  absl::Status status = store::CheckVersion(**writer);
  if (status.ok()) status = (*writer)->Begin(store::TransactionKind::kWrite);
  if (!status.ok()) return status;
  const absl::StatusOr<Refolded> refolded = RefoldInTransaction(**writer, progress);
  status = refolded.status();
  if (status.ok()) status = FileAnew(**writer, refolded->misfiled);
  if (status.ok()) status = store::Rebuilt(**writer);
  if (status.ok()) status = (*writer)->Commit();
  if (status.ok()) return refolded->facts;
  (*writer)->Rollback().IgnoreError();
  return status;
}

}  // namespace ferrule::ledger
