#include "core/store/libpq.h"

#include "core/late/library.h"

namespace ferrule::store {
namespace {

absl::Status Load() {
  absl::StatusOr<late::Library> library = late::Library::Open("libpq.so.5", "libpq5");
  if (!library.ok()) return library.status();
  absl::Status status;
#define FERRULE_LIBPQ_FIND(name) \
  if (status.ok()) status = library->Find(#name, &libpq.name);
  FERRULE_LIBPQ_FUNCTIONS(FERRULE_LIBPQ_FIND)
#undef FERRULE_LIBPQ_FIND
  return status;
}

}  // namespace

Libpq libpq;

absl::Status LoadLibpq() {
  static const absl::Status loaded = Load();
  return loaded;
}

}  // namespace ferrule::store
