#include "service/lane.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <future>
#include <memory>
#include <thread>
#include <vector>

#include "grpcpp/server.h"
#include "grpcpp/server_builder.h"

namespace ferrule::service {
namespace {

class LaneTest : public testing::Test {
 protected:
  LaneTest() {
    grpc::ServerBuilder builder;
    lane_ = std::make_unique<Lane>(builder.AddCompletionQueue());
    server_ = builder.BuildAndStart();
    lane_->Start([] {});
  }
  ~LaneTest() override {
    server_->Shutdown();
    lane_->End();
  }
  // Returns once the lane has done all that was posted before.
  void WaitForLane() {
    std::promise<void> done;
    lane_->Post([&] { done.set_value(); });
    done.get_future().wait();
  }

  std::unique_ptr<Lane> lane_;
  std::unique_ptr<grpc::Server> server_;
};

TEST_F(LaneTest, TasksRunInTheirOrderOnOneThread) {
  std::vector<int> order;
  std::thread::id thread;
  for (int i = 0; i < 100; ++i) {
    lane_->Post([&, i] {
      if (i == 0) thread = std::this_thread::get_id();
      EXPECT_EQ(std::this_thread::get_id(), thread);
      order.push_back(i);
    });
  }
  WaitForLane();
  ASSERT_EQ(order.size(), 100u);
  EXPECT_TRUE(std::is_sorted(order.begin(), order.end()));
  EXPECT_NE(thread, std::this_thread::get_id());
}

TEST_F(LaneTest, WhatIsPostedInABundleRunsOnceTheBundleEnds) {
  std::atomic<int> done{0};
  {
    const Lane::Bundle outer;
    {
      const Lane::Bundle inner;
      lane_->Post([&] { ++done; });
      lane_->Post([&] { ++done; });
      std::this_thread::sleep_for(std::chrono::milliseconds(20));
      EXPECT_EQ(done, 0);
    }
    // The lane is awake now: what another thread posts does not wait for this one's bundle.
    std::thread([this] { WaitForLane(); }).join();
    EXPECT_EQ(done, 2);
  }
  {
    const Lane::Bundle next;
    lane_->Post([&] { ++done; });
  }
  WaitForLane();
  EXPECT_EQ(done, 3);
}

}  // namespace
}  // namespace ferrule::service
