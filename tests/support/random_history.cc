#include "tests/support/random_history.h"

#include <array>
#include <random>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_replace.h"
#include "core/fact/subject.h"
#include "tests/support/entries.h"

namespace ferrule::testing {
namespace {

// U and V are units, R and Q orders, P and O parts, L a lot, W an item that is counted,
// S a transfer, C a stocktake, N a recall, X a closet, F a forecast's branch, PLACE a place, READ a
// reading. No subject is shared between histories: it would be folded again with all of them for
// each late fact of any.
constexpr std::array kFacts = {
    "unit_received { unit: 'U' model: 'knee-a' place: 'north-dock' side: SIDE_LEFT meter_s: 360000 "
    "}",
    "unit_received { unit: 'V' model: 'knee-a' place: 'west-shelf' serial: 'twin' "
    "parts { part: 'P' position: 'pendant' } }",
    "unit_moved { unit: 'U' to_place: 'PLACE' }",
    "unit_moved { unit: 'V' from_place: 'north-dock' to_place: 'PLACE' }",
    "meter_read { unit: 'U' reading_s: READ }",
    "meter_replaced { unit: 'U' old_last_s: READ new_first_s: 0 }",
    "meter_rolled_over { unit: 'U' reading_s: READ width_s: 36000000 }",
    "part_fitted { part: 'P' unit: 'U' position: 'pendant' }",
    "part_removed { part: 'P' unit: 'U' position: 'pendant' }",
    "part_fitted { part: 'O' unit: 'V' position: 'pendant' }",
    "hold_placed { unit: 'U' kind: HOLD_KIND_RECALL reason: 'notice' }",
    "hold_lifted { unit: 'U' kind: HOLD_KIND_RECALL reference: 'N-9' outcome: 'closed' }",
    "hold_lifted { unit: 'U' kind: HOLD_KIND_RECALL outcome: 'corrected' }",
    "hold_placed { unit: 'V' kind: HOLD_KIND_INCIDENT reason: 'alleged' }",
    "cleaning_started { unit: 'U' }",
    "cleaning_finished { unit: 'U' product: 'wipe' wet_from_time { seconds: 1772438400 } "
    "wet_to_time { seconds: 1772438490 } }",
    "cleaning_finished { unit: 'V' product: 'wipe' wet_from_time { seconds: 1772438400 } "
    "wet_to_time { seconds: 1772438430 } }",
    "memory_erased { unit: 'U' }",
    "inspection_done { unit: 'U' checklist: 'knee-check' checklist_version: '1' "
    "tester: 'T' readings { item: 'earth' value: 0.3 } }",
    "inspection_done { unit: 'V' checklist: 'knee-check' checklist_version: '1' "
    "readings { item: 'earth' value: 0.4 } }",
    "repair_opened { unit: 'U' complaint: 'stops' }",
    "repair_closed { unit: 'U' work: 'cable' }",
    "service_done { unit: 'U' plan: 'yearly' }",
    "side_configured { unit: 'U' side: SIDE_RIGHT }",
    "alias_noted { unit: 'U' alias: '17' kind: ALIAS_KIND_OLD_TAG }",
    "alias_noted { unit: 'U' alias: '17' kind: ALIAS_KIND_BOARD_NUMBER }",
    "alias_noted { unit: 'V' alias: '4' kind: ALIAS_KIND_BOARD_NUMBER }",
    "cleaning_step_done { unit: 'U' step: CLEANING_STEP_WASHING }",
    "cleaning_step_done { unit: 'U' step: CLEANING_STEP_DISINFECTION }",
    "contact_noted { unit: 'U' beside_unit: 'V' }",
    "hold_placed { unit: 'U' kind: HOLD_KIND_INFESTATION reason: 'seen' }",
    "hold_lifted { unit: 'U' kind: HOLD_KIND_INFESTATION outcome: 'clear' inspected_by: 'bo' }",
    "treatment_done { unit: 'U' treatment: 'heat' temperature_c: 50 "
    "from_time { seconds: 1772438400 } to_time { seconds: 1772449200 } }",
    "service_deferred { unit: 'U' plan: 'yearly' until_date { year: 2026 month: 6 day: 1 } "
    "authority: 'lead' because: 'at home' }",
    "tester_calibrated { tester: 'T' due_date { year: 2027 month: 1 day: 1 } }",
    "tester_doubted { tester: 'T' from_time { seconds: 1772438400 } "
    "to_time { seconds: 1772948400 } because: 'dropped' units: 'U' }",
    "unit_missing { unit: 'V' }",
    "unit_found { unit: 'V' place: 'north-dock' }",
    "unit_written_off { unit: 'V' reason: 'lost' approved_by: 'manager' }",
    "order_taken { order: 'R' sender_version: 1 details { patient: 'x' prescriber: 'y' "
    "branch: 'north' device_class: 'knee' side: SIDE_LEFT procedure: 'z' length_of_need_days: 21 "
    "needed_date { year: 2026 month: 3 day: 7 } motion { extension_deg: 0 flexion_deg: 90 } } }",
    "order_taken { order: 'Q' details { branch: 'west' device_class: 'knee' } }",
    "order_changed { order: 'R' sender_version: 3 details { side: SIDE_RIGHT } }",
    "order_changed { order: 'R' sender_version: 2 details { length_of_need_days: 14 } }",
    "order_cancelled { order: 'Q' reason: 'surgery cancelled' }",
    "unit_held_for_order { unit: 'U' order: 'R' firm: true until_time { seconds: 1773200000 } }",
    "unit_held_for_order { unit: 'U' order: 'Q' until_time { seconds: 1773200000 } }",
    "order_hold_released { unit: 'U' order: 'R' }",
    "handed_over { unit: 'U' order: 'R' unit_model: 'knee-a' unit_side: SIDE_LEFT "
    "kit { item: 'pad-set' lot: 'L' piece_count: 1 } signed_by: 'patient' }",
    "handed_over { unit: 'V' order: 'Q' unit_model: 'knee-b' "
    "kit { item: 'straps' lot: 'L' piece_count: 2 } }",
    "exchanged { order: 'R' unit_out: 'U' to_place: 'north-van' unit_in: 'V' "
    "unit_in_model: 'knee-a' reason: 'noise' }",
    "order_extended { order: 'R' from_date { year: 2026 month: 4 day: 2 } "
    "through_date { year: 2026 month: 4 day: 5 } }",
    "order_stopped { order: 'R' through_date { year: 2026 month: 3 day: 15 } }",
    "order_reinstated { order: 'Q' sender_version: 4 }",
    "details_confirmed { order: 'R' kind: DETAIL_KIND_SIDE confirmed_by: 'y' }",
    "authorisation_noted { order: 'R' number: 'N' from_date { year: 2026 month: 3 day: 2 } "
    "through_date { year: 2026 month: 3 day: 20 } unit_count: 9 }",
    "patient_stay_noted { order: 'R' stay: STAY_HOME }",
    "patient_stay_noted { order: 'R' stay: STAY_HOSPITAL }",
    "use_noted { order: 'R' change: USE_CHANGE_STARTED }",
    "use_noted { order: 'R' change: USE_CHANGE_STOPPED }",
    "days_billed { order: 'R' claim: 'C' from_date { year: 2026 month: 3 day: 2 } "
    "through_date { year: 2026 month: 3 day: 5 } unit_count: 4 }",
    "carried_over { unit: 'U' from_order: 'R' to_order: 'Q' patient: 'x' unit_model: 'knee-a' "
    "unit_side: SIDE_RIGHT kit { item: 'pad-set' lot: 'L' piece_count: 1 } }",
    "order_changed { order: 'Q' details { linked_order: 'R' order_link: ORDER_LINK_SECOND_SIDE "
    "patient_side: SIDE_RIGHT payer: 'nobody' payer_from_date { year: 2026 month: 3 day: 9 } } }",
    "order_extended { order: 'R' through_date { year: 2026 month: 4 day: 20 } }",
    "pickup_agreed { order: 'R' pickup_date { year: 2026 month: 3 day: 28 } }",
    "pickup_failed { order: 'R' outcome: 'nobody home' }",
    "set_up_done { order: 'R' unit: 'U' tried_cycle_count: 2 taught_back: true }",
    "ticket_returned { order: 'R' signed_by: 'spouse' items_described: true legible: true }",
    "call_made { order: 'R' kind: CALL_KIND_FOLLOW_UP outcome: CALL_OUTCOME_REACHED }",
    "precautions_noted { order: 'R' precautions: [PRECAUTION_GLOVES, PRECAUTION_RING_FIRST] "
    "because: 'seen' }",
    "precautions_noted { order: 'R' because: 'cleared' }",
    "breakdown_reported { order: 'R' unit: 'U' words: 'stops' }",
    "breakdown_settled { order: 'R' cure: BREAKDOWN_CURE_BY_TELEPHONE }",
    "complaint_received { complaint: 'B' kind: COMPLAINT_KIND_DEVICE subject: 'units/U' branch: "
    "'north' source: COMPLAINT_SOURCE_PATIENT harm: HARM_POSSIBLE words: 'pinched' }",
    "complaint_answered { complaint: 'B' how: 'telephone' }",
    "complaint_closed { complaint: 'B' outcome: COMPLAINT_OUTCOME_UPHELD done: 'covered' }",
    "records_held { order: 'R' matter: 'M' because: 'claim' }",
    "records_released { order: 'R' matter: 'M' because: 'settled' }",
    "records_disclosed { order: 'R' recipient: 'payer' content: 'order' purpose: 'review' }",
    "order_message_received { order: 'R' sender: 'clinic-ehr' sender_version: 3 kind: "
    "MESSAGE_KIND_HL7_V2 message: 'm-1' message_sha256: 'c0ffee' side: SIDE_LEFT }",
    "order_message_received { order: 'R' sender: 'portal' sender_version: 2 kind: "
    "MESSAGE_KIND_CSV_ORDER message: 'm-2' message_sha256: 'c0ffee' side: SIDE_RIGHT "
    "cleared: 'procedure' }",
    "picked_up { unit: 'U' order: 'R' to_place: 'north-van' missing: 'pendant' }",
    "picked_up { unit: 'V' order: 'Q' to_place: 'north-van' }",
    "received_back { unit: 'U' place: 'north-dock' meter_s: READ }",
    "received_back { unit: 'V' place: 'north-dock' }",
    "usage_reported { order: 'R' meter_s: READ source: USAGE_SOURCE_METER }",
    "motion_changed { order: 'R' motion { flexion_deg: 95 } changed_by: MOTION_CHANGER_PATIENT }",
    "waiting_noted { order: 'R' asked_date { year: 2026 month: 3 day: 7 } }",
    "promise_refused { order: 'Q' kind: REFUSAL_KIND_NO_UNIT asked_date { year: 2026 month: 3 "
    "day: 7 } }",
    "unit_promised { unit: 'U' order: 'R' from_date { year: 2026 month: 3 day: 5 } "
    "through_date { year: 2026 month: 3 day: 27 } firm: true }",
    "unit_promised { unit: 'U' order: 'Q' from_date { year: 2026 month: 3 day: 20 } "
    "through_date { year: 2026 month: 4 day: 9 } until_time { seconds: 1773200000 } }",
    "unit_promised { unit: 'V' order: 'Q' from_date { year: 2026 month: 3 day: 2 } "
    "through_date { year: 2026 month: 3 day: 2 } after_order: 'R' }",
    "forecast_noted { branch: 'F' as_of_date { year: 2026 month: 3 day: 2 } classes { "
    "device_class: 'knee' days { median: 1 high_80: 2 q95: 2 high_95: 2 q99: 3 } } }",
    "received_back { unit: 'U' place: 'north-dock' serial: 'other' accessories_counted: true "
    "parts { part: 'P' position: 'pendant' } }",
    "part_fitted { part: 'O' unit: 'U' position: 'motor' lot: 'B-77' }",
    "stock_received { item: 'pad-set' lot: 'L' place: 'north-shelf' piece_count: 3 "
    "expiry_date { year: 2026 month: 3 day: 6 } }",
    "stock_received { item: 'W' place: 'PLACE' piece_count: 2 }",
    "stock_moved { item: 'pad-set' lot: 'L' from_place: 'north-van' to_place: 'PLACE' "
    "piece_count: 1 }",
    "stock_issued { item: 'W' place: 'north-shelf' piece_count: 1 order: 'R' }",
    "stock_issued { item: 'pad-set' lot: 'L' place: 'PLACE' piece_count: 1 order: 'Q' }",
    "stock_returned { item: 'W' place: 'north-dock' piece_count: 1 order: 'R' }",
    "stock_discarded { item: 'pad-set' lot: 'L' place: 'PLACE' piece_count: 1 reason: 'torn' }",
    "stock_adjusted { item: 'pad-set' lot: 'L' place: 'north-shelf' change_count: -1 count: 'C' "
    "approved_by: 'manager' }",
    "transfer_sent { transfer: 'S' from_place: 'north-shelf' to_place: 'west-shelf' units: 'U' "
    "lines { item: 'pad-set' lot: 'L' piece_count: 1 } lines { item: 'W' piece_count: 1 } "
    "seal: 'Z' }",
    "transfer_received { transfer: 'S' place: 'west-shelf' units: 'U' units: 'V' "
    "lines { item: 'pad-set' lot: 'L' piece_count: 1 } seal_broken: true }",
    "closet_use_reported { place: 'X' device_class: 'knee' piece_count: 1 }",
    "closet_use_settled { place: 'X' fact { entry_id: 'X' index: 0 } }",
    "count_opened { count: 'C' places: 'north-shelf' cut_off_time { seconds: 1772438400 } }",
    "count_tallied { count: 'C' place: 'north-shelf' round: 2 units: 'U' }",
    "count_closed { count: 'C' approved_by: 'tech-ada' differences { subject: 'units/U1' "
    "place: 'north-shelf' explanation: COUNT_EXPLANATION_NONE } }",
    "recall_opened { recall: 'N' notice: 'n' scope { models: 'knee-a' } instruction: 'stop' }",
    "recall_outcome_noted { recall: 'N' subject: 'lots/L' outcome: RECALL_OUTCOME_CONTACTED }",
    "recall_closed { recall: 'N' open_item_count: 1 }",
    "seal_broken { unit: 'U' seal: 'Z' }",
    "purpose_changed { unit: 'U' purpose: PURPOSE_LOANER }",
    "purpose_changed { unit: 'U' purpose: PURPOSE_RENTAL }",
};
// Rules that random facts break often.
constexpr std::array kRules = {v1::REASON_UNIT_UNKNOWN,       v1::REASON_ORDER_UNKNOWN,
                               v1::REASON_NOT_CLEANED,        v1::REASON_ORDER_NOT_ON_RENT,
                               v1::REASON_ORDER_INCOMPLETE,   v1::REASON_KIT_MISSING,
                               v1::REASON_NOT_HELD_FOR_ORDER, v1::REASON_PART_NOT_IN_UNIT};
constexpr std::array kPlaces = {"north-dock", "north-bench", "north-shelf", "west-shelf",
                                "nowhere"};
constexpr std::array kIds = {"U", "V", "R", "Q", "P", "O", "L", "T",
                             "W", "S", "C", "N", "X", "F", "B"};

}  // namespace

std::vector<v1::Entry> RandomHistory(uint64_t seed, const std::string& prefix) {
  std::mt19937_64 random(seed);
  auto below = [&random](uint64_t n) { return static_cast<int>(random() % n); };
  std::vector<std::pair<std::string, std::string>> names;
  for (const char* id : kIds) {
    names.emplace_back(absl::StrCat("'", id, "'"), absl::StrCat("'", prefix, id, "'"));
  }
  names.emplace_back("'lots/L'", absl::StrCat("'lots/", prefix, "L'"));
  std::vector<v1::Entry> out;
  const int entries = 8 + below(24);
  for (int i = 0; i < entries; ++i) {
    v1::Entry entry;
    entry.set_entry_id(absl::StrCat(prefix, i / 10, i % 10));
    entry.set_actor(below(2) == 0 ? "tech-ada" : "rep-bo");
    entry.set_mode(v1::ENTRY_MODE_OBSERVED);
    entry.set_order_number(below(3));
    // Half-hours out of a few days: ties are common.
    const int64_t at = kStartUs + below(400) * 30 * kMinuteUs;
    const int facts = 1 + below(3);
    for (int f = 0; f < facts; ++f) {
      auto replacements = names;
      replacements.emplace_back("'PLACE'", absl::StrCat("'", kPlaces[below(kPlaces.size())], "'"));
      replacements.emplace_back("READ", absl::StrCat(360'000 + below(200) * 3'600));
      AddFact(at + below(2) * kMinuteUs,
              absl::StrReplaceAll(kFacts[below(kFacts.size())], replacements), &entry);
    }
    if (!out.empty() && below(6) == 0) {
      const v1::Entry& target = out[below(out.size())];
      const int index = below(target.facts_size());
      v1::Fact& fact = AddFact(at, "reversal { because: 'mistyped' }", &entry);
      v1::Reversal& reversal = *fact.mutable_reversal();
      reversal.mutable_fact()->set_entry_id(target.entry_id());
      reversal.mutable_fact()->set_index(index);
      for (const std::string& name : fact::SubjectsOf(target.facts(index))) {
        reversal.add_subjects(name);
      }
    }
    if (!out.empty() && below(4) == 0) {
      const v1::Entry& target = out[below(out.size())];
      const int index = below(target.facts_size());
      const std::vector<std::string> subjects = fact::SubjectsOf(target.facts(index));
      v1::Fact& fact = AddFact(at, "question_answered { explanation: 'seen' }", &entry);
      v1::QuestionAnswered& answer = *fact.mutable_question_answered();
      answer.set_subject(subjects[below(subjects.size())]);
      // One in eight names a fact that nobody ever hears of.
      answer.mutable_fact()->set_entry_id(below(8) == 0 ? absl::StrCat(prefix, "zz")
                                                        : target.entry_id());
      answer.mutable_fact()->set_index(index);
      answer.set_rule(kRules[below(kRules.size())]);
    }
    out.push_back(std::move(entry));
  }
  return out;
}

std::vector<std::string> SubjectsOfHistory(const std::string& prefix) {
  std::vector<std::string> out;
  for (const char* id : {"U", "V"}) out.push_back(absl::StrCat("units/", prefix, id));
  for (const char* id : {"R", "Q"}) out.push_back(absl::StrCat("orders/", prefix, id));
  for (const char* id : {"P", "O"}) out.push_back(absl::StrCat("parts/", prefix, id));
  out.push_back(absl::StrCat("lots/", prefix, "L"));
  out.push_back(absl::StrCat("testers/", prefix, "T"));
  out.push_back(absl::StrCat("items/", prefix, "W"));
  out.push_back(absl::StrCat("transfers/", prefix, "S"));
  out.push_back(absl::StrCat("counts/", prefix, "C"));
  out.push_back(absl::StrCat("recalls/", prefix, "N"));
  out.push_back(absl::StrCat("places/", prefix, "X"));
  out.push_back(absl::StrCat("complaints/", prefix, "B"));
  out.push_back(absl::StrCat("forecasts/", prefix, "F"));
  return out;
}

}  // namespace ferrule::testing
