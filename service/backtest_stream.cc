#include "service/backtest_stream.h"

#include <utility>

#include "service/requests.h"

namespace ferrule::service {
namespace {

class BacktestStream final : public Stream {
 public:
  BacktestStream(std::shared_ptr<outlook::RecordsReader> reader, StreamCall* call,
                 v1::WatchBacktestRequest request)
      : reader_(std::move(reader)), call_(*call), request_(std::move(request)) {
    Step();
  }

  void Written() override {
    if (finished_) return call_.Finish(absl::OkStatus());
    Step();
  }
  void Tick() override {}
  void Drain() override {
    call_.Finish(absl::UnavailableError("the server ends; run the backtest again"));
  }

 private:
  void Step() {
    if (call_.over()) return;
    call_.HoldWork();
    call_.shared().pool->PostAlways([this] {
      absl::Status status = Work();
      call_.lane().Post([this, got = std::move(status)] {
        Arrived(got);
        call_.ReleaseWork();
      });
    });
  }

  // On a worker: begins, or scores one more past day.
  absl::Status Work() {
    if (test_ == nullptr) {
      auto begun = outlook::Backtest::Begin(reader_.get(), request_, NowUs());
      if (!begun.ok()) return begun.status();
      test_ = *std::move(begun);
      return absl::OkStatus();
    }
    return test_->Run(done_++);
  }

  int64_t NowUs() const { return call_.context().now_us; }

  void Arrived(const absl::Status& status) {
    if (call_.over()) return;
    if (!status.ok()) return call_.Finish(status);
    v1::WatchBacktestResponse response;
    response.set_done_count(done_);
    response.set_origin_count(test_->origins());
    if (done_ == test_->origins()) {
      *response.mutable_scores() = test_->Scores();
      finished_ = true;
    }
    call_.Write(Encode(response));
  }

  const std::shared_ptr<outlook::RecordsReader> reader_;
  StreamCall& call_;
  const v1::WatchBacktestRequest request_;
  std::unique_ptr<outlook::Backtest> test_;
  int done_ = 0;
  bool finished_ = false;
};

}  // namespace

absl::StatusOr<std::unique_ptr<Stream>> OpenBacktest(std::shared_ptr<outlook::RecordsReader> reader,
                                                     StreamCall& call,
                                                     const v1::WatchBacktestRequest& request) {
  if (request.has_known_time()) {
    const auto known = InstantOf("known_time", request.known_time());
    if (!known.ok()) return known.status();
  }
  return std::make_unique<BacktestStream>(std::move(reader), &call, request);
}

}  // namespace ferrule::service
