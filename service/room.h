// Whether the depot can go on writing: room on its disk, and an engine that answers.
#pragma once

#include <atomic>
#include <cstdint>
#include <functional>
#include <string>

#include "core/ledger/ledger.h"

namespace ferrule::service {

// Thread-safe. Looks once a second at most.
class Room {
 public:
  // `path` is the depot's file, empty for a database, whose disk is not ours to measure.
  // `floor_bytes`: less room than this is an alarm. `long_log_bytes`: so long is the write-ahead
  // log only while a reading holds it up. `log` takes one line when either begins or ends.
  Room(ledger::Ledger* ledger, std::string path, int64_t floor_bytes, int64_t long_log_bytes,
       std::function<void(const std::string&)> log);

  // As it was found at the last look.
  bool can_write() const { return can_write_.load(); }
  // Looks, and says on the log what has changed. Called about once a second by one thread.
  void Look();

 private:
  void LookAtLog();

  ledger::Ledger& ledger_;
  const std::string path_;
  const int64_t floor_bytes_;
  const int64_t long_log_bytes_;
  const std::function<void(const std::string&)> log_;
  std::atomic<bool> can_write_{true};
  bool log_is_long_ = false;
};

}  // namespace ferrule::service
