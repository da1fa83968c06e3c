#include "core/bench/cleanings.h"

#include "core/time/civil.h"

namespace ferrule::bench {

bool CleaningRowOf(const Moment& moment, const depot::SettingsBook& book, v1::CleaningRow* row) {
  const v1::Fact& fact = moment.view.fact();
  if (!fact.has_cleaning_finished() || !moment.after.has_received()) return false;
  const v1::CleaningFinished& f = fact.cleaning_finished();
  row->set_unit(f.unit());
  *row->mutable_done() = moment.stamp;
  row->set_product(f.product());
  row->set_product_lot(f.product_lot());
  if (f.has_product_expiry_date()) *row->mutable_expiry_date() = f.product_expiry_date();
  row->set_wet_s((time::ToMicros(f.wet_to_time()) - time::ToMicros(f.wet_from_time())) / 1'000'000);
  const v1::CleaningProduct* product = book.At(moment.view.happened_us).FindProduct(f.product());
  if (product != nullptr) row->set_label_s(product->contact_time_s());
  row->set_counted(Same(moment.after.cleaned(), moment.stamp));
  if (!row->counted()) row->set_because(moment.after.cleaning_failed_because());
  return true;
}

}  // namespace ferrule::bench
