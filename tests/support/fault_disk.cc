#include "tests/support/fault_disk.h"

#include <sqlite3.h>

#include <algorithm>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <iostream>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"

namespace ferrule::testing {
namespace {

constexpr size_t kSector = 512;
constexpr const char* kSuffixes[] = {"", "-wal", "-journal"};

}  // namespace

// What SQLite sees as an open file: its own handle lies behind ours in the same block of memory.
struct FaultDisk::Handle {
  sqlite3_file base;
  bool watched;
  const char* name;  // SQLite keeps it until the file is closed
  sqlite3_file* real() { return reinterpret_cast<sqlite3_file*>(this + 1); }
};

// The functions SQLite calls. All state is the disk's.
struct FaultDisk::Calls {
  static Handle* Of(sqlite3_file* file) { return reinterpret_cast<Handle*>(file); }
  static FaultDisk& Disk() { return FaultDisk::Instance(); }
  static const sqlite3_io_methods* Methods(sqlite3_file* file) {
    return Of(file)->real()->pMethods;
  }

  static int Close(sqlite3_file* f) { return Methods(f)->xClose(Of(f)->real()); }
  static int Read(sqlite3_file* f, void* out, int size, sqlite3_int64 offset) {
    if (Of(f)->watched && Disk().off()) return SQLITE_IOERR_READ;
    return Methods(f)->xRead(Of(f)->real(), out, size, offset);
  }
  static int WriteTo(sqlite3_file* f, const void* data, int size, sqlite3_int64 offset) {
    if (Of(f)->watched) {
      FaultDisk& disk = Disk();
      std::unique_lock lock(disk.mutex_);
      disk.changed_.wait(lock, [&] { return !disk.holds_ || disk.path_ != Of(f)->name; });
      if (const int code = disk.Step(Of(f)->name, false, true); code != 0) return code;
      disk.files_[Of(f)->name].pending.push_back(
          {offset, 0, std::string(static_cast<const char*>(data), static_cast<size_t>(size))});
    }
    return Methods(f)->xWrite(Of(f)->real(), data, size, offset);
  }
  static int Truncate(sqlite3_file* f, sqlite3_int64 size) {
    if (Of(f)->watched) {
      FaultDisk& disk = Disk();
      const std::lock_guard lock(disk.mutex_);
      if (const int code = disk.Step(Of(f)->name, false, false); code != 0) return code;
      disk.files_[Of(f)->name].pending.push_back({-1, size, ""});
    }
    return Methods(f)->xTruncate(Of(f)->real(), size);
  }
  static int Sync(sqlite3_file* f, int) {
    // The real file needs no sync: what has reached the disk is kept here.
    if (!Of(f)->watched) return SQLITE_OK;
    FaultDisk& disk = Disk();
    const std::lock_guard lock(disk.mutex_);
    if (const int code = disk.Step(Of(f)->name, true, false); code != 0) return code;
    if (disk.plan_.lies) return SQLITE_OK;
    Content& content = disk.files_[Of(f)->name];
    for (const Write& write : content.pending) Apply(write, &content.durable);
    content.pending.clear();
    return SQLITE_OK;
  }
  static int FileSize(sqlite3_file* f, sqlite3_int64* size) {
    if (Of(f)->watched && Disk().off()) return SQLITE_IOERR_FSTAT;
    return Methods(f)->xFileSize(Of(f)->real(), size);
  }
  static int Lock(sqlite3_file* f, int kind) { return Methods(f)->xLock(Of(f)->real(), kind); }
  static int Unlock(sqlite3_file* f, int kind) { return Methods(f)->xUnlock(Of(f)->real(), kind); }
  static int Reserved(sqlite3_file* f, int* out) {
    return Methods(f)->xCheckReservedLock(Of(f)->real(), out);
  }
  static int Control(sqlite3_file* f, int op, void* argument) {
    return Methods(f)->xFileControl(Of(f)->real(), op, argument);
  }
  static int SectorSize(sqlite3_file* f) { return Methods(f)->xSectorSize(Of(f)->real()); }
  static int Characteristics(sqlite3_file* f) {
    return Methods(f)->xDeviceCharacteristics(Of(f)->real());
  }
  static int ShmMap(sqlite3_file* f, int page, int size, int extend, void volatile** out) {
    return Methods(f)->xShmMap(Of(f)->real(), page, size, extend, out);
  }
  static int ShmLock(sqlite3_file* f, int offset, int n, int flags) {
    return Methods(f)->xShmLock(Of(f)->real(), offset, n, flags);
  }
  static void ShmBarrier(sqlite3_file* f) { Methods(f)->xShmBarrier(Of(f)->real()); }
  static int ShmUnmap(sqlite3_file* f, int remove) {
    return Methods(f)->xShmUnmap(Of(f)->real(), remove);
  }

  static int Open(sqlite3_vfs*, const char* name, sqlite3_file* file, int flags, int* out_flags) {
    static constexpr sqlite3_io_methods kMethods{
        2,        Close,    Read,    WriteTo,    Truncate,        Sync,   FileSize, Lock,
        Unlock,   Reserved, Control, SectorSize, Characteristics, ShmMap, ShmLock,  ShmBarrier,
        ShmUnmap, nullptr,  nullptr};
    Handle* handle = Of(file);
    handle->base.pMethods = nullptr;
    handle->name = name;
    handle->watched = Disk().Watched(name);
    if (handle->watched && Disk().off()) return SQLITE_CANTOPEN;
    const int code = Disk().real_->xOpen(Disk().real_, name, handle->real(), flags, out_flags);
    if (handle->real()->pMethods != nullptr) handle->base.pMethods = &kMethods;
    return code;
  }
  static int Delete(sqlite3_vfs*, const char* name, int sync) {
    FaultDisk& disk = Disk();
    if (disk.Watched(name)) {
      const std::lock_guard lock(disk.mutex_);
      if (disk.off_) return SQLITE_IOERR_DELETE;
      disk.files_.erase(name);
    }
    return disk.real_->xDelete(disk.real_, name, sync);
  }
};

FaultDisk& FaultDisk::Instance() {
  static FaultDisk* const kDisk = [] {
    // What was made known to SQLite before would pass the disk by.
    if (sqlite3_vfs_find("ferrule-log") != nullptr) {
      std::cerr << "the fault disk must be there before the first depot\n";
      std::abort();
    }
    auto* disk = new FaultDisk();
    disk->real_ = sqlite3_vfs_find(nullptr);
    return disk;
  }();
  static const bool kRegistered = [] {
    static sqlite3_vfs vfs = *kDisk->real_;
    vfs.zName = "ferrule-fault-disk";
    vfs.szOsFile = static_cast<int>(sizeof(Handle)) + kDisk->real_->szOsFile;
    vfs.xOpen = Calls::Open;
    vfs.xDelete = Calls::Delete;
    return sqlite3_vfs_register(&vfs, 1) == SQLITE_OK;
  }();
  (void)kRegistered;
  return *kDisk;
}

bool FaultDisk::Watched(const char* name) const {
  if (name == nullptr) return false;
  const std::lock_guard lock(mutex_);
  if (path_.empty() || !absl::StartsWith(name, path_)) return false;
  const std::string_view rest = std::string_view(name).substr(path_.size());
  return std::find(std::begin(kSuffixes), std::end(kSuffixes), rest) != std::end(kSuffixes);
}

void FaultDisk::Watch(const std::string& path) {
  const std::lock_guard lock(mutex_);
  path_ = path;
  files_.clear();
  for (const char* suffix : kSuffixes) {
    std::ifstream file(path + suffix, std::ios::binary);
    if (!file) continue;
    files_[path + suffix].durable =
        std::string(std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>());
  }
  plan_ = {};
  off_ = false;
  steps_ = happened_ = 0;
}

void FaultDisk::SetPlan(const Plan& plan) {
  const std::lock_guard lock(mutex_);
  plan_ = plan;
  steps_ = 0;
  random_.seed(plan.seed);
}

void FaultDisk::HoldWrites(bool hold) {
  const std::lock_guard lock(mutex_);
  holds_ = hold;
  changed_.notify_all();
}

int FaultDisk::Step(const std::string& name, bool is_sync, bool is_write) {
  if (off_) return is_sync ? SQLITE_IOERR_FSYNC : SQLITE_IOERR_WRITE;
  ++steps_;
  if (plan_.fault == Fault::kNone || steps_ < plan_.at) return SQLITE_OK;
  int code = SQLITE_OK;
  switch (plan_.fault) {
    case Fault::kPowerCut:
      CutPower();
      code = is_sync ? SQLITE_IOERR_FSYNC : SQLITE_IOERR_WRITE;
      break;
    case Fault::kWriteError:
      if (is_write) code = SQLITE_IOERR_WRITE;
      break;
    case Fault::kFull:
      if (is_write) code = SQLITE_FULL;
      break;
    case Fault::kSyncError:
      if (is_sync) {
        code = SQLITE_IOERR_FSYNC;
        // The kernel marks pages clean that it could not write: a later sync says nothing of them.
        Content& content = files_[name];
        for (const Write& write : content.pending) {
          if (random_() % 2 == 0) Apply(write, &content.durable);
        }
        content.pending.clear();
      }
      break;
    case Fault::kNone:
      break;
  }
  if (code == SQLITE_OK) return code;
  ++happened_;
  if (!plan_.for_ever) plan_.fault = Fault::kNone;
  return code;
}

void FaultDisk::Apply(const Write& write, std::string* content) {
  if (write.offset < 0) return content->resize(static_cast<size_t>(write.size));
  const size_t end = static_cast<size_t>(write.offset) + write.bytes.size();
  if (content->size() < end) content->resize(end);
  content->replace(static_cast<size_t>(write.offset), write.bytes.size(), write.bytes);
}

void FaultDisk::ApplyTorn(const Write& write, std::string* content) {
  for (size_t at = 0; at < write.bytes.size();) {
    // Sectors lie at multiples of their size in the file, not in the write.
    const size_t place = static_cast<size_t>(write.offset) + at;
    const size_t size = std::min(kSector - place % kSector, write.bytes.size() - at);
    if (random_() % 2 == 0) {
      Apply({static_cast<int64_t>(place), 0, write.bytes.substr(at, size)}, content);
    }
    at += size;
  }
}

void FaultDisk::CutPower() {
  image_.clear();
  for (auto& [name, content] : files_) {
    std::string& image = image_[name] = content.durable;
    for (const Write& write : content.pending) {
      switch (random_() % 3) {
        case 0:
          Apply(write, &image);
          break;
        case 1:
          if (write.offset >= 0) ApplyTorn(write, &image);
          break;
        default:
          break;
      }
    }
  }
  off_ = true;
}

void FaultDisk::Kill() {
  const std::lock_guard lock(mutex_);
  if (off_) return;
  image_.clear();
  for (auto& [name, content] : files_) {
    std::string& image = image_[name] = content.durable;
    for (const Write& write : content.pending) Apply(write, &image);
  }
  off_ = true;
}

void FaultDisk::PowerOn() {
  const std::lock_guard lock(mutex_);
  std::error_code ignored;
  std::filesystem::remove(path_ + "-shm", ignored);
  files_.clear();
  for (const char* suffix : kSuffixes) {
    const std::string name = path_ + suffix;
    const auto image = image_.find(name);
    if (image == image_.end()) {
      std::filesystem::remove(name, ignored);
      continue;
    }
    std::ofstream(name, std::ios::binary | std::ios::trunc) << image->second;
    files_[name].durable = image->second;
  }
  plan_ = {};
  steps_ = 0;
  off_ = false;
}

bool FaultDisk::off() const {
  const std::lock_guard lock(mutex_);
  return off_;
}

int64_t FaultDisk::steps() const {
  const std::lock_guard lock(mutex_);
  return steps_;
}

int64_t FaultDisk::happened() const {
  const std::lock_guard lock(mutex_);
  return happened_;
}

}  // namespace ferrule::testing
