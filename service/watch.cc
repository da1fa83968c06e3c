#include "service/watch.h"

#include <algorithm>
#include <cstdint>
#include <string>
#include <utility>

#include "absl/strings/str_cat.h"
#include "grpcpp/support/slice.h"
#include "service/errors.h"
#include "service/limits.h"

namespace ferrule::service {
namespace {

// Protobuf wire types.
constexpr uint64_t kVarint = 0;
constexpr uint64_t kLengthDelimited = 2;

void AppendVarint(uint64_t value, std::string* out) {
  while (value >= 0x80) {
    out->push_back(static_cast<char>(value | 0x80));
    value >>= 7;
  }
  out->push_back(static_cast<char>(value));
}

// Appends a stored entry as it is: the bytes that were chained are the bytes that are sent.
void AppendEntry(std::string_view bytes, std::string* out) {
  AppendVarint(v1::WatchEntriesResponse::kEntriesFieldNumber << 3 | kLengthDelimited, out);
  AppendVarint(bytes.size(), out);
  out->append(bytes);
}

grpc::ByteBuffer ToBuffer(const std::string& message) {
  grpc::Slice slice(message);
  return grpc::ByteBuffer(&slice, 1);
}

void AppendThrough(int64_t through, std::string* out) {
  AppendVarint(v1::WatchEntriesResponse::kThroughSequenceFieldNumber << 3 | kVarint, out);
  AppendVarint(static_cast<uint64_t>(through), out);
}

absl::StatusOr<FeedPage> ReadPage(ledger::Ledger& ledger, int64_t after) {
  FeedPage page{after, after, {}};
  std::string message;
  bool gap = false;
  const absl::Status status = ledger.Read(after, "", [&](const ledger::Recorded& entry) {
    if (entry.sequence != page.through + 1) {
      gap = true;
      return false;
    }
    if (!message.empty() && message.size() + entry.bytes.size() > kMaxPageBytes) return false;
    AppendEntry(entry.bytes, &message);
    page.through = entry.sequence;
    return message.size() < kMaxPageBytes;
  });
  if (!status.ok()) return status;
  if (gap) {
    return absl::DataLossError(absl::StrCat("entry ", page.through + 1,
                                            " is missing from the ledger; run: ferruled verify"));
  }
  AppendThrough(page.through, &message);
  page.bytes = ToBuffer(message);
  return page;
}

// Whether the ledger has an entry at that position, asked of the store: what other processes
// recorded a moment ago may not have come to this one's notice.
absl::StatusOr<bool> Has(ledger::Ledger& ledger, int64_t sequence) {
  bool found = false;
  const absl::Status status = ledger.Read(sequence - 1, "", [&](const ledger::Recorded& entry) {
    found = entry.sequence == sequence;
    return false;
  });
  if (!status.ok()) return status;
  return found;
}

}  // namespace

// One feed. It reads the next page on a worker, sends it, and only then reads on: a slow reader
// costs one page of memory and holds up nobody.
class WatchHub::Watch final : public Stream {
 public:
  Watch(WatchHub* hub, OnLane* lane, StreamCall* call, int64_t after)
      : hub_(*hub), lane_(*lane), call_(*call), sent_(after) {
    lane_.watches.push_back(this);
  }
  ~Watch() override {
    lane_.watches.erase(std::find(lane_.watches.begin(), lane_.watches.end(), this));
    --hub_.open_;
  }

  void Wake() {
    if (busy_ || call_.over()) return;
    if (sent_ >= hub_.head_.load()) return;
    busy_ = true;
    call_.HoldWork();
    call_.shared().pool->PostAlways([this] {
      auto page = hub_.PageAfter(sent_);
      call_.lane().Post([this, got = std::move(page)] {
        Arrived(got);
        call_.ReleaseWork();
      });
    });
  }

  void Written() override {
    busy_ = false;
    Wake();
  }

  // Also the first thing that a feed does: its first message confirms where it begins.
  void Tick() override {
    Wake();
    if (busy_ || absl::Now() - last_sent_ < hub_.progress_) return;
    std::string message;
    AppendThrough(sent_, &message);
    Send(ToBuffer(message));
  }

  void Drain() override { call_.Finish(errors::Draining(sent_)); }

 private:
  void Arrived(const absl::StatusOr<std::shared_ptr<const FeedPage>>& page) {
    busy_ = false;
    if (call_.over()) return;
    if (!page.ok()) return call_.Finish(page.status());
    if ((*page)->through == sent_) return;  // nothing after all
    sent_ = (*page)->through;
    Send((*page)->bytes);
  }
  void Send(const grpc::ByteBuffer& message) {
    busy_ = true;
    last_sent_ = absl::Now();
    call_.Write(message);
  }

  WatchHub& hub_;
  OnLane& lane_;
  StreamCall& call_;
  int64_t sent_;
  bool busy_ = false;  // reading or writing
  absl::Time last_sent_ = absl::InfinitePast();
};

WatchHub::WatchHub(ledger::Ledger* ledger, absl::Duration progress)
    : ledger_(*ledger), progress_(progress), head_(ledger->head().sequence) {
  subscription_ = ledger_.Subscribe([this](int64_t head) { Committed(head); });
  // A commit between the two lines above is caught here.
  Committed(ledger_.head().sequence);
}

WatchHub::~WatchHub() { subscription_.reset(); }

absl::StatusOr<std::unique_ptr<Stream>> WatchHub::Open(StreamCall& call,
                                                       const v1::WatchEntriesRequest& request) {
  const int64_t after = request.after_sequence();
  if (after < 0) {
    return errors::FieldInvalid("after_sequence",
                                "is negative; give the last position seen, or 0 for the beginning");
  }
  const int64_t head = ledger_.head().sequence;
  if (after > head) {
    const absl::StatusOr<bool> has = Has(ledger_, after);
    if (!has.ok()) return has.status();
    if (!*has) return errors::SequenceBeyondHead(after, head);
  }
  Committed(std::max(head, after));
  if (++open_ > kMaxWatches) {
    --open_;
    return errors::TooManyWatches();
  }
  return std::make_unique<Watch>(this, Of(&call.lane()), &call, after);
}

WatchHub::OnLane* WatchHub::Of(Lane* lane) {
  const std::lock_guard<std::mutex> lock(mutex_);
  OnLane& entry = lanes_[lane];
  entry.lane = lane;
  return &entry;
}

void WatchHub::Committed(int64_t head) {
  int64_t known = head_.load();
  while (known < head && !head_.compare_exchange_weak(known, head)) {
  }
  if (open_.load() == 0) return;
  const std::lock_guard<std::mutex> lock(mutex_);
  for (auto& [lane, entry] : lanes_) {
    if (entry.woken.exchange(true)) continue;
    lane->Post([on_lane = &entry] {
      on_lane->woken.store(false);
      for (Watch* watch : on_lane->watches) watch->Wake();
    });
  }
}

absl::StatusOr<std::shared_ptr<const FeedPage>> WatchHub::PageAfter(int64_t after) {
  {
    const std::lock_guard<std::mutex> lock(mutex_);
    if (newest_ != nullptr && newest_->after == after) return newest_;
  }
  absl::StatusOr<FeedPage> read = ReadPage(ledger_, after);
  if (!read.ok()) return read.status();
  auto page = std::make_shared<const FeedPage>(*std::move(read));
  if (page->through > after) {
    const std::lock_guard<std::mutex> lock(mutex_);
    newest_ = page;
  }
  return page;
}

}  // namespace ferrule::service
