#include "core/order/noted.h"

#include <algorithm>
#include <string>
#include <utility>

#include "core/finding/raise.h"
#include "core/time/civil.h"

namespace ferrule::order {
namespace {

google::type::Date LocalDate(const fact::FactView& view, absl::TimeZone zone) {
  return time::FromDay(time::LocalDay(view.happened_us, zone));
}

// The first day of a payer; the first payer of all has none.
absl::CivilDay FirstDay(const v1::PayerPeriod& period) {
  return time::IsValid(period.from_date()) ? time::ToDay(period.from_date())
                                           : absl::CivilDay(absl::CivilYear(1));
}

}  // namespace

void NotePaper(const fact::FactView& view, const v1::OrderExtended& f, v1::OrderState* order) {
  v1::OrderPaper* paper = order->add_papers();
  if (f.has_from_date()) *paper->mutable_from_date() = f.from_date();
  *paper->mutable_through_date() = f.through_date();
  if (f.has_signed_date()) *paper->mutable_signed_date() = f.signed_date();
  finding::SetStamp(view, paper->mutable_noted());
}

void NotePaper(const fact::FactView& view, const v1::OrderStopped& f, v1::OrderState* order) {
  v1::OrderPaper* paper = order->add_papers();
  paper->set_stops(true);
  *paper->mutable_through_date() = f.through_date();
  if (f.has_signed_date()) *paper->mutable_signed_date() = f.signed_date();
  finding::SetStamp(view, paper->mutable_noted());
}

void NoteCancelledOut(const fact::FactView& view, const google::type::Date& day,
                      v1::OrderState* order) {
  v1::OrderPaper* paper = order->add_papers();
  paper->set_stops(true);
  *paper->mutable_through_date() = day;
  finding::SetStamp(view, paper->mutable_noted());
}

void NoteValidAgain(v1::OrderState* order) {
  if (order->has_cancelled()) {
    const v1::FactRef& cancelled = order->cancelled().fact();
    auto* papers = order->mutable_papers();
    papers->erase(std::remove_if(papers->begin(), papers->end(),
                                 [&](const v1::OrderPaper& paper) {
                                   const v1::FactRef& ref = paper.noted().fact();
                                   return ref.index() == cancelled.index() &&
                                          ref.entry_id() == cancelled.entry_id();
                                 }),
                  papers->end());
  }
  order->clear_cancelled();
  order->clear_cancel_reason();
}

void NoteAuthorisation(const fact::FactView& view, const v1::AuthorisationNoted& f,
                       v1::OrderState* order) {
  v1::Authorisation* authorisation = order->add_authorisations();
  authorisation->set_number(f.number());
  *authorisation->mutable_from_date() = f.from_date();
  *authorisation->mutable_through_date() = f.through_date();
  authorisation->set_unit_count(f.unit_count());
  finding::SetStamp(view, authorisation->mutable_noted());
}

void NoteStay(const fact::FactView& view, const v1::PatientStayNoted& f, absl::TimeZone zone,
              v1::OrderState* order) {
  v1::PatientStay* stay = order->add_stays();
  stay->set_stay(f.stay());
  *stay->mutable_from_date() = LocalDate(view, zone);
  stay->set_because(f.because());
  finding::SetStamp(view, stay->mutable_noted());
}

void NoteUse(const fact::FactView& view, const v1::UseNoted& f, absl::TimeZone zone,
             v1::OrderState* order) {
  v1::UsePoint* point = order->add_uses();
  point->set_change(f.change());
  *point->mutable_date() = LocalDate(view, zone);
  finding::SetStamp(view, point->mutable_noted());
}

void NoteBilled(const fact::FactView& view, const v1::DaysBilled& f, v1::OrderState* order) {
  v1::BilledDays* billed = order->add_billed();
  billed->set_claim(f.claim());
  *billed->mutable_from_date() = f.from_date();
  *billed->mutable_through_date() = f.through_date();
  billed->set_unit_count(f.unit_count());
  billed->set_amount_minor(f.amount_minor());
  billed->set_correction(f.correction());
  finding::SetStamp(view, billed->mutable_noted());
}

void NoteConfirmation(const fact::FactView& view, const v1::DetailsConfirmed& f, std::string value,
                      v1::OrderState* order) {
  auto* all = order->mutable_confirmations();
  const auto known = std::find_if(all->begin(), all->end(),
                                  [&f](const v1::Confirmation& c) { return c.kind() == f.kind(); });
  v1::Confirmation* confirmation = known == all->end() ? all->Add() : &*known;
  confirmation->set_kind(f.kind());
  confirmation->set_value(std::move(value));
  confirmation->set_confirmed_by(f.confirmed_by());
  confirmation->set_how(f.how());
  finding::SetStamp(view, confirmation->mutable_noted());
}

void NotePayer(const v1::OrderDetails& details, v1::OrderState* order) {
  if (!details.has_payer()) return;
  v1::PayerPeriod period;
  period.set_payer(details.payer());
  if (details.has_payer_from_date()) *period.mutable_from_date() = details.payer_from_date();
  auto* payers = order->mutable_payers();
  const absl::CivilDay first = FirstDay(period);
  const auto at = std::find_if(payers->begin(), payers->end(),
                               [&](const v1::PayerPeriod& p) { return FirstDay(p) >= first; });
  if (at != payers->end() && FirstDay(*at) == first) {
    *at = period;
    return;
  }
  const auto position = at - payers->begin();
  *payers->Add() = period;
  std::rotate(payers->begin() + position, payers->end() - 1, payers->end());
}

void NoteFollowing(const std::string& following, v1::OrderState* order) {
  auto* all = order->mutable_following_orders();
  if (std::find(all->begin(), all->end(), following) != all->end()) return;
  *all->Add() = following;
  std::sort(all->begin(), all->end());
}

}  // namespace ferrule::order
