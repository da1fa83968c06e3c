#include "core/ledger/refold.h"

#include <algorithm>
#include <utility>

#include "core/fact/subject.h"
#include "core/fold/fold.h"
#include "core/ledger/group.h"
#include "core/ledger/parallel.h"
#include "core/ledger/prepared.h"
#include "core/ledger/queries.h"
#include "core/ledger/span_rows.h"
#include "core/ledger/state_rows.h"
#include "core/time/civil.h"

namespace ferrule::ledger {
namespace {

constexpr size_t kRowsAtOnce = 500;
constexpr size_t kFoldBlock = 512 << 10;  // of memory for the entries of most subjects

absl::Status WriteSpans(store::Connection& writer, const std::deque<Refolder::Slot>& slots,
                        size_t begin, size_t end) {
  std::deque<fold::SpanChanges> changes;  // stay in place
  std::vector<std::pair<int64_t, const fold::SpanChanges*>> rows;
  for (size_t i = begin; i < end; ++i) {
    if (slots[i].spans.empty()) continue;
    changes.push_back({.all = false, .ended = {}, .begun = UnpackSpans(slots[i].spans)});
    rows.emplace_back(slots[i].id, &changes.back());
  }
  return WriteSpanChanges(writer, rows);
}

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
  absl::Status status = ReadPages(connection, through_sequence, on_raw, [&](Page& page) {
    Gather(page);
    if (progress) progress(page.rows.back().sequence);
  });
  if (!status.ok()) return status;
  // The settings decide how other facts are judged.
  if (auto it = by_name_.find({fact::kSettingsName.data(), fact::kSettingsName.size()});
      it != by_name_.end()) {
    google::protobuf::Arena arena;
    book_ = fold::BookOf(FoldSlot(it->second, &arena));
  }
  InParallel(slots_.size(), [&](size_t begin, size_t end) {
    const auto block = std::make_unique_for_overwrite<char[]>(kFoldBlock);
    google::protobuf::ArenaOptions options;
    options.initial_block = block.get();
    options.initial_block_size = kFoldBlock;
    google::protobuf::Arena arena(options);
    for (size_t i = begin; i < end; ++i) {
      if (!slots_[i].state.empty()) continue;
      FoldSlot(&slots_[i], &arena);
      arena.Reset();
    }
  });
  pages_.clear();
  return absl::OkStatus();
}

const Refolder::Slot* Refolder::Find(std::string_view name) const {
  const auto it = by_name_.find({name.data(), name.size()});
  return it == by_name_.end() ? nullptr : it->second;
}

void Refolder::Gather(Page& page) {
  for (size_t i = 0; i < page.rows.size(); ++i) {
    GatherEntry(*page.entries[i],
                {static_cast<uint32_t>(pages_.size()), page.rows[i].offset, page.rows[i].size, 0});
  }
  pages_.push_back(std::move(page.bytes));
  misfiled_.insert(misfiled_.end(), page.misfiled.begin(), page.misfiled.end());
}

void Refolder::GatherEntry(const v1::LedgerEntry& entry, Place place) {
  for (const v1::Fact& fact : entry.entry().facts()) {
    ++fact_count_;
    fact::ForEachSubject(fact, [&](fact::SubjectKind kind, std::string_view id) {
      Slot& slot = SlotOf(fact::SubjectName(kind, id));
      slot.sequence = entry.sequence();
      slot.facts.push_back(place);
      fact_subject_sum_ += MixRow(slot.id, entry.sequence(), place.fact_index, fact.what_case());
      ++fact_subject_count_;
    });
    ++place.fact_index;
  }
}

Refolder::Slot& Refolder::SlotOf(std::string name) {
  if (auto it = by_name_.find(name); it != by_name_.end()) return *it->second;
  Slot& slot = slots_.emplace_back();
  slot.name = std::move(name);
  slot.id = static_cast<int64_t>(slots_.size());
  by_name_.emplace(slot.name, &slot);
  return slot;
}

const v1::SubjectState& Refolder::FoldSlot(Slot* slot, google::protobuf::Arena* arena) const {
  std::vector<fact::FactView> views;
  views.reserve(slot->facts.size());
  const v1::LedgerEntry* entry = nullptr;
  Place last{};
  for (const Place& place : slot->facts) {
    if (entry == nullptr || place.page != last.page || place.offset != last.offset) {
      auto* parsed = google::protobuf::Arena::CreateMessage<v1::LedgerEntry>(arena);
      // It was parsed before, when it was read.
      parsed->ParseFromArray(pages_[place.page].data() + place.offset,
                             static_cast<int>(place.size));
      entry = parsed;
      last = place;
    }
    views.push_back(ViewOf(entry->entry(), place.fact_index, time::ToMicros(entry->recorded_time()),
                           entry->sequence()));
  }
  slot->facts = {};
  auto* state = google::protobuf::Arena::CreateMessage<v1::SubjectState>(arena);
  fold::SpanChanges spans;
  fold::Fold(slot->name, std::move(views), book_, state, &spans);
  for (const fold::Span& span : spans.begun) PackSpan(span, &slot->spans);
  state->SerializeToString(&slot->state);
  slot->columns = fold::ColumnsOf(*state, book_);
  return *state;
}

absl::StatusOr<Refolded> RefoldInTransaction(store::Connection& writer,
                                             const std::function<void(int64_t)>& progress) {
  // The entry that changed the settings may be written already, its head row too.
  absl::StatusOr<HeadRow> head = ReadHead(writer);
  if (!head.ok()) return head.status();
  Refolder refolder;
  absl::Status status = refolder.Run(writer, head->sequence, nullptr, progress);
  if (status.ok()) status = writer.Run(sql::kDropStates, {});
  if (status.ok()) status = writer.Run(sql::kDropSpans, {});
  const std::deque<Refolder::Slot>& slots = refolder.slots();
  for (size_t i = 0; status.ok() && i < slots.size(); i += kRowsAtOnce) {
    const size_t end = std::min(slots.size(), i + kRowsAtOnce);
    StateRows rows;
    for (size_t j = i; j < end; ++j) {
      rows.Add(slots[j].id, slots[j].sequence, slots[j].name, slots[j].state, slots[j].columns);
    }
    status = rows.Write(writer);
    if (status.ok()) status = WriteSpans(writer, slots, i, end);
  }
  if (!status.ok()) return status;
  return Refolded{refolder.fact_count(), refolder.misfiled()};
}

}  // namespace ferrule::ledger
