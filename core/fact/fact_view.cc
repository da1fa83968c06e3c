#include "core/fact/fact_view.h"

namespace ferrule::fact {

bool Before(const FactView& a, const FactView& b) {
  if (a.happened_us != b.happened_us) return a.happened_us < b.happened_us;
  if (a.entry->order_number() != b.entry->order_number()) {
    return a.entry->order_number() < b.entry->order_number();
  }
  const int by_id = a.entry->entry_id().compare(b.entry->entry_id());
  return by_id != 0 ? by_id < 0 : a.index < b.index;
}

}  // namespace ferrule::fact
