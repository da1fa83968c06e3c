#include "core/bench/proposals.h"

#include <algorithm>

#include "absl/strings/str_cat.h"
#include "core/time/civil.h"

namespace ferrule::bench {
namespace {

class Explainer {
 public:
  Explainer(const v1::Finding& finding, const Surroundings& around, const depot::Rules& rules)
      : finding_(finding), around_(around), rules_(rules) {}

  std::vector<v1::Proposal> Run() {
    switch (finding_.reason()) {
      case v1::REASON_NOT_PICKED_UP:
        OtherBranch();
        NotRecorded();
        break;
      case v1::REASON_NOT_AT_THAT_HOME:
        Swapped();
        break;
      case v1::REASON_UNACCOUNTED:
      case v1::REASON_LEFT_FLEET:
        Found();
        break;
      case v1::REASON_OTHER_SERIAL_SEEN:
        BoardChanged();
        OtherUnit();
        break;
      case v1::REASON_OTHER_PART_SEEN:
        OtherPart();
        break;
      default:
        break;
    }
    return std::move(proposals_);
  }

 private:
  v1::Proposal& Propose(v1::ProposalKind kind, std::string text) {
    v1::Proposal& proposal = proposals_.emplace_back();
    proposal.set_kind(kind);
    proposal.set_text(std::move(text));
    *proposal.mutable_evidence() = finding_.evidence();
    return proposal;
  }

  v1::Fact& AddFact(v1::Proposal* proposal, int64_t at_us) {
    v1::Fact* fact = proposal->add_facts();
    time::SetMicros(at_us, fact->mutable_happened_time());
    return *fact;
  }

  std::string BranchHere() const {
    const v1::Branch* branch = rules_.BranchOfPlace(around_.place);
    return branch == nullptr ? "" : branch->id();
  }

  void OtherBranch() {
    if (around_.order == nullptr) return;
    const std::string& branch = around_.order->details().branch();
    const std::string here = BranchHere();
    if (branch.empty() || here.empty() || branch == here) return;
    Propose(v1::PROPOSAL_KIND_OTHER_BRANCH,
            absl::StrCat("order ", around_.order->order(), " is served by branch ", branch,
                         ": the patient may have brought it to ", here,
                         "; record the pick-up, tell ", branch, ", and keep it or send it back"));
  }

  // The rental is over and only its paper is missing, or two units were swapped at the home.
  void NotRecorded() {
    const std::string order = ValueOf(finding_, "order");
    const absl::TimeZone zone = rules_.ZoneOf(BranchHere());
    const bool due = around_.order_due && *around_.order_due <= time::LocalDay(around_.at_us, zone);
    if (!due) Exchanged(order);
    v1::Proposal& proposal = Propose(
        v1::PROPOSAL_KIND_UNRECORDED_PICKUP,
        absl::StrCat("the pick-up from order ", order, " was not recorded",
                     around_.order_due
                         ? absl::StrCat(", which is due ", time::FormatDay(*around_.order_due))
                         : "",
                     "; record it with the time at which the unit left the home"));
    v1::PickedUp* picked = AddFact(&proposal, around_.at_us).mutable_picked_up();
    picked->set_unit(around_.unit->unit());
    picked->set_order(order);
    picked->set_to_place(around_.place);
    if (due) Exchanged(order);
  }

  // Units of its class that the records have in the depot's hands and that could be in that home.
  void Exchanged(const std::string& order) {
    if (around_.like_it.empty()) return;
    std::string names;
    for (const v1::UnitState& other : around_.like_it) {
      absl::StrAppend(&names, names.empty() ? "" : ", ", other.unit());
    }
    v1::Proposal& proposal =
        Propose(v1::PROPOSAL_KIND_UNRECORDED_SWAP,
                absl::StrCat("it was swapped at the home of order ", order,
                             " and nobody recorded it; look which of these is not where the "
                             "records have it: ",
                             names));
    if (around_.like_it.size() != 1) return;
    v1::Exchanged* exchanged = AddFact(&proposal, around_.at_us).mutable_exchanged();
    exchanged->set_order(order);
    exchanged->set_unit_out(around_.unit->unit());
    exchanged->set_to_place(around_.place);
    exchanged->set_unit_in(around_.like_it.front().unit());
    exchanged->set_unit_in_model(around_.like_it.front().model());
  }

  // Two mismatches that cancel each other: each unit came from the home where the records have the
  // other one.
  void Swapped() {
    for (const v1::Finding& other : around_.other_questions) {
      if (other.reason() != v1::REASON_NOT_AT_THAT_HOME ||
          ValueOf(other, "expected") != ValueOf(finding_, "found") ||
          ValueOf(other, "found") != ValueOf(finding_, "expected")) {
        continue;
      }
      const std::string unit = other.subject().substr(other.subject().find('/') + 1);
      v1::Proposal& proposal = Propose(
          v1::PROPOSAL_KIND_UNRECORDED_SWAP,
          absl::StrCat("it was swapped with ", unit, ": the records have it with order ",
                       ValueOf(finding_, "found"), " and ", unit, " with order ",
                       ValueOf(finding_, "expected"),
                       ", and each came from the other's home; reverse both hand-overs and record "
                       "them with the units that went"));
      for (const v1::Stamp& stamp : other.evidence()) *proposal.add_evidence() = stamp;
      return;
    }
    const std::string order = ValueOf(finding_, "found");
    if (order.empty()) return;
    Propose(v1::PROPOSAL_KIND_WRONG_UNIT,
            absl::StrCat("another unit was taken from the home of order ",
                         ValueOf(finding_, "expected"),
                         " than the records say; read the tag of "
                         "what is still at the home of order ",
                         order));
  }

  void Found() {
    v1::Proposal& proposal =
        Propose(v1::PROPOSAL_KIND_FOUND,
                "it had been given up and turned up; record that it was found, and where");
    v1::UnitFound* found = AddFact(&proposal, around_.at_us).mutable_unit_found();
    found->set_unit(around_.unit->unit());
    found->set_place(around_.place);
  }

  void BoardChanged() {
    const std::string seen = ValueOf(finding_, "found");
    for (const v1::Alias& alias : around_.unit->aliases()) {
      if (alias.alias() != seen) continue;
      v1::Proposal& proposal =
          Propose(v1::PROPOSAL_KIND_BOARD_CHANGED,
                  absl::StrCat("the number is noted as another name of ", around_.unit->unit(),
                               ": its board was changed"));
      *proposal.add_evidence() = alias.noted();
    }
  }

  void OtherUnit() {
    for (const v1::UnitState& other : around_.with_serial) {
      if (other.unit() == around_.unit->unit()) continue;
      Propose(v1::PROPOSAL_KIND_WRONG_UNIT,
              absl::StrCat("it is ", other.unit(),
                           ", which bears that serial number; the records "
                           "have ",
                           other.unit(),
                           other.custody() == v1::CUSTODY_HOME
                               ? absl::StrCat(" with order ", other.order())
                               : absl::StrCat(" at ", other.place()),
                           "; the tags were mixed up, or the two were swapped"));
    }
  }

  void OtherPart() {
    if (around_.part == nullptr || around_.part->unit().empty()) return;
    const v1::PartState& part = *around_.part;
    if (part.unit() == around_.unit->unit()) return;
    v1::Proposal& proposal = Propose(
        v1::PROPOSAL_KIND_OTHER_UNITS_PART,
        absl::StrCat("part ", part.part(), " belongs to ", part.unit(), ", which is without its ",
                     part.position(), "; record its removal there"));
    *proposal.add_evidence() = part.since();
    v1::PartRemoved* removed = AddFact(&proposal, around_.at_us).mutable_part_removed();
    removed->set_part(part.part());
    removed->set_unit(part.unit());
    removed->set_position(part.position());
  }

  const v1::Finding& finding_;
  const Surroundings& around_;
  const depot::Rules& rules_;
  std::vector<v1::Proposal> proposals_;
};

}  // namespace

std::string ValueOf(const v1::Finding& finding, std::string_view key) {
  for (const v1::FindingValue& value : finding.values()) {
    if (value.key() == key) return value.value();
  }
  return "";
}

std::vector<v1::Proposal> Explain(const v1::Finding& finding, const Surroundings& around,
                                  const depot::Rules& rules) {
  return Explainer(finding, around, rules).Run();
}

}  // namespace ferrule::bench
