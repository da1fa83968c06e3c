#include "core/late/library.h"

#include <dlfcn.h>

#include "absl/strings/str_cat.h"

namespace ferrule::late {
namespace {

// What the loader says of the last failure.
absl::string_view LoaderWords() {
  const char* const words = dlerror();
  return words == nullptr ? "no reason given" : words;
}

}  // namespace

absl::StatusOr<Library> Library::Open(const char* file, absl::string_view package) {
  void* const handle = dlopen(file, RTLD_NOW | RTLD_LOCAL);
  if (handle == nullptr) {
    return absl::FailedPreconditionError(absl::StrCat(file, " cannot be loaded: ", LoaderWords(),
                                                      ". Install the package ", package));
  }
  return Library(file, handle);
}

absl::StatusOr<void*> Library::Address(const char* name) const {
  dlerror();
  void* const address = dlsym(handle_, name);
  if (address == nullptr) {
    return absl::FailedPreconditionError(
        absl::StrCat(file_, " is too old, it has no ", name, ": ", LoaderWords()));
  }
  return address;
}

}  // namespace ferrule::late
