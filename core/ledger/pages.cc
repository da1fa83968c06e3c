#include "core/ledger/pages.h"

#include <condition_variable>
#include <deque>
#include <memory>
#include <mutex>
#include <thread>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/ledger/chain.h"
#include "core/ledger/parallel.h"
#include "core/ledger/queries.h"
#include "google/protobuf/arena.h"

namespace ferrule::ledger {
namespace {

using store::Value;

constexpr int kEntriesOfPage = 500;     // read by one statement
constexpr size_t kPagesAhead = 8;       // read and not yet given out
constexpr size_t kPageBlock = 1 << 20;  // of memory for parsed entries; a page seldom needs more

google::protobuf::ArenaOptions Over(char* block) {
  google::protobuf::ArenaOptions options;
  options.initial_block = block;
  options.initial_block_size = kPageBlock;
  options.start_block_size = options.max_block_size = kPageBlock / 4;
  return options;
}

absl::Status Unreadable(int64_t sequence) {
  return absl::DataLossError(
      absl::StrCat("entry ", sequence, " of the ledger cannot be read; run: ferruled verify"));
}

// A page on its way: rows read, then entries; and used again, since fresh memory costs more than
// parsing does.
struct Draft {
  void Clear() {
    page.rows.clear();
    page.bytes.clear();
    page.entries.clear();
    page.misfiled.clear();
    arena.Reset();
    parsed = false;
  }

  std::unique_ptr<char[]> block = std::make_unique_for_overwrite<char[]>(kPageBlock);
  google::protobuf::Arena arena{Over(block.get())};
  Page page;
  bool parsed = false;
  absl::Status problem;
};

void Parse(Draft* draft) {
  Page& page = draft->page;
  for (const Page::Row& row : page.rows) {
    auto* entry = google::protobuf::Arena::CreateMessage<v1::LedgerEntry>(&draft->arena);
    if (!entry->ParseFromArray(page.bytes.data() + row.offset, static_cast<int>(row.size)) ||
        entry->sequence() != row.sequence) {
      draft->problem = Unreadable(row.sequence);
      return;
    }
    page.entries.push_back(entry);
    const int64_t key = EntryKey(entry->entry().entry_id());
    if (key != row.key) page.misfiled.push_back({row.sequence, key});
  }
}

// Drafts between the thread that reads, those that parse, and the one that takes them in order.
class Line {
 public:
  // Waits while enough are on their way; false when nobody wants more.
  bool Put(std::unique_ptr<Draft> draft) {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [this] { return given_up_ || drafts_.size() < kPagesAhead; });
    if (given_up_) return false;
    drafts_.push_back(std::move(draft));
    changed_.notify_all();
    return true;
  }
  // An empty draft, used before when there is one.
  std::unique_ptr<Draft> Blank() {
    const std::lock_guard lock(mutex_);
    if (spare_.empty()) return std::make_unique<Draft>();
    std::unique_ptr<Draft> draft = std::move(spare_.back());
    spare_.pop_back();
    return draft;
  }
  void GiveBack(std::unique_ptr<Draft> draft) {
    draft->Clear();
    const std::lock_guard lock(mutex_);
    spare_.push_back(std::move(draft));
  }
  void Close(absl::Status status) {
    const std::lock_guard lock(mutex_);
    closed_ = true;
    status_ = std::move(status);
    changed_.notify_all();
  }
  void GiveUp() {
    const std::lock_guard lock(mutex_);
    given_up_ = true;
    changed_.notify_all();
  }
  // What a parsing thread does until the end.
  void ParseAll() {
    std::unique_lock lock(mutex_);
    for (;;) {
      changed_.wait(lock, [this] { return given_up_ || closed_ || begun_ < end(); });
      if (given_up_ || begun_ == end()) return;
      Draft* draft = drafts_[begun_++ - taken_].get();
      lock.unlock();
      Parse(draft);
      lock.lock();
      draft->parsed = true;
      changed_.notify_all();
    }
  }
  // The next draft, parsed; null at the end.
  std::unique_ptr<Draft> Take() {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [this] { return drafts_.empty() ? closed_ : drafts_.front()->parsed; });
    if (drafts_.empty()) return nullptr;
    std::unique_ptr<Draft> draft = std::move(drafts_.front());
    drafts_.pop_front();
    ++taken_;
    changed_.notify_all();
    return draft;
  }
  absl::Status status() {
    const std::lock_guard lock(mutex_);
    return status_;
  }

 private:
  size_t end() const { return taken_ + drafts_.size(); }

  std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<std::unique_ptr<Draft>> drafts_;
  std::vector<std::unique_ptr<Draft>> spare_;
  size_t taken_ = 0;  // drafts gone out
  size_t begun_ = 0;  // drafts that a thread parses or has parsed, those gone out included
  bool closed_ = false;
  bool given_up_ = false;
  absl::Status status_;
};

// Reads rows into drafts until the end, an error, or nobody wants more.
absl::Status ReadRows(store::Connection& connection, int64_t through_sequence,
                      const std::function<absl::Status(const RawEntry&)>& on_raw, Line* line) {
  for (int64_t after = 0; after < through_sequence;) {
    std::unique_ptr<Draft> draft = line->Blank();
    Page& page = draft->page;
    absl::Status problem;
    bool any = false;
    const Value parameters[] = {Value::Int(after), Value::Int(kEntriesOfPage)};
    absl::Status status =
        connection.Run(sql::kEntriesAfter, parameters, [&](const store::Row& row) {
          any = true;
          const int64_t sequence = row.Int(0);
          if (!problem.ok() || sequence > through_sequence) return;
          after = sequence;
          const std::string_view bytes = row.Bytes(2);
          if (on_raw) problem = on_raw({sequence, row.Int(1), bytes, row.Bytes(3)});
          if (!problem.ok()) return;
          page.rows.push_back({sequence, row.Int(4), static_cast<uint32_t>(page.bytes.size()),
                               static_cast<uint32_t>(bytes.size())});
          page.bytes.append(bytes);
        });
    if (!status.ok()) return status;
    if (!problem.ok()) return problem;
    if (!any && through_sequence == INT64_MAX) return absl::OkStatus();
    if (!any) {
      return absl::DataLossError(absl::StrCat("the ledger ends at entry ", after,
                                              " although its head says ", through_sequence));
    }
    if (page.rows.empty() || !line->Put(std::move(draft))) return absl::OkStatus();
  }
  return absl::OkStatus();
}

}  // namespace

absl::Status ReadPages(store::Connection& connection, int64_t through_sequence,
                       const std::function<absl::Status(const RawEntry&)>& on_raw,
                       const std::function<void(Page&)>& on_page) {
  Line line;
  std::vector<std::thread> threads;
  threads.emplace_back([&] { line.Close(ReadRows(connection, through_sequence, on_raw, &line)); });
  for (int i = 0; i < ThreadCount(); ++i) threads.emplace_back([&] { line.ParseAll(); });
  absl::Status problem;
  while (std::unique_ptr<Draft> draft = line.Take()) {
    if (!draft->problem.ok()) {
      problem = draft->problem;
      break;
    }
    on_page(draft->page);
    line.GiveBack(std::move(draft));
  }
  line.GiveUp();
  for (std::thread& thread : threads) thread.join();
  return problem.ok() ? line.status() : problem;
}

}  // namespace ferrule::ledger
