// Whether a file is still where it was opened. Who writes to one that was deleted or replaced
// under its name writes for nobody: all of it is gone when the process ends.
#pragma once

#include <cstdint>
#include <string>

namespace ferrule::store {

class FilePlace {
 public:
  explicit FilePlace(std::string path) : path_(std::move(path)) {}

  // Takes the file that is there now for the right one, unless one is known already. Without a file
  // there, nothing is known yet.
  void Note();
  // Whether a known file is gone from its name, or another one has it.
  bool Moved() const;
  const std::string& path() const { return path_; }

 private:
  std::string path_;
  uint64_t device_ = 0;
  uint64_t inode_ = 0;  // 0 while nothing is known
};

}  // namespace ferrule::store
