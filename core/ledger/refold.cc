#include "core/ledger/refold.h"

#include <algorithm>
#include <utility>

#include "core/fact/subject.h"
#include "core/fold/fold.h"
#include "core/ledger/group.h"
#include "core/ledger/parallel.h"
#include "core/ledger/prepared.h"
#include "core/ledger/queries.h"
#include "core/ledger/state_cache.h"
#include "core/time/civil.h"

namespace ferrule::ledger {
namespace {

constexpr size_t kRowsAtOnce = 5'000;

}  // namespace

uint64_t Refolder::MixRow(int64_t subject_id, int64_t sequence, int64_t index, int64_t kind) {
  // splitmix64 over the four numbers: a row more, less or changed shows in the sum.
  uint64_t x = 0;
  for (int64_t part : {subject_id, sequence, index, kind}) {
    x += static_cast<uint64_t>(part) + 0x9e3779b97f4a7c15u;
    x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9u;
    x = (x ^ (x >> 27)) * 0x94d049bb133111ebu;
    x ^= x >> 31;
  }
  return x;
}

absl::Status Refolder::Run(store::Connection& connection, int64_t through_sequence,
                           const std::function<absl::Status(const RawEntry&)>& on_raw,
                           const std::function<void(int64_t)>& progress) {
  std::vector<std::unique_ptr<Page>> pages;  // the facts that slots point to
  absl::Status status =
      ReadPages(connection, through_sequence, on_raw, [&](std::unique_ptr<Page> page) {
        for (const v1::LedgerEntry* entry : page->entries) Gather(*entry);
        if (progress) progress(page->entries.back()->sequence());
        pages.push_back(std::move(page));
      });
  if (!status.ok()) return status;
  // The settings decide how other facts are judged.
  if (auto it = by_name_.find({fact::kSettingsName.data(), fact::kSettingsName.size()});
      it != by_name_.end()) {
    FoldSlot(it->second);
    book_ = fold::BookOf(*it->second->state);
  }
  InParallel(slots_.size(), [&](size_t begin, size_t end) {
    for (size_t i = begin; i < end; ++i) {
      if (slots_[i].state == nullptr) FoldSlot(&slots_[i]);
    }
  });
  return absl::OkStatus();
}

const Refolder::Slot* Refolder::Find(std::string_view name) const {
  const auto it = by_name_.find({name.data(), name.size()});
  return it == by_name_.end() ? nullptr : it->second;
}

void Refolder::Gather(const v1::LedgerEntry& entry) {
  const int64_t recorded_us = time::ToMicros(entry.recorded_time());
  for (int i = 0; i < entry.entry().facts_size(); ++i) {
    ++fact_count_;
    const fact::FactView view = ViewOf(entry.entry(), i, recorded_us, entry.sequence());
    fact::ForEachSubject(view.fact(), [&](fact::SubjectKind kind, std::string_view id) {
      fact::PutSubjectName(kind, id, &name_);
      Slot& slot = SlotOf(name_);
      slot.sequence = entry.sequence();
      slot.facts.push_back(view);
      fact_subject_sum_ += MixRow(slot.id, entry.sequence(), i, view.fact().what_case());
      ++fact_subject_count_;
    });
  }
}

Refolder::Slot& Refolder::SlotOf(const std::string& name) {
  if (auto it = by_name_.find(name); it != by_name_.end()) return *it->second;
  Slot& slot = slots_.emplace_back();
  slot.name = name;
  slot.id = static_cast<int64_t>(slots_.size());
  by_name_.emplace(slot.name, &slot);
  return slot;
}

void Refolder::FoldSlot(Slot* slot) const {
  slot->state = NewState();
  fold::Fold(slot->name, std::exchange(slot->facts, {}), book_, slot->state.get());
}

absl::StatusOr<int64_t> RefoldInTransaction(store::Connection& writer,
                                            const std::function<void(int64_t)>& progress) {
  // The entry that changed the settings may be written already, its head row too.
  absl::StatusOr<HeadRow> head = ReadHead(writer);
  if (!head.ok()) return head.status();
  Refolder refolder;
  absl::Status status = refolder.Run(writer, head->sequence, nullptr, progress);
  if (status.ok()) status = writer.Run(sql::kDropStates, {});
  const std::deque<Refolder::Slot>& slots = refolder.slots();
  for (size_t i = 0; status.ok() && i < slots.size(); i += kRowsAtOnce) {
    std::vector<StateRow> rows;
    for (size_t j = i; j < std::min(slots.size(), i + kRowsAtOnce); ++j) {
      rows.push_back({slots[j].id, slots[j].sequence, slots[j].state, nullptr});
    }
    status = WriteStateRows(writer, refolder.book(), rows);
  }
  if (!status.ok()) return status;
  return refolder.fact_count();
}

}  // namespace ferrule::ledger
