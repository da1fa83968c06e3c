#include "core/order/due.h"

#include <algorithm>

#include "core/order/papers.h"
#include "core/order/terms.h"
#include "core/time/civil.h"

namespace ferrule::order {
namespace {

void AddEnd(v1::DueBasis basis, bool known, const google::type::Date& date,
            std::vector<v1::RentalEnd>* ends) {
  if (!known || !time::IsValid(date)) return;
  v1::RentalEnd& end = ends->emplace_back();
  end.set_basis(basis);
  *end.mutable_date() = date;
}

const v1::RentalEnd* Find(const std::vector<v1::RentalEnd>& ends, int basis) {
  for (const v1::RentalEnd& end : ends) {
    if (end.basis() == basis) return &end;
  }
  return nullptr;
}

const v1::RentalEnd* Earlier(const v1::RentalEnd* a, const v1::RentalEnd* b) {
  if (a == nullptr) return b;
  if (b == nullptr) return a;
  return time::ToDay(b->date()) < time::ToDay(a->date()) ? b : a;
}

// Whether a class is one of powered motion, so that an order for it needs limits. Without a model
// of the class nobody knows, and limits are asked for.
bool NeedsMotion(const std::string& device_class, const depot::Rules& rules) {
  bool any_model = false;
  for (const v1::Model& model : rules.settings().models()) {
    if (model.device_class() != device_class) continue;
    any_model = true;
    if (model.has_motion()) return true;
  }
  return !any_model;
}

}  // namespace

std::optional<absl::CivilDay> PrescriptionEnd(const v1::OrderState& order) {
  std::optional<absl::CivilDay> end;
  for (const Prescribed& span : PrescribedDays(order)) {
    end = std::max(end.value_or(span.days.end - 1), span.days.end - 1);
  }
  return end;
}

std::optional<absl::CivilDay> LastDayOfUse(const v1::OrderState& order, absl::CivilDay day) {
  if (order.has_handed_over()) {
    if (time::IsValid(order.pickup_date())) return time::ToDay(order.pickup_date());
    return PrescriptionEnd(order);
  }
  if (order.details().length_of_need_days() <= 0) return PrescriptionEnd(order);
  absl::CivilDay first = day;
  if (time::IsValid(order.details().needed_date())) {
    first = std::max(first, time::ToDay(order.details().needed_date()));
  }
  const absl::CivilDay last = first + (order.details().length_of_need_days() - 1);
  return std::max(last, PrescriptionEnd(order).value_or(last));
}

namespace {

// The last day of the latest authorisation, whether noted with its number or only with the order.
std::optional<absl::CivilDay> AuthorisationEnd(const v1::OrderState& order) {
  std::optional<absl::CivilDay> end;
  const auto later = [&end](const google::type::Date& date) {
    if (time::IsValid(date)) end = std::max(end.value_or(time::ToDay(date)), time::ToDay(date));
  };
  if (order.details().has_authorisation_end_date()) {
    later(order.details().authorisation_end_date());
  }
  for (const v1::Authorisation& authorisation : order.authorisations()) {
    later(authorisation.through_date());
  }
  return end;
}

std::vector<v1::RentalEnd> EndsWith(const v1::OrderState& order,
                                    std::optional<absl::CivilDay> cover_end) {
  std::vector<v1::RentalEnd> ends;
  AddEnd(v1::DUE_BASIS_AGREED_PICKUP, order.has_pickup_date(), order.pickup_date(), &ends);
  if (const std::optional<absl::CivilDay> end = PrescriptionEnd(order)) {
    AddEnd(v1::DUE_BASIS_PRESCRIPTION_END, true, time::FromDay(*end), &ends);
  }
  if (const std::optional<absl::CivilDay> end = AuthorisationEnd(order)) {
    AddEnd(v1::DUE_BASIS_AUTHORISATION_END, true, time::FromDay(*end), &ends);
  }
  if (cover_end) AddEnd(v1::DUE_BASIS_COVER_END, true, time::FromDay(*cover_end), &ends);
  return ends;
}

}  // namespace

std::vector<v1::RentalEnd> Ends(const v1::OrderState& order) {
  const v1::OrderDetails& details = order.details();
  if (!details.has_cover_end_date() || !time::IsValid(details.cover_end_date())) {
    return EndsWith(order, std::nullopt);
  }
  return EndsWith(order, time::ToDay(details.cover_end_date()));
}

std::vector<v1::RentalEnd> Ends(const v1::OrderState& order, const depot::Rules& rules) {
  return EndsWith(order, CoverEnd(order, rules));
}

std::optional<v1::RentalEnd> Due(const v1::OrderState& order, const depot::SettingsBook& book) {
  if (!order.has_handed_over()) return std::nullopt;
  const depot::Rules& rules = book.At(time::ToMicros(order.handed_over().time()));
  const std::vector<v1::RentalEnd> ends = Ends(order, rules);
  const v1::DuePolicy& policy = rules.settings().due_policy();
  for (int basis : policy.first_known()) {
    if (const v1::RentalEnd* end = Find(ends, basis)) return *end;
  }
  const v1::RentalEnd* earliest = nullptr;
  for (int basis : policy.else_earliest()) earliest = Earlier(earliest, Find(ends, basis));
  if (policy.first_known().empty() && policy.else_earliest().empty()) {
    for (const v1::RentalEnd& end : ends) earliest = Earlier(earliest, &end);
  }
  if (earliest == nullptr) return std::nullopt;
  return *earliest;
}

std::vector<std::string> MissingToGoOut(const v1::OrderState& order, const depot::Rules& rules) {
  const v1::OrderDetails& d = order.details();
  std::vector<std::string> missing;
  if (d.patient().empty()) missing.push_back("patient reference, from the referrer");
  if (d.prescriber().empty()) missing.push_back("prescriber, from the referrer");
  if (rules.FindBranch(d.branch()) == nullptr) {
    missing.push_back("servicing branch, from intake");
  }
  const v1::DeviceClass* device_class = rules.FindDeviceClass(d.device_class());
  if (device_class == nullptr) missing.push_back("class of device, from the prescriber");
  if (device_class != nullptr && device_class->sided() && d.side() != v1::SIDE_LEFT &&
      d.side() != v1::SIDE_RIGHT) {
    missing.push_back("side, from the prescriber");
  }
  if (d.procedure().empty()) missing.push_back("procedure, from the prescriber");
  if (!d.has_surgery_date() && !d.has_needed_date()) {
    missing.push_back("day of the operation or day needed, from the referrer");
  }
  if (d.length_of_need_days() <= 0) missing.push_back("length of need, from the prescriber");
  if ((!d.motion().has_extension_deg() || !d.motion().has_flexion_deg()) &&
      NeedsMotion(d.device_class(), rules)) {
    missing.push_back("extension and flexion limits, from the prescriber");
  }
  return missing;
}

}  // namespace ferrule::order
