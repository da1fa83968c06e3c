#include "core/ledger/pages.h"

#include <condition_variable>
#include <deque>
#include <mutex>
#include <thread>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/ledger/parallel.h"
#include "core/ledger/queries.h"

namespace ferrule::ledger {
namespace {

using store::Value;

constexpr int kEntriesOfPage = 2'000;      // read by one statement
constexpr size_t kPagesAhead = 8;          // read and not yet given out
constexpr size_t kArenaBlock = 256 << 10;  // a page takes several of them

google::protobuf::ArenaOptions LargeBlocks() {
  google::protobuf::ArenaOptions options;
  options.start_block_size = options.max_block_size = kArenaBlock;
  return options;
}

absl::Status Unreadable(int64_t sequence) {
  return absl::DataLossError(
      absl::StrCat("entry ", sequence, " of the ledger cannot be read; run: ferruled verify"));
}

// A page on its way: rows read, then entries.
struct Draft {
  struct Row {
    int64_t sequence;
    size_t size;
  };
  std::vector<Row> rows;
  std::string bytes;  // of the rows, one after the other

  bool parsed = false;
  absl::Status problem;
  std::unique_ptr<Page> page;
};

void Parse(Draft* draft) {
  draft->page = std::unique_ptr<Page>(new Page{google::protobuf::Arena(LargeBlocks()), {}});
  draft->page->entries.reserve(draft->rows.size());
  const char* at = draft->bytes.data();
  for (const Draft::Row& row : draft->rows) {
    auto* entry = google::protobuf::Arena::CreateMessage<v1::LedgerEntry>(&draft->page->arena);
    if (!entry->ParseFromArray(at, static_cast<int>(row.size)) ||
        entry->sequence() != row.sequence) {
      draft->problem = Unreadable(row.sequence);
      return;
    }
    draft->page->entries.push_back(entry);
    at += row.size;
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
    auto draft = std::make_unique<Draft>();
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
          draft->rows.push_back({sequence, bytes.size()});
          draft->bytes.append(bytes);
        });
    if (!status.ok()) return status;
    if (!problem.ok()) return problem;
    if (!any && through_sequence == INT64_MAX) return absl::OkStatus();
    if (!any) {
      return absl::DataLossError(absl::StrCat("the ledger ends at entry ", after,
                                              " although its head says ", through_sequence));
    }
    if (draft->rows.empty() || !line->Put(std::move(draft))) return absl::OkStatus();
  }
  return absl::OkStatus();
}

}  // namespace

absl::Status ReadPages(store::Connection& connection, int64_t through_sequence,
                       const std::function<absl::Status(const RawEntry&)>& on_raw,
                       const std::function<void(std::unique_ptr<Page>)>& on_page) {
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
    on_page(std::move(draft->page));
  }
  line.GiveUp();
  for (std::thread& thread : threads) thread.join();
  return problem.ok() ? line.status() : problem;
}

}  // namespace ferrule::ledger
