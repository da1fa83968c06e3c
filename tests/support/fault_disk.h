// A disk that fails as planned, under the real embedded engine. It stands in front of SQLite's own
// file layer, keeps for every file what has reached the disk and what was only written, and can:
//
//   cut the power   what was not synced is kept, dropped or torn at 512 bytes, each by chance and
//   in
//                   no order; from then on nothing works, as for a process that is no more
//   kill            nothing works any more, but everything written is there, as after kill -9
//   fail            a write, a sync or a cut-off of a file fails, once or from then on
//
// Seeded: the same plan gives the same disk. One file with its log ("PATH", "PATH-wal",
// "PATH-journal") is watched at a time.
#pragma once

#include <condition_variable>
#include <cstdint>
#include <map>
#include <memory>
#include <mutex>
#include <random>
#include <string>
#include <vector>

struct sqlite3_file;
struct sqlite3_vfs;

namespace ferrule::testing {

class FaultDisk {
 public:
  enum class Fault {
    kNone,
    kPowerCut,    // at the n-th step
    kWriteError,  // of the n-th step or the next write after it
    kSyncError,   // of the next sync after the n-th step; what it should have synced may be lost
    kFull,        // as kWriteError, with the code of a full disk
  };
  struct Plan {
    Fault fault = Fault::kNone;
    int64_t at = 0;         // steps (writes, syncs, cut-offs) before it, from now
    bool for_ever = false;  // errors: once, or from then on
    // A disk that says it has synced and has not: for showing that the tests see it.
    bool lies = false;
    uint64_t seed = 0;
  };

  // The one of this process; the first use puts it before SQLite's default file layer.
  static FaultDisk& Instance();

  // Watches a file from now on, which is closed and whole.
  void Watch(const std::string& path);
  // What happens next. Steps count from here.
  void SetPlan(const Plan& plan);
  // Whoever writes to the watched file itself, not its log, stands still from now on, or no more.
  void HoldWrites(bool hold);
  // The process is gone: nothing works until PowerOn.
  void Kill();
  // Leaves in the file and its log what a restart finds, once nobody has them open.
  void PowerOn();

  bool off() const;
  int64_t steps() const;
  // Faults that happened since Watch.
  int64_t happened() const;

 private:
  struct Write {
    int64_t offset = 0;  // -1: cut off at `size`
    int64_t size = 0;
    std::string bytes;
  };
  struct Content {
    std::string durable;
    std::vector<Write> pending;
  };
  struct Handle;
  struct Calls;

  FaultDisk() = default;
  bool Watched(const char* name) const;
  // 0, or the code with which this step fails. Called with the mutex held.
  int Step(const std::string& name, bool is_sync, bool is_write);
  void CutPower();
  static void Apply(const Write& write, std::string* content);
  void ApplyTorn(const Write& write, std::string* content);

  mutable std::mutex mutex_;
  sqlite3_vfs* real_ = nullptr;
  std::string path_;
  std::map<std::string, Content> files_;
  std::map<std::string, std::string> image_;
  Plan plan_;
  bool off_ = false;
  bool holds_ = false;
  std::condition_variable changed_;
  int64_t steps_ = 0;
  int64_t happened_ = 0;
  std::mt19937_64 random_;
};

}  // namespace ferrule::testing
