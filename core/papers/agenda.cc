#include "core/papers/agenda.h"

#include <algorithm>
#include <array>
#include <optional>
#include <tuple>

#include "absl/strings/str_cat.h"
#include "core/fact/counted.h"
#include "core/fact/words.h"
#include "core/order/due.h"
#include "core/papers/ladder.h"
#include "core/papers/sheets.h"
#include "core/time/civil.h"

namespace ferrule::papers {
namespace {

std::optional<absl::CivilDay> Day(const google::type::Date& date) {
  if (!time::IsValid(date)) return std::nullopt;
  return time::ToDay(date);
}

int OrElse(int days, int usual) { return days > 0 ? days : usual; }

class Finder {
 public:
  Finder(const v1::SubjectState& state, absl::CivilDay day, const depot::SettingsBook& book,
         const depot::Rules& rules)
      : state_(state),
        order_(state.order()),
        day_(day),
        rules_(rules),
        policy_(rules.settings().contact_policy()),
        zone_(rules.ZoneOf(order_.details().branch())) {
    if (auto due = order::Due(order_, book)) {
      due_ = Day(due->date());
      due_basis_ = due->basis();
    }
  }

  OrderAgenda Find() {
    const v1::OrderStatus status = order_.status();
    if (status == v1::ORDER_STATUS_OPEN || status == v1::ORDER_STATUS_HELD) BeforeDelivery();
    if (status == v1::ORDER_STATUS_ON_RENT) DuringRental();
    return std::move(out_);
  }

 private:
  void BeforeDelivery() {
    const v1::OrderDetails& d = order_.details();
    std::optional<absl::CivilDay> needed = Day(d.needed_date());
    if (!needed) needed = Day(d.surgery_date());
    if (needed && *needed <= day_) {
      v1::AgendaItem& item = Add(v1::AGENDA_KIND_DELIVERY, *needed,
                                 absl::StrCat("bring a ", d.device_class(), Side(d.side()), " by ",
                                              time::FormatDay(*needed)));
      for (std::string& missing : order::MissingToGoOut(order_, rules_)) {
        item.add_missing(std::move(missing));
      }
      if (order_.unit().empty()) item.add_missing("no unit is held for it");
    }
    const std::optional<absl::CivilDay> surgery = Day(d.surgery_date());
    if (surgery && day_ <= *surgery) {
      CallFrom(v1::CALL_KIND_CONFIRM_SURGERY, *surgery - OrElse(policy_.confirm_surgery_days(), 3),
               absl::StrCat("is the operation still on ", time::FormatDay(*surgery), "?"));
    }
  }

  void DuringRental() {
    const std::optional<absl::CivilDay> pickup = Day(order_.pickup_date());
    const std::optional<NextStep> next = NextStepOf(order_, policy_, zone_);
    const bool failed_since = next.has_value();
    if (next) {
      Add(v1::AGENDA_KIND_LADDER, std::min(next->by.value_or(next->failed), day_), next->text);
    }
    if (pickup && !failed_since) {
      if (*pickup <= day_) {
        Add(v1::AGENDA_KIND_PICKUP, *pickup, absl::StrCat("pick up ", order_.unit()));
      }
    } else if (due_ && *due_ <= day_) {
      Add(v1::AGENDA_KIND_DUE, *due_,
          absl::StrCat(order_.unit(), " is due by ", std::string(BasisWords(due_basis_)),
                       " and no pick-up is agreed"));
    }
    Calls(pickup.has_value() && !failed_since);
    if (!state_.questions().empty()) {
      Add(v1::AGENDA_KIND_CHECK, day_,
          absl::StrCat(
              fact::Counted(state_.questions_size(), "question is open", "questions are open"),
              ": ferrule questions orders/", order_.order()));
    }
  }

  void Calls(bool pickup_agreed) {
    if (const auto out = Day(order_.handed_over_date())) {
      CallFrom(v1::CALL_KIND_FOLLOW_UP, *out + OrElse(policy_.follow_up_days(), 1),
               "does it move, is the skin well, how long was it used?");
    }
    if (due_ && !pickup_agreed) {
      CallFrom(v1::CALL_KIND_BEFORE_DUE, *due_ - OrElse(policy_.before_due_days(), 1),
               absl::StrCat("agree the pick-up: due ", time::FormatDay(*due_)));
    }
    const int ahead = OrElse(policy_.cover_ends_days(), 5);
    for (const v1::RentalEnd& end : order::Ends(order_)) {
      const bool cover =
          end.basis() == v1::DUE_BASIS_COVER_END || end.basis() == v1::DUE_BASIS_AUTHORISATION_END;
      const auto last = Day(end.date());
      if (!cover || !last || (due_ && *last >= *due_)) continue;
      CallFrom(v1::CALL_KIND_COVER_ENDS, *last - ahead,
               absl::StrCat(std::string(BasisWords(end.basis())), " on ", time::FormatDay(*last),
                            ", before the device is due"));
    }
  }

  // A call that is due from a day on, until somebody was reached on that day or later.
  void CallFrom(v1::CallKind kind, absl::CivilDay from, std::string text) {
    for (const v1::Call& call : order_.calls()) {
      if (call.kind() != kind) continue;
      const absl::CivilDay made = time::LocalDay(time::ToMicros(call.made().time()), zone_);
      if (call.outcome() == v1::CALL_OUTCOME_REACHED && made >= from) return;
      const auto again = Day(call.again_date());
      if (call.outcome() == v1::CALL_OUTCOME_LATER && made >= from && again) from = *again;
      if (call.outcome() == v1::CALL_OUTCOME_NOT_REACHED) {
        absl::StrAppend(&text, " (not reached ", time::FormatDay(made), ")");
      }
    }
    if (from > day_) return;
    const std::string why_not = WhyNotRung();
    if (!why_not.empty()) {
      out_.not_rung = absl::StrCat(order_.order(), ": ", why_not);
      return;
    }
    Add(v1::AGENDA_KIND_CALL, from,
        absl::StrCat(std::string(fact::CallKindWords(kind)), ": ", text))
        .set_call(kind);
  }

  std::string WhyNotRung() const {
    const v1::PatientStay* now = nullptr;
    for (const v1::PatientStay& stay : order_.stays()) {
      const auto from = Day(stay.from_date());
      if (from && *from <= day_) now = &stay;
    }
    if (now == nullptr) return "";
    switch (now->stay()) {
      case v1::STAY_DIED:
        return "the patient has died: no calls to the patient; a person speaks to the family "
               "about the device";
      case v1::STAY_HOSPITAL:
        return "the patient is in a hospital";
      case v1::STAY_FACILITY:
        return "the patient is in a facility";
      default:
        return "";
    }
  }

  static std::string Side(v1::Side side) {
    return side == v1::SIDE_UNSPECIFIED
               ? ""
               : absl::StrCat(" (", std::string(fact::SideWords(side)), ")");
  }

  v1::AgendaItem& Add(v1::AgendaKind kind, absl::CivilDay since, std::string text) {
    v1::AgendaItem& item = out_.items.emplace_back();
    item.set_kind(kind);
    item.set_order(order_.order());
    item.set_unit(order_.unit());
    *item.mutable_since_date() = time::FromDay(since);
    item.set_text(std::move(text));
    item.set_patient(order_.details().patient());
    // A call goes to nobody's home.
    if (kind != v1::AGENDA_KIND_CALL) *item.mutable_precautions() = order_.precautions();
    return item;
  }

  const v1::SubjectState& state_;
  const v1::OrderState& order_;
  const absl::CivilDay day_;
  const depot::Rules& rules_;
  const v1::ContactPolicy& policy_;
  const absl::TimeZone zone_;
  std::optional<absl::CivilDay> due_;
  v1::DueBasis due_basis_ = v1::DUE_BASIS_UNSPECIFIED;
  OrderAgenda out_;
};

int Place(v1::AgendaKind kind) {
  constexpr std::array kOrder = {v1::AGENDA_KIND_DELIVERY, v1::AGENDA_KIND_PICKUP,
                                 v1::AGENDA_KIND_DUE,      v1::AGENDA_KIND_LADDER,
                                 v1::AGENDA_KIND_CHECK,    v1::AGENDA_KIND_CALL};
  return static_cast<int>(std::find(kOrder.begin(), kOrder.end(), kind) - kOrder.begin());
}

auto Key(const v1::AgendaItem& item) {
  return std::make_tuple(Place(item.kind()), time::DayNumber(time::ToDay(item.since_date())),
                         item.order(), item.call());
}

}  // namespace

OrderAgenda AgendaOf(const v1::SubjectState& state, absl::CivilDay day,
                     const depot::SettingsBook& book, const depot::Rules& rules) {
  return Finder(state, day, book, rules).Find();
}

void Sort(std::vector<v1::AgendaItem>* items) {
  std::sort(items->begin(), items->end(),
            [](const v1::AgendaItem& a, const v1::AgendaItem& b) { return Key(a) < Key(b); });
}

}  // namespace ferrule::papers
