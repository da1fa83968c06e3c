#include "core/ledger/refold.h"

#include <algorithm>
#include <condition_variable>
#include <deque>
#include <mutex>
#include <optional>
#include <thread>

#include "absl/strings/str_cat.h"
#include "core/fact/subject.h"
#include "core/fold/fold.h"
#include "core/ledger/group.h"
#include "core/ledger/prepared.h"
#include "core/ledger/queries.h"
#include "core/time/civil.h"
#include "google/protobuf/arena.h"

namespace ferrule::ledger {
namespace {

using store::Value;

constexpr int kPage = 2'000;       // entries a statement
constexpr size_t kPagesAhead = 8;  // pages parsed and not yet folded

// Entries parsed into one arena, which frees them together.
struct Page {
  google::protobuf::Arena arena;
  std::vector<v1::LedgerEntry*> entries;
};

absl::Status Unreadable(int64_t sequence) {
  return absl::DataLossError(
      absl::StrCat("entry ", sequence, " of the ledger cannot be read; run: ferruled verify"));
}

// Reads and parses the ledger page by page.
absl::Status ReadPages(store::Connection& connection, int64_t through_sequence,
                       const std::function<absl::Status(const RawEntry&)>& on_raw,
                       const std::function<void(std::unique_ptr<Page>)>& on_page) {
  int64_t after = 0;
  while (after < through_sequence) {
    auto page = std::make_unique<Page>();
    absl::Status problem;
    int rows = 0;
    const Value parameters[] = {Value::Int(after), Value::Int(kPage)};
    absl::Status status =
        connection.Run(sql::kEntriesAfter, parameters, [&](const store::Row& row) {
          ++rows;
          const int64_t sequence = row.Int(0);
          if (!problem.ok() || sequence > through_sequence) return;
          after = sequence;
          std::string_view bytes = row.Bytes(2);
          if (on_raw) {
            problem = on_raw({sequence, row.Int(1), std::string(bytes), std::string(row.Bytes(3))});
            if (!problem.ok()) return;
          }
          auto* entry = google::protobuf::Arena::CreateMessage<v1::LedgerEntry>(&page->arena);
          if (!entry->ParseFromArray(bytes.data(), static_cast<int>(bytes.size())) ||
              entry->sequence() != sequence) {
            problem = Unreadable(sequence);
            return;
          }
          page->entries.push_back(entry);
        });
    if (!status.ok()) return status;
    if (!problem.ok()) return problem;
    if (rows == 0 && through_sequence == INT64_MAX) return absl::OkStatus();
    if (rows == 0) {
      return absl::DataLossError(absl::StrCat("the ledger ends at entry ", after,
                                              " although its head says ", through_sequence));
    }
    if (page->entries.empty()) return absl::OkStatus();
    on_page(std::move(page));
  }
  return absl::OkStatus();
}

// Hands pages from the reading thread to the folding one.
class PageQueue {
 public:
  void Put(std::unique_ptr<Page> page) {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [this] { return pages_.size() < kPagesAhead; });
    pages_.push_back(std::move(page));
    changed_.notify_all();
  }
  void Close(absl::Status status) {
    std::lock_guard lock(mutex_);
    closed_ = std::move(status);
    changed_.notify_all();
  }
  // Null at the end.
  std::unique_ptr<Page> Take() {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [this] { return !pages_.empty() || closed_.has_value(); });
    if (pages_.empty()) return nullptr;
    auto page = std::move(pages_.front());
    pages_.pop_front();
    changed_.notify_all();
    return page;
  }
  absl::Status status() {
    std::lock_guard lock(mutex_);
    return closed_.value_or(absl::OkStatus());
  }

 private:
  std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<std::unique_ptr<Page>> pages_;
  std::optional<absl::Status> closed_;
};

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

absl::Status Refolder::Run(store::Connection& connection, const depot::SettingsBook* book,
                           int64_t through_sequence,
                           const std::function<absl::Status(const RawEntry&)>& on_raw,
                           const std::function<void(int64_t)>& progress) {
  book_ = book;
  if (book_ == nullptr) {
    absl::Status status = FoldSettings(connection, through_sequence);
    if (!status.ok()) return status;
  }
  PageQueue queue;
  std::thread reader([&] {
    queue.Close(ReadPages(connection, through_sequence, on_raw,
                          [&](std::unique_ptr<Page> page) { queue.Put(std::move(page)); }));
  });
  while (std::unique_ptr<Page> page = queue.Take()) {
    for (const v1::LedgerEntry* entry : page->entries) Add(*entry);
    if (progress) progress(page->entries.back()->sequence());
  }
  reader.join();
  absl::Status status = queue.status();
  if (!status.ok()) return status;
  status = FoldLate(connection, through_sequence);
  if (!status.ok() || own_book_ == nullptr) return status;
  // The settings were looked for by the index; when that index is what is broken, the fold itself
  // says which settings there are, and everything is folded with those.
  auto it = slots_.find(absl::string_view(fact::kSettingsName.data(), fact::kSettingsName.size()));
  if (it == slots_.end()) return status;
  auto found = std::make_unique<depot::SettingsBook>(fold::BookOf(*it->second.state));
  if (depot::FirstDifference(*own_book_, *found) == INT64_MAX) return status;
  *this = Refolder();
  own_book_ = std::move(found);
  return Run(connection, own_book_.get(), through_sequence, nullptr, progress);
}

// The settings decide how other facts are judged, so their fold comes first.
absl::Status Refolder::FoldSettings(store::Connection& connection, int64_t through_sequence) {
  std::vector<v1::LedgerEntry> entries;
  absl::Status status = connection.Run(sql::kSettingsEntries, {}, [&](const store::Row& row) {
    if (row.Int(0) > through_sequence) return;
    v1::LedgerEntry entry;
    std::string_view bytes = row.Bytes(1);
    // An unreadable entry is found and named when the ledger is read from its beginning.
    if (entry.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()))) {
      entries.push_back(std::move(entry));
    }
  });
  if (!status.ok()) return status;
  std::vector<fact::FactView> views;
  for (const v1::LedgerEntry& entry : entries) {
    for (int i = 0; i < entry.entry().facts_size(); ++i) {
      for (const std::string& name : fact::SubjectsOf(entry.entry().facts(i))) {
        if (name != fact::kSettingsName) continue;
        views.push_back(
            ViewOf(entry.entry(), i, time::ToMicros(entry.recorded_time()), entry.sequence()));
      }
    }
  }
  own_book_ = std::make_unique<depot::SettingsBook>(
      fold::BookOf(fold::Fold(fact::kSettingsName, std::move(views), depot::SettingsBook())));
  book_ = own_book_.get();
  return absl::OkStatus();
}

void Refolder::Add(const v1::LedgerEntry& entry) {
  ++entry_count_;
  const int64_t recorded_us = time::ToMicros(entry.recorded_time());
  for (int i = 0; i < entry.entry().facts_size(); ++i) {
    ++fact_count_;
    const fact::FactView view = ViewOf(entry.entry(), i, recorded_us, entry.sequence());
    for (std::string& name : fact::SubjectsOf(view.fact())) {
      auto [it, is_new] = slots_.try_emplace(std::move(name));
      Slot& slot = it->second;
      if (is_new) {
        slot.id = next_id_++;
        slot.state = std::make_shared<v1::SubjectState>(fold::Empty(it->first));
      }
      slot.sequence = entry.sequence();
      fact_subject_sum_ += MixRow(slot.id, entry.sequence(), i, view.fact().what_case());
      ++fact_subject_count_;
      if (slot.late) continue;
      if (fold::InOrder(view, *slot.state)) {
        fold::Apply(view, *book_, slot.state.get());
      } else {
        slot.late = true;
      }
    }
  }
}

// Second reading, for the subjects that have late facts or reversals.
absl::Status Refolder::FoldLate(store::Connection& connection, int64_t through_sequence) {
  absl::flat_hash_map<std::string, std::vector<fact::FactView>> late;
  for (const auto& [name, slot] : slots_) {
    if (slot.late) late.try_emplace(name);
  }
  if (late.empty()) return absl::OkStatus();
  std::vector<std::unique_ptr<Page>> kept;
  absl::Status status =
      ReadPages(connection, through_sequence, nullptr, [&](std::unique_ptr<Page> page) {
        for (const v1::LedgerEntry* entry : page->entries) {
          const int64_t recorded_us = time::ToMicros(entry->recorded_time());
          for (int i = 0; i < entry->entry().facts_size(); ++i) {
            for (const std::string& name : fact::SubjectsOf(entry->entry().facts(i))) {
              auto it = late.find(name);
              if (it == late.end()) continue;
              it->second.push_back(ViewOf(entry->entry(), i, recorded_us, entry->sequence()));
            }
          }
        }
        kept.push_back(std::move(page));
      });
  if (!status.ok()) return status;
  for (auto& [name, views] : late) {
    *slots_[name].state = fold::Fold(name, std::move(views), *book_);
  }
  return absl::OkStatus();
}

absl::StatusOr<int64_t> RefoldInTransaction(store::Connection& writer,
                                            const depot::SettingsBook* book,
                                            const std::function<void(int64_t)>& progress) {
  // The entry that changed the settings may be written already, its head row too.
  absl::StatusOr<HeadRow> head = ReadHead(writer);
  if (!head.ok()) return head.status();
  Refolder refolder;
  absl::Status status = refolder.Run(writer, book, head->sequence, nullptr, progress);
  if (!status.ok()) return status;
  std::vector<StateRow> rows;
  for (const auto& [name, slot] : refolder.slots()) {
    rows.push_back({slot.id, slot.sequence, slot.state, nullptr});
  }
  std::sort(rows.begin(), rows.end(),
            [](const StateRow& a, const StateRow& b) { return a.id < b.id; });
  status = writer.Run(sql::kDropStates, {});
  constexpr size_t kRowsAtOnce = 5'000;
  for (size_t i = 0; status.ok() && i < rows.size(); i += kRowsAtOnce) {
    const auto end = rows.begin() + static_cast<int64_t>(std::min(rows.size(), i + kRowsAtOnce));
    status = WriteStateRows(writer, refolder.book(), {rows.begin() + static_cast<int64_t>(i), end});
  }
  if (!status.ok()) return status;
  return refolder.fact_count();
}

}  // namespace ferrule::ledger
