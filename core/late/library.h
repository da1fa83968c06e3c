// A shared library of the machine that is loaded when something first asks for it.
//
// For libraries that few commands need and that bring many others: libpq comes with some twenty,
// and loading those takes longer than answering from a depot's file. A machine without one can do
// all that does not need it.
#pragma once

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "absl/strings/string_view.h"

namespace ferrule::late {

class Library {
 public:
  // `file` is the library's file name as the loader looks for it ("libpq.so.5"); `package` is the
  // Debian package to name to people. FailedPrecondition, with the loader's words, when it is not
  // there. A library that was opened stays open until the process ends.
  static absl::StatusOr<Library> Open(const char* file, absl::string_view package);

  // Sets `*function` to the function of that name. FailedPrecondition when the library has none: it
  // is older than the headers that this program was built with.
  template <typename Function>
  absl::Status Find(const char* name, Function** function) const {
    absl::StatusOr<void*> address = Address(name);
    if (!address.ok()) return address.status();
    *function = reinterpret_cast<Function*>(*address);
    return absl::OkStatus();
  }

 private:
  Library(const char* file, void* handle) : file_(file), handle_(handle) {}
  absl::StatusOr<void*> Address(const char* name) const;

  const char* file_;
  void* handle_;
};

}  // namespace ferrule::late
