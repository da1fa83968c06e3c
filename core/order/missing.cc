#include "core/order/missing.h"

#include <algorithm>
#include <array>

#include "absl/strings/ascii.h"
#include "absl/strings/str_cat.h"
#include "core/fact/counted.h"
#include "core/finding/enum_words.h"
#include "core/order/contradiction.h"
#include "core/order/due.h"
#include "core/order/stays.h"
#include "core/order/terms.h"
#include "core/time/civil.h"

namespace ferrule::order {
namespace {

constexpr std::array kUsualNeeds = {v1::BILLING_NEED_WRITTEN_ORDER,
                                    v1::BILLING_NEED_DELIVERY_SIGNATURE};

class List {
 public:
  List(const v1::OrderState& order, const depot::Rules& rules)
      : order_(order), details_(order.details()), rules_(rules) {}

  std::vector<v1::MissingItem> Run() {
    GoOut();
    Contradictions();
    Bill();
    return std::move(items_);
  }

 private:
  void Add(const std::string& item, const std::string& supplier, bool to_go_out, bool to_bill) {
    for (v1::MissingItem& known : items_) {
      if (known.item() != item) continue;
      known.set_to_bill(known.to_bill() || to_bill);
      return;
    }
    v1::MissingItem& added = items_.emplace_back();
    added.set_item(item);
    added.set_supplier(supplier);
    added.set_to_go_out(to_go_out);
    added.set_to_bill(to_bill);
  }
  void ToBill(bool there, const std::string& item, const std::string& supplier) {
    if (!there) Add(item, supplier, false, true);
  }

  // "side, from the prescriber" taken apart. Who the patient is, and who prescribed, a claim needs
  // as well.
  void GoOut() {
    for (const std::string& words : MissingToGoOut(order_, rules_)) {
      const size_t comma = words.rfind(", from ");
      const std::string item = words.substr(0, comma);
      const bool to_bill = item == "patient reference" || item == "prescriber" ||
                           item == "class of device" || item == "servicing branch";
      Add(item, words.substr(comma + 7), true, to_bill);
    }
    if (order_.has_cancelled()) Add("an order in force", "the referrer", true, true);
  }

  void Contradictions() {
    for (const Contradiction& c : OpenContradictions(order_, rules_)) {
      Add(absl::StrCat("a confirmation of the ", finding::Words(c.kind), ": the order says ",
                       c.says, ", but ", c.but),
          "the prescriber", true, true);
    }
  }

  void Bill() {
    const std::string payer(FirstPayer(order_));
    ToBill(!payer.empty(), "payer", "intake");
    const bool terms = payer.empty() || rules_.FindPayer(payer) != nullptr;
    ToBill(terms, absl::StrCat("terms of payer ", payer), "whoever keeps the settings");
    ToBill(order_.has_handed_over(), "hand-over to the home", "the rep");
    const v1::CoverRule* rule = FindCoverRule(order_, payer, rules_);
    if (rule == nullptr || rule->needs().empty()) {
      for (v1::BillingNeed need : kUsualNeeds) Need(need);
    } else {
      for (int need : rule->needs()) Need(static_cast<v1::BillingNeed>(need));
    }
    if (rule == nullptr) return;
    if (rule->needs_authorisation()) Need(v1::BILLING_NEED_AUTHORISATION);
    Discharge(*rule);
  }

  void Need(v1::BillingNeed need) {
    switch (need) {
      case v1::BILLING_NEED_PROCEDURE:
        return ToBill(!details_.procedure().empty() || !details_.procedure_code().empty(),
                      "procedure", "the prescriber");
      case v1::BILLING_NEED_SURGERY_DATE:
        return ToBill(details_.has_surgery_date(), "day of the operation", "the facility");
      case v1::BILLING_NEED_APPLICATION_DATE:
        return ToBill(FirstUse(order_) != nullptr, "day on which the device was first used",
                      "the rep or the facility");
      case v1::BILLING_NEED_DISCHARGE_DATE:
        return ToBill(IsDischargeNoted(order_), "day of the discharge to the home, as it was",
                      "the facility");
      case v1::BILLING_NEED_SIDE:
        return ToBill(details_.side() == v1::SIDE_LEFT || details_.side() == v1::SIDE_RIGHT, "side",
                      "the prescriber");
      case v1::BILLING_NEED_WRITTEN_ORDER:
        return ToBill(details_.has_signed_date(), "signed written order", "the prescriber");
      case v1::BILLING_NEED_DELIVERY_SIGNATURE:
        return Signature();
      case v1::BILLING_NEED_AUTHORISATION:
        return ToBill(!order_.authorisations().empty(), "authorisation with its number",
                      "the payer");
      default:
        return;
    }
  }

  void Signature() {
    if (!order_.has_handed_over()) return;  // the hand-over itself is asked for
    ToBill(!order_.delivery_signed_by().empty(), "signed delivery ticket",
           "the patient or who acts for the patient");
    ToBill(order_.delivery_signed_by().empty() || MaySignFor(order_.delivery_signed_by()),
           "delivery ticket signed by somebody who is not the depot's",
           "the patient or who acts for the patient");
  }

  // A unit left before the discharge: not too early, and a note when the discharge slipped.
  void Discharge(const v1::CoverRule& rule) {
    if (!order_.has_handed_over() || !time::IsValid(order_.discharge_planned_date())) return;
    const absl::CivilDay planned = time::ToDay(order_.discharge_planned_date());
    const absl::CivilDay delivered = time::ToDay(order_.handed_over_date());
    if (delivered >= planned && !IsDischargeNoted(order_)) return;
    const auto early = planned - delivered;
    ToBill(early <= rule.early_delivery_days(),
           absl::StrCat("a delivery at most ",
                        fact::Counted(rule.early_delivery_days(), "day", "days"),
                        " before the planned discharge; it was ", early),
           "the payer, by an exception");
    const v1::PatientStay* note = DischargeNote(order_);
    if (note == nullptr || delivered >= time::ToDay(note->from_date())) return;
    ToBill(time::ToDay(note->from_date()) == planned || !note->because().empty(),
           "a note why the discharge was not on the planned day", "the facility");
  }

  const v1::OrderState& order_;
  const v1::OrderDetails& details_;
  const depot::Rules& rules_;
  std::vector<v1::MissingItem> items_;
};

}  // namespace

std::vector<v1::MissingItem> Missing(const v1::OrderState& order, const depot::Rules& rules) {
  return List(order, rules).Run();
}

std::string InOneLine(const std::vector<v1::MissingItem>& items) {
  std::string line;
  for (const v1::MissingItem& item : items) {
    absl::StrAppend(&line, line.empty() ? "" : "; ", item.item(), ", from ", item.supplier());
  }
  return line;
}

bool MaySignFor(const std::string& relationship) {
  constexpr std::array<std::string_view, 5> kOurs = {"employee", "staff", "rep", "technician",
                                                     "driver"};
  const std::string word = absl::AsciiStrToLower(relationship);
  return std::find(kOurs.begin(), kOurs.end(), word) == kOurs.end();
}

}  // namespace ferrule::order
