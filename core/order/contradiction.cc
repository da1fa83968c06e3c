#include "core/order/contradiction.h"

#include <algorithm>
#include <cctype>

#include "absl/strings/ascii.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "absl/strings/str_split.h"
#include "core/finding/enum_words.h"

namespace ferrule::order {
namespace {

bool IsSide(v1::Side side) { return side == v1::SIDE_LEFT || side == v1::SIDE_RIGHT; }

// The side that a text names as a whole word; none when it names neither or both.
v1::Side SideIn(const std::string& text) {
  std::string lower = absl::AsciiStrToLower(text);
  for (char& c : lower) {
    if (std::isalpha(static_cast<unsigned char>(c)) == 0) c = ' ';
  }
  const std::vector<std::string> words = absl::StrSplit(lower, ' ');
  const auto has = [&words](const char* word) {
    return std::find(words.begin(), words.end(), word) != words.end();
  };
  if (has("left") == has("right")) return v1::SIDE_UNSPECIFIED;
  return has("left") ? v1::SIDE_LEFT : v1::SIDE_RIGHT;
}

void AddSide(const v1::OrderDetails& d, const v1::Procedure* procedure,
             std::vector<Contradiction>* out) {
  if (!IsSide(d.side())) return;
  std::vector<std::string> others;
  const auto against = [&](v1::Side side, const char* who) {
    if (IsSide(side) && side != d.side()) {
      others.push_back(absl::StrCat(who, " ", finding::Words(side)));
    }
  };
  against(d.patient_side(), "the patient says");
  if (procedure != nullptr) against(procedure->side(), "the procedure's code names");
  against(SideIn(d.procedure()), "the procedure's words name");
  if (others.empty()) return;
  out->push_back({v1::DETAIL_KIND_SIDE, finding::Words(d.side()), absl::StrJoin(others, ", ")});
}

void AddJoint(const v1::OrderDetails& d, const v1::DeviceClass* device_class,
              std::vector<Contradiction>* out) {
  if (device_class == nullptr || device_class->joint().empty() || d.joint().empty()) return;
  if (device_class->joint() == d.joint()) return;
  out->push_back(
      {v1::DETAIL_KIND_JOINT, d.joint(),
       absl::StrCat("a device of class ", d.device_class(), " moves a ", device_class->joint())});
}

void AddProcedure(const v1::OrderDetails& d, const v1::DeviceClass* device_class,
                  const v1::Procedure* procedure, std::vector<Contradiction>* out) {
  if (procedure == nullptr || procedure->joint().empty()) return;
  const bool by_class = device_class != nullptr && !device_class->joint().empty();
  const std::string& joint = by_class ? device_class->joint() : d.joint();
  if (joint.empty() || joint == procedure->joint()) return;
  out->push_back(
      {v1::DETAIL_KIND_PROCEDURE, absl::StrCat(d.procedure_code(), " on the ", procedure->joint()),
       absl::StrCat(by_class ? "the device ordered moves a " : "the prescriber names the ",
                    joint)});
}

std::string Whole(const Contradiction& c) { return absl::StrCat(c.says, ", but ", c.but); }

}  // namespace

std::vector<Contradiction> AllContradictions(const v1::OrderState& order,
                                             const depot::Rules& rules) {
  const v1::OrderDetails& d = order.details();
  const v1::DeviceClass* device_class = rules.FindDeviceClass(d.device_class());
  const v1::Procedure* procedure = rules.FindProcedure(d.procedure_code());
  std::vector<Contradiction> out;
  AddSide(d, procedure, &out);
  AddJoint(d, device_class, &out);
  AddProcedure(d, device_class, procedure, &out);
  return out;
}

std::vector<Contradiction> OpenContradictions(const v1::OrderState& order,
                                              const depot::Rules& rules) {
  std::vector<Contradiction> open = AllContradictions(order, rules);
  const auto confirmed = [&order](const Contradiction& c) {
    const auto& all = order.confirmations();
    return std::any_of(all.begin(), all.end(), [&c](const v1::Confirmation& confirmation) {
      return confirmation.kind() == c.kind && confirmation.value() == Whole(c);
    });
  };
  open.erase(std::remove_if(open.begin(), open.end(), confirmed), open.end());
  return open;
}

std::string ConfirmedWords(const v1::OrderState& order, v1::DetailKind kind,
                           const depot::Rules& rules) {
  for (const Contradiction& c : AllContradictions(order, rules)) {
    if (c.kind == kind) return Whole(c);
  }
  switch (kind) {
    case v1::DETAIL_KIND_SIDE:
      return finding::Words(order.details().side());
    case v1::DETAIL_KIND_JOINT:
      return order.details().joint();
    default:
      return order.details().procedure_code().empty() ? order.details().procedure()
                                                      : order.details().procedure_code();
  }
}

}  // namespace ferrule::order
