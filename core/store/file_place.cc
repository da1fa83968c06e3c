#include "core/store/file_place.h"

#include <sys/stat.h>

namespace ferrule::store {

void FilePlace::Note() {
  struct stat there {};
  if (inode_ != 0 || stat(path_.c_str(), &there) != 0) return;
  device_ = there.st_dev;
  inode_ = there.st_ino;
}

bool FilePlace::Moved() const {
  if (inode_ == 0) return false;
  struct stat there {};
  return stat(path_.c_str(), &there) != 0 || there.st_ino != inode_ || there.st_dev != device_;
}

}  // namespace ferrule::store
