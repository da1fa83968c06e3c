#include "tests/bench/paced.h"

#include <chrono>
#include <cmath>
#include <list>
#include <memory>

#include "tests/bench/depots.h"
#include "tests/bench/process.h"

namespace ferrule::bench {
namespace {

using Clock = std::chrono::system_clock;

struct Pace {
  int64_t under_way = 0;
  int64_t counted_from = 0;
  PacedResult result;
};

class PacedCall final : public Happening {
 public:
  PacedCall(Pace* pace, int64_t number, Clock::time_point due)
      : pace_(*pace), number_(number), due_(due) {}

  void Begin(v1::LedgerService::StubInterface& stub, grpc::CompletionQueue* queue, int units) {
    v1::RecordRequest request;
    *request.mutable_entry() = NextMove(units);
    ++pace_.under_way;
    reader_ = stub.AsyncRecord(&context_, request, queue);
    reader_->Finish(&response_, &status_, static_cast<Happening*>(this));
  }

  void Happened(bool) override {
    if (!status_.ok()) GiveUp("a call failed: " + status_.error_message());
    const std::chrono::duration<double, std::milli> waited = Clock::now() - due_;
    if (number_ >= pace_.counted_from) pace_.result.waits_ms.push_back(waited.count());
    --pace_.under_way;
    delete this;
  }

 private:
  Pace& pace_;
  const int64_t number_;
  const Clock::time_point due_;
  grpc::ClientContext context_;
  std::unique_ptr<grpc::ClientAsyncResponseReaderInterface<v1::RecordResponse>> reader_;
  v1::RecordResponse response_;
  grpc::Status status_;
};

}  // namespace

PacedResult RecordAtRate(v1::LedgerService::StubInterface& stub, grpc::CompletionQueue& queue,
                         int units, double per_s, double seconds) {
  Pace pace;
  const auto all = static_cast<int64_t>(std::ceil(per_s * seconds));
  pace.counted_from = all / 10;
  const Clock::time_point start = Clock::now();
  const auto due = [&](int64_t n) {
    return start + std::chrono::duration_cast<Clock::duration>(
                       std::chrono::duration<double>(static_cast<double>(n) / per_s));
  };
  while (pace.result.sent < all || pace.under_way > 0) {
    while (pace.result.sent < all && due(pace.result.sent) <= Clock::now()) {
      // Goes when it has been answered.
      auto* call = new PacedCall(&pace, pace.result.sent, due(pace.result.sent));
      call->Begin(stub, &queue, units);
      ++pace.result.sent;
    }
    void* tag = nullptr;
    bool ok = false;
    const Clock::time_point until =
        pace.result.sent < all ? due(pace.result.sent) : Clock::now() + std::chrono::seconds(60);
    if (queue.AsyncNext(&tag, &ok, until) == grpc::CompletionQueue::GOT_EVENT) {
      static_cast<Happening*>(tag)->Happened(ok);
    }
  }
  return std::move(pace.result);
}

}  // namespace ferrule::bench
