// Serves figures to whoever scrapes them, over plain HTTP on this machine.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <string_view>
#include <thread>

#include "absl/status/statusor.h"

namespace ferrule::service {

class MetricsListener {
 public:
  // `text` is called from the listener's thread for each GET of /metrics. InvalidArgument: the
  // address is not well formed or not of this machine. Unavailable: it is taken.
  static absl::StatusOr<std::unique_ptr<MetricsListener>> Start(const std::string& listen,
                                                                std::function<std::string()> text);
  ~MetricsListener();

  int port() const { return port_; }

 private:
  explicit MetricsListener(std::function<std::string()> text) : text_(std::move(text)) {}
  void Loop();
  void Serve(int fd);
  // The whole answer to a request's first line.
  std::string Answer(std::string_view request) const;

  const std::function<std::string()> text_;
  int fd_ = -1;
  int wake_[2] = {-1, -1};
  int port_ = 0;
  std::thread thread_;
};

}  // namespace ferrule::service
