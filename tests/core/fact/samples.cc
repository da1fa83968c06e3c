#include "tests/core/fact/samples.h"

#include <stdexcept>

#include "google/protobuf/text_format.h"

namespace ferrule::testing {
namespace {

struct Row {
  const char* kind;
  const char* content;
  const char* subjects;
  const char* kind_words;
  const char* words;
};

constexpr Row kRows[] = {
    {"unit_received",
     "unit: 'K-1' serial: 'S-9' udi: '(01)0' model: 'knee-a' owner: 'partner' purpose: "
     "PURPOSE_LOANER cost_minor: 250000 place: 'north-dock' side: SIDE_LEFT meter_s: 36000 "
     "parts { part: 'PEN-8' position: 'pendant' } parts { part: 'MOT-2' position: 'motor' }",
     "units/K-1 parts/PEN-8 parts/MOT-2", "unit received",
     "unit received K-1: model knee-a, serial S-9, at north-dock, set up left, for loaner, owner "
     "partner, meter 10.0 h, 2 parts"},
    {"unit_moved", "unit: 'K-1' from_place: 'north-dock' to_place: 'north-bench'", "units/K-1",
     "moved", "moved K-1 from north-dock to north-bench"},
    {"meter_read", "unit: 'K-1' reading_s: 44640", "units/K-1", "meter read",
     "meter read on K-1: 12.4 h"},
    {"meter_replaced", "unit: 'K-1' old_last_s: 44640 new_first_s: 360", "units/K-1",
     "meter replaced", "meter replaced on K-1: old one at 12.4 h, new one at 0.1 h"},
    {"meter_rolled_over", "unit: 'K-1' reading_s: 11232 width_s: 36000000", "units/K-1",
     "meter rolled over", "meter rolled over on K-1: 3.1 h, begins again at 10000.0 h"},
    {"part_fitted", "part: 'PEN-8' unit: 'K-1' position: 'pendant'", "parts/PEN-8 units/K-1",
     "part fitted", "part fitted PEN-8 into K-1: as pendant"},
    {"part_removed", "part: 'PEN-8' unit: 'K-1' position: 'pendant'", "parts/PEN-8 units/K-1",
     "part removed", "part removed PEN-8 from K-1: as pendant"},
    {"hold_placed", "unit: 'K-1' kind: HOLD_KIND_RECALL reason: 'field notice 7' reference: 'FN-7'",
     "units/K-1", "hold placed", "hold placed on K-1: recall, field notice 7, reference FN-7"},
    {"hold_lifted",
     "unit: 'K-1' kind: HOLD_KIND_RECALL outcome: 'board replaced' reference: 'FN-7' "
     "inspected_by: 'tech-bo'",
     "units/K-1", "hold lifted",
     "hold lifted from K-1: recall, board replaced, reference FN-7, inspected by tech-bo"},
    {"cleaning_started", "unit: 'K-1'", "units/K-1", "cleaning started", "cleaning started on K-1"},
    {"cleaning_finished",
     "unit: 'K-1' product: 'wipe' product_lot: 'W-1' "
     "product_expiry_date { year: 2027 month: 1 day: 31 } wet_from_time { seconds: 1772438400 } "
     "wet_to_time { seconds: 1772438520 } discarded: 'pad-set' seal: 'Z-5' dilution: '1:64' extra: "
     "'smoke'",
     "units/K-1", "cleaning finished",
     "cleaning finished on K-1: with wipe, lot W-1, diluted 1:64, wet for 120 s, thrown away "
     "pad-set, seal Z-5, extra smoke"},
    {"memory_erased", "unit: 'K-1' method: 'service menu'", "units/K-1", "memory erased",
     "memory erased of K-1: by service menu"},
    {"inspection_done",
     "unit: 'K-1' checklist: 'knee-check' checklist_version: '3' tester: 'ESA-2' "
     "readings { item: 'earth' value: 0.2 } readings { item: 'alarm' value: 1 }",
     "units/K-1", "inspection done",
     "inspection done on K-1: knee-check version 3, 2 readings, with tester ESA-2"},
    {"repair_opened", "unit: 'K-1' complaint: 'grinds at\\n90 degrees'", "units/K-1",
     "repair opened", "repair opened on K-1: grinds at 90 degrees"},
    {"repair_closed",
     "unit: 'K-1' cause: 'wear' work: 'gear replaced' labour_s: 5400 cost_minor: 12000",
     "units/K-1", "repair closed", "repair closed on K-1: cause wear, gear replaced, labour 1.5 h"},
    {"service_done", "unit: 'K-1' plan: 'yearly'", "units/K-1", "service done",
     "service done on K-1: yearly"},
    {"side_configured", "unit: 'K-1' side: SIDE_RIGHT", "units/K-1", "side configured",
     "side configured of K-1: right"},
    {"unit_missing", "unit: 'K-1' evidence: 'last on van 2'", "units/K-1", "unit missing",
     "unit missing K-1: last on van 2"},
    {"unit_found", "unit: 'K-1' place: 'north-dock'", "units/K-1", "unit found",
     "unit found K-1: at north-dock"},
    {"unit_written_off", "unit: 'K-1' reason: 'water damage' approved_by: 'lead-eve'", "units/K-1",
     "unit written off", "unit written off K-1: water damage, approved by lead-eve"},
    {"alias_noted", "unit: 'K-1' alias: 'CPM 12' kind: ALIAS_KIND_OLD_TAG", "units/K-1",
     "alias noted", "alias noted of K-1: old tag CPM 12"},
    {"cleaning_step_done", "unit: 'K-1' step: CLEANING_STEP_WASHING", "units/K-1", "cleaning step",
     "cleaning step on K-1: washing"},
    {"contact_noted", "unit: 'K-1' beside_unit: 'K-2' evidence: 'cover open'", "units/K-1",
     "contact", "contact of K-1 with soiled K-2: cover open"},
    {"treatment_done",
     "unit: 'K-1' treatment: 'heat' temperature_c: 50.5 from_time { seconds: 1772438400 } "
     "to_time { seconds: 1772443800 }",
     "units/K-1", "treatment", "treatment of K-1: heat, at 50.5 deg C, for 90 min"},
    {"service_deferred",
     "unit: 'K-1' plan: 'yearly' until_date { year: 2026 month: 5 day: 1 } authority: 'lead-eve' "
     "because: 'with the patient'",
     "units/K-1", "service put off",
     "service put off of K-1: yearly, until 2026-05-01, by lead-eve, because with the patient"},
    {"tester_calibrated",
     "tester: 'T-3' due_date { year: 2027 month: 3 day: 1 } certificate: 'C-88' "
     "found_out_of_tolerance: true",
     "testers/T-3", "tester calibrated",
     "tester calibrated T-3: through 2027-03-01, certificate C-88, found out of tolerance"},
    {"tester_doubted",
     "tester: 'T-3' from_time { seconds: 1772438400 } to_time { seconds: 1774252800 } "
     "because: 'dropped' units: 'K-1' units: 'K-2'",
     "testers/T-3 units/K-1 units/K-2", "tester in doubt",
     "tester in doubt T-3: from 2026-03-02T08:00:00Z, to 2026-03-23T08:00:00Z, dropped, 2 units"},
    {"order_taken",
     "order: 'R-1' details { patient: 'P-77' prescriber: 'D-4' facility: 'clinic-2' branch: "
     "'north' device_class: 'knee' side: SIDE_LEFT procedure: 'knee replacement' "
     "surgery_date { year: 2026 month: 3 day: 5 } discharge_date { year: 2026 month: 3 day: 7 } "
     "needed_date { year: 2026 month: 3 day: 7 } length_of_need_days: 21 motion { extension_deg: "
     "-5 flexion_deg: 90 speed_deg_per_min: 60 pause_s: 3 daily_use_s: 21600 } "
     "signed_date { year: 2026 month: 3 day: 1 } "
     "authorisation_end_date { year: 2026 month: 3 day: 30 } "
     "cover_end_date { year: 2026 month: 3 day: 26 } payer: 'payer-a' "
     "payer_from_date { year: 2026 month: 3 day: 9 } surgery_time { seconds: 1772712000 } "
     "procedure_code: '27447' joint: 'knee' patient_side: SIDE_RIGHT linked_order: 'R-0' "
     "order_link: ORDER_LINK_SECOND_SIDE notice_date { year: 2026 month: 3 day: 8 } } "
     "sender_reference: 'A-1' sender_version: 1",
     "orders/R-1 orders/R-0", "order taken",
     "order taken R-1: branch north, for knee, left, knee replacement, operation 2026-03-05, "
     "discharge 2026-03-07, needed by 2026-03-07, 21 days, extension -5 deg, flexion 90 deg, speed "
     "60 deg/min, pause 3 s, daily use 6.0 h, signed 2026-03-01, authorised through 2026-03-30, "
     "covered through 2026-03-26, payer payer-a, payer from 2026-03-09, operation at "
     "2026-03-05T12:00:00Z, procedure code 27447, joint knee, the patient says right, other side "
     "of "
     "R-0, told of what is not paid 2026-03-08, sender's number A-1"},
    {"order_changed", "order: 'R-1' details { side: SIDE_RIGHT } sender_version: 2", "orders/R-1",
     "order changed", "order changed R-1: right, version 2"},
    {"order_cancelled", "order: 'R-1' reason: 'operation put off' sender_version: 3", "orders/R-1",
     "order cancelled", "order cancelled R-1: operation put off"},
    {"unit_held_for_order",
     "unit: 'K-1' order: 'R-1' firm: true until_time { seconds: 1775000000 }",
     "units/K-1 orders/R-1", "unit held", "unit held K-1 for order R-1: firm"},
    {"order_hold_released", "unit: 'K-1' order: 'R-1' reason: 'other side'", "units/K-1 orders/R-1",
     "unit released", "unit released K-1 for order R-1: other side"},
    {"handed_over",
     "unit: 'K-1' order: 'R-1' unit_model: 'knee-a' unit_side: SIDE_LEFT meter_s: 44640 "
     "kit { item: 'pad-set' lot: 'L-3' piece_count: 1 } "
     "kit { item: 'strap' lot: 'L-4' piece_count: 2 } "
     "kit { item: 'strap-long' lot: 'L-3' piece_count: 1 } "
     "accessories: 'pendant' accessories: 'cord' motion { flexion_deg: 40 } papers: 'rights' "
     "signed_by: 'spouse'",
     "units/K-1 orders/R-1 lots/L-3 lots/L-4", "handed over",
     "handed over K-1 with order R-1: model knee-a, set up left, meter 12.4 h, 1 pad-set of lot "
     "L-3, 2 strap of lot L-4, 1 strap-long of lot L-3, with pendant cord, flexion 40 deg, papers "
     "rights, signed by spouse"},
    {"exchanged",
     "order: 'R-1' unit_out: 'K-1' to_place: 'north-van' out_meter_s: 44640 unit_in: 'K-2' "
     "unit_in_model: 'knee-a' unit_in_side: SIDE_LEFT in_meter_s: 3600 reason: 'noise' "
     "kit { item: 'pad-set' lot: 'L-3' piece_count: 1 } motion { flexion_deg: 60 }",
     "units/K-1 units/K-2 orders/R-1 lots/L-3", "exchanged",
     "exchanged K-1 for K-2 with order R-1: noise, old meter 12.4 h, new meter 1.0 h, model "
     "knee-a, "
     "set up left, old one to north-van, 1 pad-set of lot L-3, flexion 60 deg"},
    {"order_extended",
     "order: 'R-1' through_date { year: 2026 month: 4 day: 9 } "
     "signed_date { year: 2026 month: 3 day: 25 }",
     "orders/R-1", "order extended", "order extended R-1: through 2026-04-09, signed 2026-03-25"},
    {"pickup_agreed", "order: 'R-1' pickup_date { year: 2026 month: 4 day: 10 }", "orders/R-1",
     "pick-up agreed", "pick-up agreed for order R-1: 2026-04-10"},
    {"pickup_failed", "order: 'R-1' outcome: 'nobody home'", "orders/R-1", "pick-up failed",
     "pick-up failed for order R-1: nobody home"},
    {"picked_up",
     "unit: 'K-1' order: 'R-1' to_place: 'north-van' meter_s: 80640 accessories: 'pendant' "
     "missing: 'cord' condition: 'scratched'",
     "units/K-1 orders/R-1", "picked up",
     "picked up K-1 from order R-1 to north-van: meter 22.4 h, with pendant, missing cord, "
     "scratched"},
    {"received_back",
     "unit: 'K-1' place: 'north-dock' meter_s: 80640 serial: 'S-9' "
     "parts { part: 'PEN-8' position: 'pendant' } accessories_counted: true accessories: 'cord' "
     "condition: 'wet'",
     "units/K-1 parts/PEN-8", "received back",
     "received back K-1 at north-dock: meter 22.4 h, serial S-9, 1 part seen, with cord, wet"},
    {"forecast_noted",
     "branch: 'north' as_of_date { year: 2026 month: 3 day: 2 } program: '0.1' "
     "classes { device_class: 'knee' unit_count: 30 basis: 'orders' days { mean_units: 21.5 "
     "low_95: 15 low_80: 18 median: 21 high_80: 25 q95: 27 high_95: 28 q99: 30 } }",
     "forecasts/north", "forecast noted", "forecast noted of north: as of 2026-03-02, knee 1 day"},
    {"order_reinstated", "order: 'R-1' reason: 'operation back on' sender_version: 4", "orders/R-1",
     "order reinstated", "order reinstated R-1: operation back on, version 4"},
    {"details_confirmed",
     "order: 'R-1' kind: DETAIL_KIND_SIDE confirmed_by: 'D-4' how: 'rang the office'", "orders/R-1",
     "details confirmed", "details confirmed of order R-1: side, by D-4, rang the office"},
    {"authorisation_noted",
     "order: 'R-1' number: 'PA-9' from_date { year: 2026 month: 3 day: 6 } "
     "through_date { year: 2026 month: 3 day: 26 } unit_count: 21",
     "orders/R-1", "authorisation noted",
     "authorisation noted for order R-1: number PA-9, from 2026-03-06, through 2026-03-26, 21 "
     "units"},
    {"patient_stay_noted", "order: 'R-1' stay: STAY_HOSPITAL because: 'fever'", "orders/R-1",
     "patient's stay noted", "patient's stay noted of order R-1: hospital, fever"},
    {"order_stopped",
     "order: 'R-1' through_date { year: 2026 month: 3 day: 20 } "
     "signed_date { year: 2026 month: 3 day: 19 } reason: 'healed'",
     "orders/R-1", "order stopped",
     "order stopped R-1: through 2026-03-20, signed 2026-03-19, healed"},
    {"use_noted", "order: 'R-1' change: USE_CHANGE_STARTED", "orders/R-1", "use noted",
     "use noted with order R-1: started"},
    {"days_billed",
     "order: 'R-1' claim: 'C-7' from_date { year: 2026 month: 3 day: 7 } "
     "through_date { year: 2026 month: 3 day: 26 } unit_count: 20 amount_minor: 50000 "
     "correction: true",
     "orders/R-1", "days billed",
     "days billed of order R-1: claim C-7, from 2026-03-07, through 2026-03-26, 20 units, a "
     "correction"},
    {"carried_over",
     "unit: 'K-1' from_order: 'R-1' to_order: 'R-2' patient: 'P-77' unit_model: 'knee-a' "
     "unit_side: SIDE_RIGHT meter_s: 44640 kit { item: 'pad-set' lot: 'L-3' piece_count: 1 } "
     "motion { flexion_deg: 40 } signed_by: 'patient'",
     "units/K-1 orders/R-1 orders/R-2 lots/L-3", "carried over",
     "carried over K-1 from order R-1 to order R-2: model knee-a, set up right, meter 12.4 h, 1 "
     "pad-set of lot L-3, flexion 40 deg, signed by patient"},
    {"usage_reported",
     "order: 'R-1' unit: 'K-1' meter_s: 80640 used_s: 21600 from_date { year: 2026 month: 3 day: 8 "
     "} "
     "through_date { year: 2026 month: 3 day: 9 } source: USAGE_SOURCE_TOLD",
     "orders/R-1", "usage reported",
     "usage reported with order R-1: K-1, meter 22.4 h, used 6.0 h, from 2026-03-08, through "
     "2026-03-09, told"},
    {"motion_changed",
     "order: 'R-1' motion { flexion_deg: 70 } changed_by: MOTION_CHANGER_THERAPIST "
     "reason: 'as tolerated'",
     "orders/R-1", "motion changed",
     "motion changed with order R-1 by therapist: flexion 70 deg, as tolerated"},
    {"waiting_noted",
     "order: 'R-1' asked_date { year: 2026 month: 3 day: 7 } reason: 'all knees out'", "orders/R-1",
     "waiting noted", "waiting noted R-1: asked for 2026-03-07, all knees out"},
    {"promise_refused",
     "order: 'R-1' asked_date { year: 2026 month: 3 day: 7 } kind: REFUSAL_KIND_NO_UNIT "
     "offered_date { year: 2026 month: 3 day: 9 } reason: 'turned down'",
     "orders/R-1", "promise refused",
     "promise refused for order R-1: asked for 2026-03-07, no unit in time, offered 2026-03-09, "
     "turned down"},
    {"unit_promised",
     "unit: 'K-1' order: 'R-1' from_date { year: 2026 month: 3 day: 7 } "
     "through_date { year: 2026 month: 3 day: 29 } firm: true until_time { seconds: 1775000000 } "
     "after_order: 'R-0' odds_permille: 973",
     "units/K-1 orders/R-1", "unit promised",
     "unit promised K-1 to order R-1: firm, from 2026-03-07, through 2026-03-29, after R-0, odds "
     "97.3 %"},
    {"settings_put", "settings { version: '2026-01' } from_time { seconds: 1767225600 }",
     "settings/depot", "settings put", "settings put: version 2026-01, from 2026-01-01T00:00:00Z"},
    {"reversal",
     "fact { entry_id: 'e-1' index: 1 } subjects: 'units/K-1' subjects: 'orders/R-1' "
     "because: 'wrong tag'",
     "units/K-1 orders/R-1", "reversal", "reversal of e-1 fact 1: wrong tag"},
    {"question_answered",
     "subject: 'units/K-1' fact { entry_id: 'e-2' index: 0 } rule: REASON_NOT_PICKED_UP "
     "explanation: 'left at the desk'",
     "units/K-1", "question answered",
     "question answered on units/K-1: REASON_NOT_PICKED_UP, left at the desk"},
    {"order_message_received",
     "order: 'R-1' sender: 'clinic-ehr' sender_reference: 'A-1' sender_version: 2 "
     "kind: MESSAGE_KIND_HL7_V2 message: 'm-1' message_sha256: 'c0ffee' "
     "stated_time { seconds: 1772442000 } cleared: 'side' settings_version: '2026-01' "
     "device_class: 'knee' side: SIDE_LEFT patient: 'P-77' "
     "surgery_date { year: 2026 month: 3 day: 5 }",
     "orders/R-1", "message received",
     "message received for order R-1 from clinic-ehr: HL7 v2, sender's number A-1, version 2, "
     "message m-1, takes away side"},
    {"stock_received",
     "item: 'pad-set' lot: 'L-3' place: 'north-shelf' piece_count: 50 "
     "expiry_date { year: 2027 month: 1 day: 31 } supplier: 'partner'",
     "lots/L-3", "stock received",
     "stock received 50 pad-set of lot L-3 at north-shelf: from partner, use by 2027-01-31"},
    {"stock_moved",
     "item: 'walker' from_place: 'north-shelf' to_place: 'north-closet' piece_count: 2",
     "items/walker", "stock moved", "stock moved 2 walker from north-shelf to north-closet"},
    {"stock_issued",
     "item: 'walker' place: 'north-shelf' piece_count: 1 order: 'R-1' reason: 'with the bed'",
     "items/walker orders/R-1", "stock issued",
     "stock issued 1 walker from north-shelf for order R-1: with the bed"},
    {"stock_returned", "item: 'walker' place: 'north-dock' piece_count: 1 order: 'R-1'",
     "items/walker orders/R-1", "stock returned",
     "stock returned 1 walker from order R-1 to north-dock"},
    {"stock_discarded",
     "item: 'pad-set' lot: 'L-3' place: 'north-shelf' piece_count: 4 reason: 'expired'", "lots/L-3",
     "stock discarded", "stock discarded 4 pad-set of lot L-3 from north-shelf: expired"},
    {"stock_adjusted",
     "item: 'pad-set' lot: 'L-3' place: 'north-shelf' change_count: -2 count: 'C-7' approved_by: "
     "'lead-eve'",
     "lots/L-3 counts/C-7", "stock adjusted",
     "stock adjusted 2 pad-set of lot L-3 fewer at north-shelf: count C-7, approved by lead-eve"},
    {"transfer_sent",
     "transfer: 'T-4' from_place: 'north-shelf' to_place: 'south-dock' units: 'K-1' units: 'K-2' "
     "lines { item: 'pad-set' lot: 'L-3' piece_count: 10 } "
     "lines { item: 'walker' piece_count: 2 } seal: 'Z-5' carrier: 'van-3'",
     "transfers/T-4 units/K-1 units/K-2 lots/L-3 items/walker", "transfer sent",
     "transfer sent T-4 from north-shelf to south-dock: K-1 K-2, 10 pad-set of lot L-3, 2 walker, "
     "seal Z-5, with van-3"},
    {"transfer_received",
     "transfer: 'T-4' place: 'south-dock' units: 'K-1' units: 'K-2' "
     "lines { item: 'pad-set' lot: 'L-3' piece_count: 10 } seal: 'Z-5' seal_broken: true",
     "transfers/T-4 units/K-1 units/K-2 lots/L-3", "transfer received",
     "transfer received T-4 at south-dock: K-1 K-2, 10 pad-set of lot L-3, seal Z-5, seal broken"},
    {"closet_use_reported",
     "place: 'north-closet' device_class: 'knee' piece_count: 1 chase: 'ward 4'",
     "places/north-closet", "closet use reported",
     "closet use reported at north-closet: 1 knee, papers from ward 4"},
    {"closet_use_settled",
     "place: 'north-closet' fact { entry_id: 'e-4' index: 0 } order: 'R-1' reason: 'papers came'",
     "places/north-closet", "closet use settled",
     "closet use settled at north-closet: e-4 fact 0, order R-1, papers came"},
    {"count_opened",
     "count: 'C-7' places: 'north-shelf' places: 'north-dock' "
     "cut_off_time { seconds: 1772438400 }",
     "counts/C-7", "count opened",
     "count opened C-7: of north-shelf north-dock, cut-off 2026-03-02T08:00:00Z"},
    {"count_tallied",
     "count: 'C-7' place: 'north-shelf' round: 2 units: 'K-1' "
     "lines { item: 'walker' piece_count: 3 } unreadable: 'grey case without a tag'",
     "counts/C-7", "counted",
     "counted for C-7 at north-shelf: round 2, 1 unit, 3 walker, 1 tag unreadable"},
    {"count_closed",
     "count: 'C-7' approved_by: 'lead-eve' differences { subject: 'units/K-2' place: "
     "'north-shelf' expected_count: 1 counted_count: 0 "
     "explanation: COUNT_EXPLANATION_LATER_SCAN words: 'on van 3 since noon' }",
     "counts/C-7", "count closed", "count closed C-7: 1 difference, approved by lead-eve"},
    {"recall_opened",
     "recall: 'N-7' notice: 'field notice 7' source: 'maker' "
     "notice_date { year: 2026 month: 2 day: 27 } scope { models: 'knee-a' "
     "serials { first: 'A-9' last: 'A-120' model: 'knee-a' } parts: 'PEN-8' part_lots: 'B-77' "
     "lots: 'L-3' units: 'K-1' } hazard: 'may stop' instruction: 'replace the board' "
     "exercise: true",
     "recalls/N-7", "recall opened",
     "recall opened N-7: field notice 7, from maker, dated 2026-02-27, models knee-a, serials A-9 "
     "to A-120, parts PEN-8, part lots B-77, lots L-3, units K-1, an exercise, replace the board"},
    {"recall_outcome_noted",
     "recall: 'N-7' subject: 'units/K-1' outcome: RECALL_OUTCOME_CORRECTED contact: 'telephone' "
     "evidence: 'repair order 12'",
     "recalls/N-7 units/K-1", "recall outcome",
     "recall outcome N-7 for units/K-1: corrected, by telephone, repair order 12"},
    {"recall_closed", "recall: 'N-7' open_item_count: 2 because: 'two units never found'",
     "recalls/N-7", "recall closed", "recall closed N-7: 2 items open, two units never found"},
    {"seal_broken", "unit: 'K-1' seal: 'Z-5' words: 'bag torn'", "units/K-1", "seal found broken",
     "seal found broken of K-1: Z-5, bag torn"},
    {"purpose_changed",
     "unit: 'K-1' purpose: PURPOSE_CROSS_RENTED owner: 'partner' "
     "return_date { year: 2026 month: 6 day: 30 } papers: 'service record' reason: 'short'",
     "units/K-1", "purpose changed",
     "purpose changed of K-1 to cross-rented: owner partner, goes back by 2026-06-30, papers "
     "service record, short"},
    {"set_up_done",
     "order: 'R-1' unit: 'K-1' thigh_set_mm: 430 shank_set_mm: 400 tried_cycle_count: 2 "
     "skin: 'intact' foot: 'turned out 10 deg' taught_back: true guide: 'G-7' "
     "guide_version: '3' guide_language: 'es'",
     "orders/R-1", "set up",
     "set up K-1 for order R-1: thigh 430 mm, shank 400 mm, 2 cycles tried, skin intact, foot "
     "turned out 10 deg, taught back, guide G-7, version 3, language es"},
    {"ticket_returned",
     "order: 'R-1' signed_date { year: 2026 month: 3 day: 5 } signed_by: 'spouse' "
     "items_described: true legible: true document: 'T-9'",
     "orders/R-1", "ticket returned",
     "ticket returned of order R-1: signed 2026-03-05, by spouse, kept as T-9"},
    {"call_made",
     "order: 'R-1' kind: CALL_KIND_BEFORE_DUE outcome: CALL_OUTCOME_LATER "
     "again_date { year: 2026 month: 3 day: 20 }",
     "orders/R-1", "call made",
     "call made about order R-1: before the due day, asked to be rung later, again on 2026-03-20"},
    {"precautions_noted",
     "order: 'R-1' precautions: [PRECAUTION_GLOVES, PRECAUTION_BAG_AT_DOOR] because: 'insects'",
     "orders/R-1", "precautions", "precautions for order R-1: gloves, bag at the door"},
    {"breakdown_reported", "order: 'R-1' unit: 'K-1' words: 'stops after a minute'", "orders/R-1",
     "breakdown reported", "breakdown reported of K-1 for order R-1: stops after a minute"},
    {"breakdown_settled", "order: 'R-1' cure: BREAKDOWN_CURE_BY_TELEPHONE", "orders/R-1",
     "works again", "works again for order R-1: by telephone"},
    {"complaint_received",
     "complaint: 'B-3' kind: COMPLAINT_KIND_DEVICE subject: 'units/K-1' branch: 'north' "
     "source: COMPLAINT_SOURCE_PATIENT harm: HARM_POSSIBLE words: 'hinge pinched'",
     "complaints/B-3", "complaint received",
     "complaint received B-3 about units/K-1: device, at north, from patient, could have hurt "
     "somebody, hinge pinched"},
    {"complaint_answered", "complaint: 'B-3' how: 'telephone' words: 'unit exchanged'",
     "complaints/B-3", "complaint answered",
     "complaint answered B-3: by telephone, unit exchanged"},
    {"complaint_closed",
     "complaint: 'B-3' outcome: COMPLAINT_OUTCOME_UPHELD done: 'hinge cover fitted' "
     "investigator: 'lead-eve'",
     "complaints/B-3", "complaint closed",
     "complaint closed B-3: upheld, hinge cover fitted, looked into by lead-eve"},
    {"records_held", "order: 'R-1' matter: 'claim-4' because: 'claim is open'", "orders/R-1",
     "records held", "records held of order R-1 for claim-4: claim is open"},
    {"records_released", "order: 'R-1' matter: 'claim-4' because: 'claim is settled'", "orders/R-1",
     "records released", "records released of order R-1 from claim-4: claim is settled"},
    {"records_disclosed",
     "order: 'R-1' recipient: 'payer one' content: 'order and ticket' purpose: 'review 7'",
     "orders/R-1", "records disclosed",
     "records disclosed of order R-1 to payer one: order and ticket, for review 7"},
};

Sample SampleOf(const Row& row) {
  Sample sample{row.kind, row.subjects, row.kind_words, row.words, {}};
  const std::string text =
      std::string("happened_time { seconds: 1772442000 } ") + row.kind + " { " + row.content + " }";
  if (!google::protobuf::TextFormat::ParseFromString(text, &sample.fact)) {
    throw std::invalid_argument(text);
  }
  return sample;
}

}  // namespace

const std::vector<Sample>& Samples() {
  static const auto& samples = *[] {
    auto* all = new std::vector<Sample>;
    for (const Row& row : kRows) all->push_back(SampleOf(row));
    return all;
  }();
  return samples;
}

v1::Entry EntryWith(const v1::Fact& fact) {
  v1::Entry entry;
  entry.set_entry_id("entry-1");
  entry.set_actor("tech-ada");
  *entry.add_facts() = fact;
  return entry;
}

}  // namespace ferrule::testing
