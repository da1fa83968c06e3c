#include "core/finding/catalog.h"

#include <algorithm>
#include <iterator>

#include "core/finding/sentence.h"

namespace ferrule::finding {
namespace {

using Code = absl::StatusCode;

constexpr Code kPrecondition = Code::kFailedPrecondition;
constexpr Code kNotFound = Code::kNotFound;
constexpr Code kInvalid = Code::kInvalidArgument;

// A rule may be set aside when a person who sees the unit or the paper can know better than the
// records, and nobody comes to harm if that person errs. It may not where the patient's safety or
// privacy hangs on it, where the fact would have no meaning, or where another record is the way.
constexpr bool kNever = false;
constexpr bool kByName = true;

struct Row {
  v1::Reason reason;
  Code code;
  bool may_override;
  std::string_view text;
  std::string_view remedy;
};

// In the order of the reasons. sentence.h says how the words are filled.
constexpr Row kRows[] = {
    {v1::REASON_UNSPECIFIED, kPrecondition, kNever, "[{subject}: ]a rule is broken",
     "ask whoever keeps the depot's records"},

    // Without these the fact says nothing: there is no such thing to record it about.
    {v1::REASON_TIME_IN_FUTURE, kPrecondition, kNever,
     "this has not happened yet: [it is dated {found}|it is dated {time}|its date lies ahead][, "
     "and the ledger's clock says "
     "{limit}]",
     "check date, time and time zone, and record it with the time at which it happened"},
    {v1::REASON_UNIT_UNKNOWN, kNotFound, kNever,
     "there is no unit {unit} in the records[ at {time}]",
     "check the tag; a new unit is first received into the fleet, and its receipt must be the "
     "earlier fact"},
    {v1::REASON_UNIT_TAG_IN_USE, kPrecondition, kNever,
     "the tag {unit} is in use already[, the records have that unit at {place}]",
     "give the unit a tag of its own, or record that {unit} was found if it is the same unit"},
    {v1::REASON_MODEL_UNKNOWN, kNotFound, kNever,
     "the settings in force at that time have no model[ {model}]",
     "check the model's name, or put settings in force that have it"},
    {v1::REASON_PLACE_UNKNOWN, kNotFound, kNever,
     "the settings in force at that time have no place[ {place}]",
     "check the place's name, or put settings in force that have it"},
    {v1::REASON_BRANCH_UNKNOWN, kNotFound, kNever,
     "the settings in force at that time have no branch[ {branch}| {item}]",
     "check the branch's name, or put settings in force that have it"},
    {v1::REASON_PRODUCT_UNKNOWN, kNotFound, kNever,
     "{unit} is not clean: the settings in force at its cleaning[ {newer.when} by "
     "{newer.who}] have no such product[, {item}]",
     "check the product's name, or clean it again with a product whose contact time is in the "
     "settings"},
    {v1::REASON_SERVICE_PLAN_UNKNOWN, kNotFound, kNever,
     "the settings give {unit} no such service plan[: {found}][, its plan is {expected}]",
     "check the plan's name, or put settings in force that give the model this plan"},
    {v1::REASON_DEVICE_CLASS_UNKNOWN, kNotFound, kNever,
     "the settings in force at that time have no class of device[ {class}]",
     "check the class's name, or put settings in force that have it"},
    {v1::REASON_ORDER_UNKNOWN, kNotFound, kNever,
     "there is no order {order} in the records[ at {time}]",
     "check the number; an order is first taken, and taking it must be the earlier fact"},
    {v1::REASON_ORDER_NUMBER_IN_USE, kPrecondition, kNever,
     "the order number {order} is in use already[: taken {newer.when} by {newer.who}]",
     "give the order a number of its own, or record a change of order {order}"},
    // The records have the name: a second one would say nothing.
    {v1::REASON_ALIAS_ALREADY_NOTED, kPrecondition, kNever,
     "the alias[ {item}][ ({kind})] of {unit} is noted already[: {newer.when} by {newer.who}]",
     "nothing is left to do; if its kind was wrong, reverse the earlier fact and note it again"},

    // Whoever stands before the unit sees where it is; the move then puts the records right.
    {v1::REASON_NOT_AT_THAT_PLACE, kPrecondition, kByName,
     "{unit} is not at [{from}|the place given][: the records have it at {found}][ since "
     "{newer.when} by {newer.who}]",
     "look at the tag again; if the unit is right, leave out where it was, or record the "
     "missing move first"},
    // One unit has one custodian: the missing step is recorded, not skipped.
    {v1::REASON_NOT_IN_CUSTODY, kPrecondition, kNever,
     "{unit} is not in the depot's own hands[ but at {place}][ since {newer.when} by "
     "{newer.who}]",
     "record how it came back first"},
    {v1::REASON_AT_HOME, kPrecondition, kNever,
     "{unit} is at a patient's home on the records[, with order {order}]"
     "[ since {newer.when} by {newer.who}]",
     "record the pick-up first, or check the tag"},
    {v1::REASON_NOT_AT_THAT_HOME, kPrecondition, kNever,
     "{unit} is not at the home of [order {expected}|that order][: the records have it with "
     "order {found}][: the records have it at {place}][ since {newer.when} by {newer.who}]",
     "check the tag and the order; if another unit was left there, record that hand-over first"},
    {v1::REASON_UNACCOUNTED, kPrecondition, kNever,
     "{unit} is unaccounted for[ since {newer.when} by {newer.who}][, last at {place}]",
     "record that it was found, and where"},
    {v1::REASON_LEFT_FLEET, kPrecondition, kNever,
     "{unit} has left the fleet[: written off {newer.when} by {newer.who}]",
     "check the tag; if the unit turned up, record that it was found"},
    // It stands on the dock: refusing helps no one, and the missing paper is named.
    {v1::REASON_NOT_PICKED_UP, kPrecondition, kByName,
     "{unit} came back, but nobody recorded its pick-up[ from order {order}]"
     "[, out since {newer.when} by {newer.who}]",
     "record the pick-up with the time at which it left the home"},
    // It would soil what is clean around it.
    {v1::REASON_SOILED_INTO_CLEAN_PLACE, kPrecondition, kNever,
     "{unit} is soiled[ since {newer.when} by {newer.who}] and must not go into a clean place"
     "[: {place}]",
     "put it on a dock, in a cleaning bay or on the soiled side of a van, and clean it"},
    // A move says the same and is right.
    {v1::REASON_NOT_MISSING, kPrecondition, kNever,
     "{unit} was not missing[: the records have it at {place}]",
     "record a move instead, or check the tag"},

    // Standing in the wrong place is seen and put right; whether it is clean has a rule of its own.
    {v1::REASON_NOT_AT_CLEAN_PLACE, kPrecondition, kByName,
     "{unit} cannot go out: it does not stand in a clean place[ but at {place}]"
     "[ since {newer.when} by {newer.who}]",
     "put it on a clean shelf"},
    // Hygiene and other patients' data: nobody may wave these through.
    {v1::REASON_CONTAMINATED, kPrecondition, kNever,
     "{unit} cannot go out: it is contaminated[ ({kind})][, reported {newer.when} by {newer.who}]",
     "treat it, lift the hold with what was done, and clean it"},
    {v1::REASON_NOT_CLEANED, kPrecondition, kNever,
     "{unit} has not been cleaned since it last became soiled[ {newer.when} by {newer.who}]"
     "[, its last cleaning was {older.when} by {older.who}]",
     "clean it"},
    {v1::REASON_WET_TIME_SHORT, kPrecondition, kNever,
     "{unit} is not clean: at its last cleaning[ {newer.when} by {newer.who}] the surfaces "
     "stayed wet too short[, {found} s instead of {limit} s][ with {item}]",
     "clean it again and keep it wet for the contact time on the label"},
    {v1::REASON_PRODUCT_EXPIRED, kPrecondition, kNever,
     "{unit} is not clean: the product of its last cleaning[ {newer.when} by {newer.who}][, "
     "{item}][ lot {lot}] was past its last day[, {due}]",
     "clean it again with a product that is in date, and take the old one away"},
    {v1::REASON_MEMORY_NOT_ERASED, kPrecondition, kNever,
     "{unit} cannot go out: it still keeps patient data of before its last return"
     "[ {newer.when} by {newer.who}]",
     "erase its memory"},
    // A device that moves a patient's limb goes out only tested.
    {v1::REASON_NOT_INSPECTED_SINCE_RETURN, kPrecondition, kNever,
     "{unit} cannot go out: it has not been inspected since it last came back"
     "[ {newer.when} by {newer.who}][, its last inspection was {older.when} by {older.who}]",
     "inspect it"},
    {v1::REASON_REPAIRED_AFTER_INSPECTION, kPrecondition, kNever,
     "{unit} cannot go out: it was repaired[ {newer.when} by {newer.who}], after its last "
     "inspection[ {older.when} by {older.who}]",
     "inspect it again"},
    {v1::REASON_PART_CHANGED_AFTER_INSPECTION, kPrecondition, kNever,
     "{unit} cannot go out: a part was changed[ {newer.when} by {newer.who}], after "
     "its last inspection[ {older.when} by {older.who}]",
     "inspect it again"},
    {v1::REASON_INSPECTION_FAILED, kPrecondition, kNever,
     "{unit} cannot go out: it failed its last inspection[ {newer.when} by {newer.who}][: "
     "{item} reads {found}[, the limit is {limit}]]",
     "repair it and inspect it again"},
    // The readings are there and can be judged; only the form was another version's.
    {v1::REASON_CHECKLIST_NOT_IN_FORCE, kPrecondition, kByName,
     "{unit} was inspected[ {newer.when} by {newer.who}] by a checklist that was not in force"
     "[: {found}[ instead of {expected}]]",
     "inspect it by the checklist in force"},
    {v1::REASON_READING_MISSING, kPrecondition, kNever,
     "{unit} is not fully inspected[ {newer.when} by {newer.who}]: the checklist wants more "
     "readings[, {item} is missing]",
     "inspect it again and take every reading"},
    {v1::REASON_UNDER_REPAIR, kPrecondition, kNever,
     "{unit} is under repair[ since {newer.when} by {newer.who}]",
     "finish the repair, record its end and inspect the unit"},
    // Its end voids the last pass all the same: the safe side.
    {v1::REASON_NO_REPAIR_OPEN, kPrecondition, kByName, "no repair of {unit} is open",
     "record when the repair began, or check the tag"},
    {v1::REASON_PART_MISSING, kPrecondition, kNever,
     "{unit} cannot go out: it is not complete[, its {position} is missing][, taken out "
     "{newer.when} by {newer.who}]",
     "fit the part and inspect the unit"},
    // Putting service off is a decision that people take by name; the maker's instructions rule.
    {v1::REASON_SERVICE_DUE, kPrecondition, kByName,
     "{unit} cannot go out: its service is due[ since {due}][: {found} {basis}, the limit is "
     "{limit}][, counted from {newer.when} by {newer.who}]",
     "do the service and record it"},
    {v1::REASON_SERVICE_DUE_BEFORE_RETURN, kPrecondition, kByName,
     "the service of {unit} comes due before it is expected back[, on {due}][: {found} "
     "{basis} by then, the limit is {limit}]",
     "do the service now, or take another unit"},
    // Lifting the hold, with its outcome, is the record that releases the unit.
    {v1::REASON_ON_HOLD, kPrecondition, kNever,
     "{unit} is on hold[ ({kind})][ since {newer.when} by {newer.who}]",
     "clear up the cause and lift the hold with the outcome"},
    // Evidence of an injury would be wiped away.
    {v1::REASON_INCIDENT_NOT_TO_BE_CLEANED, kPrecondition, kNever,
     "{unit} must stay as it was found: an incident hold was placed on it"
     "[ {newer.when} by {newer.who}]",
     "do not clean, erase or repair it; whoever looks into the incident lifts the hold"},
    {v1::REASON_NO_SUCH_HOLD, kPrecondition, kNever,
     "no hold[ ({kind})][ for {item}] is placed on {unit}[: the holds are {list}]",
     "check the kind of hold and the tag, and name the notice or file that the hold stands for"},

    // A hold that is not firm is the depot's to take back, and whoever does so answers for it.
    {v1::REASON_COMMITTED_TO_OTHER_ORDER, kPrecondition, kByName,
     "{unit} is kept for [order {order}|another order][ since {newer.when} by {newer.who}]"
     "[, until {until}]",
     "take another unit, or release the hold first"},
    {v1::REASON_ON_RENT, kPrecondition, kNever,
     "{unit} is on rent[ with order {order}][ since {newer.when} by {newer.who}]",
     "record its pick-up first, or check the tag"},
    // The unit itself is sound; lending it is a matter of business.
    {v1::REASON_OUTSIDE_RENTAL_FLEET, kPrecondition, kByName,
     "{unit} does not belong to the rental fleet[ but is for {kind}]",
     "take a unit of the rental fleet"},
    // What the prescriber ordered for this patient.
    {v1::REASON_WRONG_SIDE, kPrecondition, kNever,
     "{unit} is set up for the wrong side[, {found}][: the order says {expected}]",
     "set it up for the right side and record that, or take another unit"},
    {v1::REASON_WRONG_CLASS, kPrecondition, kNever,
     "{unit} is not the kind of device ordered[: it is {found}][, the order says {expected}]",
     "take a unit of the class ordered"},
    {v1::REASON_MODEL_HAS_NO_SIDES, kPrecondition, kNever,
     "{unit} has no sides to be set up for[: model {model}]",
     "leave the side out, or check the tag"},
    // What was read and what is recorded may be two different units.
    {v1::REASON_UNIT_NOT_AS_RECORDED, kPrecondition, kNever,
     "{unit} is not what the records say[: {item}][ read as {found}][, recorded as {expected}]",
     "read tag and label again; if the records are wrong, correct them first"},
    {v1::REASON_NOT_HELD_FOR_ORDER, kPrecondition, kNever,
     "{unit} is not kept for [order {order}|that order]", "check the tag and the order"},
    // Somebody was given a word: it is taken back by releasing the hold, which the order shows.
    {v1::REASON_FIRMLY_PROMISED, kPrecondition, kNever,
     "{unit} is promised firmly to [order {order}|another order][ since {newer.when} by "
     "{newer.who}][, until {until}]",
     "take another unit, or release the hold of that order first"},

    // A doubtful meter must not keep a patient waiting; the run hours do not take the reading.
    {v1::REASON_METER_FELL, kPrecondition, kByName,
     "the meter of {unit} reads less than before[: {found} h after {limit} h][, read "
     "{newer.when} by {newer.who}]",
     "read it again; if it was replaced or began again at nought, record that first"},
    {v1::REASON_METER_BEYOND_ELAPSED, kPrecondition, kByName,
     "the meter of {unit} shows more hours than have passed[: {found} h in {limit} h]"
     "[ since {newer.when} by {newer.who}]",
     "read it again, and check the time of this reading and of the one before"},

    // The donor is short of it: its removal there must be on record.
    {v1::REASON_PART_IN_OTHER_UNIT, kPrecondition, kNever,
     "part {part} is in another unit[, {unit}][ since {newer.when} by {newer.who}]",
     "record its removal there first; that unit is incomplete from then on"},
    // Taking out a part that nobody recorded leaves the unit incomplete: the safe side.
    {v1::REASON_PART_NOT_IN_UNIT, kPrecondition, kByName,
     "part {part} is not in [{unit}|that unit][: the records have it in {found}]",
     "check part and tag, or record first that it was fitted"},
    {v1::REASON_POSITION_TAKEN, kPrecondition, kNever,
     "another part is in that position of {unit}[ ({position})][: {part}][ since {newer.when} "
     "by {newer.who}]",
     "record the removal of the other part first"},
    {v1::REASON_POSITION_UNKNOWN, kPrecondition, kNever,
     "the parts list[ of model {model}] has no such position[ ({position})]",
     "check the position's name, or put settings in force that have it"},

    // Papers may follow; who answers for going ahead is named.
    {v1::REASON_ORDER_INCOMPLETE, kPrecondition, kByName,
     "order {order} is not enough to go out with: something is missing[: {list}]",
     "get what is missing from the prescriber and record it as a change of the order"},
    {v1::REASON_ORDER_CANCELLED, kPrecondition, kNever,
     "order {order} is cancelled[ since {newer.when} by {newer.who}]",
     "check the order, or take a new one"},
    {v1::REASON_ORDER_ON_RENT, kPrecondition, kNever,
     "order {order} is on rent already[ with {unit}][ since {newer.when} by {newer.who}]",
     "record an exchange if the unit is swapped, or check the order"},
    {v1::REASON_ORDER_NOT_ON_RENT, kPrecondition, kNever, "order {order} is not on rent",
     "check the order; the hand-over must be recorded first"},
    {v1::REASON_ORDER_CLOSED, kPrecondition, kNever,
     "the rental of order {order} is over[ since {newer.when} by {newer.who}]",
     "check the order, or take a new one"},
    // Which of two good units goes is the depot's choice.
    {v1::REASON_ORDER_HAS_OTHER_UNIT, kPrecondition, kByName,
     "another unit is kept for order {order}[: {unit}][ since {newer.when} by {newer.who}]",
     "take that unit, or release its hold first"},
    // A person can see that the message's number is wrong and its content right.
    {v1::REASON_OLDER_VERSION, kPrecondition, kByName,
     "a message about order {order} is older than one already applied[: version {found} after "
     "{expected}]",
     "keep what the later version says; ask the sender if in doubt"},
    // The prescriber's order and the maker's instructions rule.
    {v1::REASON_SETTING_BEYOND_ORDER, kPrecondition, kNever,
     "a setting goes beyond the order[: {item} {found}[, the order gives {limit}]]",
     "set the device within the order, or get a new order from the prescriber"},
    {v1::REASON_SETTING_BEYOND_MODEL, kPrecondition, kNever,
     "a setting goes beyond what the model can do[: {item} {found}[, the limit is {limit}]]",
     "set the device within the maker's limits, or take another model"},
    // Can be brought later, and somebody says by name that it will be.
    {v1::REASON_KIT_MISSING, kPrecondition, kByName,
     "soft goods that every patient gets were not left[: {item}]", "add the item with its lot"},
    // The prescriber's later paper may well say less.
    {v1::REASON_EXTENSION_SHORTENS, kPrecondition, kByName,
     "the extension of order {order}[ through {found}] ends before the prescription already "
     "does[, {expected}]",
     "check the day; a shorter need is a change of the order"},
    {v1::REASON_SIGNATURE_MISSING, kPrecondition, kByName, "nobody signed for {subject}",
     "have the ticket signed and say who signed by relationship, never by name"},

    // Which patient had which lot must hold in a recall.
    {v1::REASON_LOT_ITEM_MISMATCH, kPrecondition, kNever,
     "lot {lot} does not match its item[: recorded as {expected}, given as {found}]",
     "check lot number and item on the package"},

    {v1::REASON_SETTINGS_INVALID, kInvalid, kNever,
     "the settings are not valid as a whole[: {item}][: {found}]",
     "correct the settings file and apply it again"},
    {v1::REASON_REVERSED_FACT_UNKNOWN, kNotFound, kNever,
     "the fact to be reversed is not in the records of {subject}[: {item}]",
     "look up the entry and the fact's number in the history"},
    {v1::REASON_ALREADY_REVERSED, kPrecondition, kNever,
     "the fact was reversed already[ {newer.when} by {newer.who}]", "nothing is left to do"},
    {v1::REASON_REVERSAL_SUBJECTS_DIFFER, kInvalid, kNever,
     "the reversal names other subjects than the fact has[: it is about {expected}]",
     "name exactly the subjects of the fact that is reversed"},
    {v1::REASON_REVERSAL_OF_REVERSAL, kInvalid, kNever, "a reversal cannot be reversed",
     "record the fact anew"},
    {v1::REASON_QUESTION_NOT_OPEN, kPrecondition, kNever,
     "no such question is open on {subject}[: {item}]",
     "list the open questions; it may have been answered already"},

    // The wrong joint or side in motion harms: somebody who knows must say what is right, by name.
    {v1::REASON_ORDER_CONTRADICTS, kPrecondition, kNever,
     "order {order} contradicts itself[ about the {kind}][: it says {expected}][, but {list}]",
     "ask the prescriber, then correct the order or record who confirmed it"},
    {v1::REASON_ORDER_NOT_CANCELLED, kPrecondition, kNever,
     "order {order} is not cancelled, so it needs no reinstating", "check the number"},
    // The family is not to be troubled with a delivery.
    {v1::REASON_PATIENT_DIED, kPrecondition, kNever,
     "the records of order {order} say that the patient has died[, noted {newer.when} by "
     "{newer.who}]",
     "check the order; if the note is wrong, reverse it first"},
    // The prescriber's later paper may well say more.
    {v1::REASON_STOP_LENGTHENS, kPrecondition, kByName,
     "the stop of order {order}[ through {found}] ends after the prescription already does"
     "[, {expected}]",
     "check the day; a longer need is an extension"},
    // Billing a day twice is an untrue claim.
    {v1::REASON_DAYS_BILLED_ALREADY, kPrecondition, kNever,
     "days of order {order} were billed already[ with claim {item}][ through {found}]"
     "[, recorded {newer.when} by {newer.who}]",
     "bill only days that are not billed yet, or record it as a correction"},
    // What a payer waives is known to whoever bills, who answers for it.
    {v1::REASON_NOT_ENOUGH_TO_BILL, kPrecondition, kByName,
     "order {order} is not enough to bill: something is missing[: {list}]",
     "get what is missing and record it before the days are billed"},
    {v1::REASON_PAYER_UNKNOWN, kNotFound, kNever,
     "the settings in force at that time have no payer[ {item}]",
     "check the payer's name, or put settings in force that have its terms"},
    {v1::REASON_PROCEDURE_UNKNOWN, kNotFound, kNever,
     "the settings in force at that time have no procedure[ {item}]",
     "check the code, or put settings in force that have it"},
    // One patient's unit and settings under another one's name.
    {v1::REASON_OTHER_PATIENT, kPrecondition, kNever,
     "order {order} is for another patient[ than {found}]",
     "check both orders; a unit that changes homes is picked up first"},

    // What the prescriber ordered for that day; more waits for the day or for a new order.
    {v1::REASON_SETTING_AHEAD_OF_PROGRESSION, kPrecondition, kNever,
     "a setting is ahead of the ordered progression[: {item} {found}[, the order gives {limit}]]"
     "[ on {due}]",
     "set the device within that day's limits, or get a new order from the prescriber"},
    // Whoever has the patient before them can see that the measure is right.
    {v1::REASON_MEASURE_IMPLAUSIBLE, kPrecondition, kByName,
     "a measure of order {order} can hardly be right[: {item} {found}][, believed are {limit}]"
     "[; in another unit of measure it would be {expected}]",
     "measure again, and look at the unit of measure"},
    // A device that does not fit may hurt; the maker's instructions rule.
    {v1::REASON_MEASURE_OUTSIDE_MODEL, kPrecondition, kNever,
     "{unit} does not fit[: {item} {found}][, the model takes {limit}]",
     "take a unit that fits; measure again if in doubt"},
    {v1::REASON_WEIGHT_ABOVE_RATING, kPrecondition, kNever,
     "{unit} is not made for this weight[: {found}][, its rating is {limit}]",
     "take a unit with a higher rating"},
    {v1::REASON_VOLTAGE_DIFFERS, kPrecondition, kNever,
     "{unit} does not run on the mains at the place of use[: {found}][, it takes {limit}]",
     "take a unit for that voltage"},
    // The device does less than it might: nobody is hurt by that, and somebody answers for it.
    {v1::REASON_ORDER_BEYOND_MODEL, kPrecondition, kByName,
     "{unit} cannot do what is ordered[: {item} {found}][, the model's limit is {limit}]",
     "take a model that can, or ask the prescriber"},
    // A later promise is the depot's to keep or to move, and whoever sets it aside answers for it.
    {v1::REASON_PROMISED_TO_OTHER_ORDER, kPrecondition, kByName,
     "{unit} is promised to [order {order}|another order][ from {from}][ through {until}]"
     "[, since {newer.when} by {newer.who}]",
     "promise the unit to this order for its own days first, or move the other promise to another "
     "unit"},
    // Two patients would be told the same days.
    {v1::REASON_PROMISED_DAYS_TAKEN, kPrecondition, kNever,
     "{unit} is promised to [order {order}|another order] for some of these days already"
     "[: from {from}][ through {until}][, since {newer.when} by {newer.who}]",
     "ask again what can be promised, and take the unit that it names"},
    {v1::REASON_PROMISE_BASIS_CHANGED, kPrecondition, kNever,
     "{unit} does not stand as it did when the promise was worked out[: then {expected}][, now "
     "{found}][ since {newer.when} by {newer.who}]",
     "ask again what can be promised"},
    {v1::REASON_ORDER_PROMISED_OTHER_UNIT, kPrecondition, kNever,
     "[{unit}|another unit] is promised to order {order} already[, since {newer.when} by "
     "{newer.who}]",
     "release that promise in the same entry if this one is to take its place"},
    // A doubtful figure is kept, and set aside in every average.
    {v1::REASON_USAGE_BEYOND_ELAPSED, kPrecondition, kByName,
     "more use is reported than the time allows[: {found} h in {limit} h]",
     "ask again, or read the meter again"},
    {v1::REASON_NOT_THE_MODEL_ASKED_FOR, kPrecondition, kByName,
     "{unit} is not the model that the order asks for[: it is {found}][, asked for is {expected}]",
     "take a unit of the model asked for or of one that stands in for it, or ask the prescriber"},

    // Hygiene: what the label and the order of the steps ask cannot be waved through.
    {v1::REASON_CLEANING_STEP_OUT_OF_ORDER, kPrecondition, kNever,
     "a step of cleaning {unit} came out of its order[: {item}][ before {expected}]",
     "do the steps in their order: preparation, washing, disinfection, drying"},
    {v1::REASON_CLEANING_STEP_MISSING, kPrecondition, kNever,
     "{unit} is not clean: a step of its last cleaning[ {newer.when} by {newer.who}] is "
     "missing[: {kind}]",
     "do the step, record it, and clean it from there on"},
    {v1::REASON_DILUTION_NOT_AS_LABELLED, kPrecondition, kNever,
     "{unit} is not clean: at its last cleaning[ {newer.when} by {newer.who}] the product was "
     "not diluted as its label says[, {item}][: {found}][ instead of {expected}]",
     "clean it again with the product diluted as its label says"},
    {v1::REASON_SOILED_BY_CONTACT, kPrecondition, kNever,
     "{unit} was clean and became soiled by contact[ {newer.when} by {newer.who}][, beside "
     "{item}][: {found}]",
     "clean it again, and keep clean and soiled units apart or covered"},
    // Insects and body fluid: waiting kills nothing that counts.
    {v1::REASON_NOT_TREATED, kPrecondition, kNever,
     "{unit} cannot be released[ ({kind})]: no treatment that counts was recorded since "
     "[it was found {newer.when} by {newer.who}|it was found]; time alone releases nothing",
     "treat it as the settings say, record the treatment, then have it looked at"},
    {v1::REASON_TREATMENT_SHORT, kPrecondition, kNever,
     "the treatment of {unit} does not count[: {item}][, {found} instead of {limit}]",
     "treat it again for the time and at the temperature that the settings give"},
    {v1::REASON_TREATMENT_UNKNOWN, kNotFound, kNever,
     "the settings in force at that time have no treatment[ {item}]",
     "check the treatment's name, or put settings in force that have it"},
    {v1::REASON_RELEASE_NOT_INSPECTED, kPrecondition, kNever,
     "{unit} cannot be released[ ({kind})]: nobody is named who looked at it after its "
     "treatment[ {newer.when} by {newer.who}]",
     "look at it again, and say who did"},
    // What is on the dock is seen; what is not there, nobody can hand in.
    {v1::REASON_ACCESSORY_NOT_BACK, kPrecondition, kByName,
     "{unit} came in without its {position}[, which was {kind} {newer.when} by {newer.who}][, "
     "order {order}]",
     "look in the van and the bag; if it is gone, record it as missing"},
    // Another unit's label on this tag: two units' records hang on it.
    {v1::REASON_OTHER_SERIAL_SEEN, kPrecondition, kNever,
     "the serial number read on {unit} is not its own[: {found}][, the records have {expected}]",
     "read tag and label again; if another unit bears this tag, find which one was swapped"},
    {v1::REASON_OTHER_PART_SEEN, kPrecondition, kByName,
     "{unit} came in with another {position}[: {found}][, the records have {expected}][ since "
     "{newer.when} by {newer.who}]",
     "find the unit that the part belongs to, and record its removal there"},
    // A current that nobody can judge is no pass.
    {v1::REASON_ELECTRICAL_NOT_STATED, kPrecondition, kNever,
     "the electrical readings of {unit} give no verdict[: {item} needs {found}]",
     "state class, type of applied part and method, and inspect it again; the maker's "
     "instructions and the standard in force rule"},
    {v1::REASON_TESTER_NOT_STATED, kPrecondition, kNever,
     "{unit} has electrical readings without a test instrument[: {item}]",
     "inspect it again and name the tester"},
    {v1::REASON_TESTER_OUT_OF_DATE, kPrecondition, kNever,
     "{unit} was inspected with a tester past its calibration[, {item}][, due {due}]",
     "inspect it again with a calibrated tester, and take the other one away"},
    {v1::REASON_TESTER_IN_DOUBT, kPrecondition, kNever,
     "{unit} cannot go out: its last pass[ {older.when} by {older.who}] was given by a tester "
     "that is in doubt[, {item}][, noted {newer.when} by {newer.who}]",
     "inspect it again with a calibrated tester"},
    {v1::REASON_CAUSE_UNKNOWN, kNotFound, kNever,
     "the settings in force at that time have no such cause of repair[: {item}][, they have "
     "{list}]",
     "give one of the causes that the settings list, or say that no fault was found"},
    {v1::REASON_NOT_CONTAMINATED, kPrecondition, kByName,
     "{unit} has no hold[ ({kind})] that this treatment could end[: {item}]",
     "place the hold first, or check the tag"},
    {v1::REASON_NOT_RECEIVED, kPrecondition, kNever,
     "{unit} was picked up[ {newer.when} by {newer.who}] and nobody received it[, it is in "
     "{place} on the records][, {found} h so far]",
     "look in the van and receive it; if it is not there, record it as missing"},

    // Stock that is not there cannot be given out: the count comes first.
    {v1::REASON_STOCK_BELOW_ZERO, kPrecondition, kNever,
     "[{place} has|the books have] only {found} pieces of [{item}|{subject}][, lot {lot}], and "
     "{expected} are taken",
     "look at the shelf and the lot again; take from another place, or record the missing receipt "
     "or move first"},
    // What the package says rules.
    {v1::REASON_STOCK_EXPIRED, kPrecondition, kNever, "{subject} is past its last day[, {due}]",
     "take pieces that are in date and throw these away"},
    // Pads and straps of another patient's carry infection.
    {v1::REASON_LOT_USED_BY_OTHER_PATIENT, kPrecondition, kNever,
     "{subject}[, {item}], is for one patient only and all its pieces went to others already"
     "[, the last one with order {order}][ {newer.when} by {newer.who}]",
     "take a new piece; if this one was never used, record its receipt first"},
    {v1::REASON_SINGLE_PATIENT_RETURNED, kPrecondition, kNever,
     "{item} is for one patient only and does not come back into the stores",
     "throw it away at the patient's home or on the dock"},
    {v1::REASON_STOCK_ITEM_UNKNOWN, kNotFound, kNever,
     "the settings in force at that time have no item of the stores[ {item}]",
     "check the item's name, or put settings in force that have it"},
    {v1::REASON_STOCK_TRACKED_OTHERWISE, kPrecondition, kNever,
     "{item} is [{expected}|kept otherwise][, and {found}]",
     "give the lot for what is kept by lot, and no lot for what is only counted"},
    // Whoever sees the unit knows better where it is than the papers of the transfer.
    {v1::REASON_IN_TRANSIT, kPrecondition, kByName,
     "{unit} is on the way with transfer {item}[ since {newer.when} by {newer.who}]",
     "record that the transfer arrived, with the units that came"},
    // It stands on the dock: refusing helps no one, and the missing paper is named.
    {v1::REASON_NOT_SENT_WITH_TRANSFER, kPrecondition, kByName,
     "{subject} was not sent with transfer {item}",
     "check the number and the tag; if it was sent, record the sending with its time first"},
    {v1::REASON_TRANSFER_NUMBER_IN_USE, kPrecondition, kNever,
     "the transfer number {item} is in use already[: sent {newer.when} by {newer.who}]",
     "give the transfer a number of its own"},
    // What arrived has arrived; the rest stays on the way and is looked for.
    {v1::REASON_TRANSFER_SHORT, kPrecondition, kByName,
     "transfer {item} did not arrive whole: {list} not there",
     "look for it, and record it when it arrives; until then it is on the way"},
    {v1::REASON_SEAL_DIFFERS, kPrecondition, kByName,
     "the seal of transfer {item} is not the one that was put on[: {expected} was put on][, "
     "{found} was found]",
     "look through what is inside, and clean what was open"},
    {v1::REASON_NOT_A_CLOSET, kPrecondition, kNever, "{place} is not a closet",
     "name the closet; what is used elsewhere is issued or handed over"},
    {v1::REASON_CLOSET_USE_UNKNOWN, kNotFound, kNever,
     "no such use at {place} waits for papers[: {item}]",
     "list what waits for papers there; it may have been settled already"},
    {v1::REASON_COUNT_UNKNOWN, kNotFound, kNever,
     "there is no stocktake {item} in the records[ at {time}]",
     "check the number; a stocktake is first opened, and opening it must be the earlier fact"},
    {v1::REASON_COUNT_NUMBER_IN_USE, kPrecondition, kNever,
     "the stocktake number {item} is in use already[: opened {newer.when} by {newer.who}]",
     "give the stocktake a number of its own"},
    {v1::REASON_COUNT_CLOSED, kPrecondition, kNever,
     "stocktake {item} is closed[: {newer.when} by {newer.who}]",
     "open another one for what is counted later"},
    {v1::REASON_COUNT_OTHER_PLACE, kPrecondition, kNever,
     "{place} is not part of stocktake {item}[: it counts {list}]",
     "check the place, or open a stocktake for it"},
    {v1::REASON_COUNT_NOT_TALLIED, kPrecondition, kNever, "stocktake {item} has no tally of {list}",
     "count it, and record what was seen, even if there was nothing"},
    {v1::REASON_COUNT_NOT_RECOUNTED, kPrecondition, kNever,
     "nothing explains the difference of {expected} at {place}, and it was not counted again",
     "count {place} again as the next round, or say what explains it"},
    // Two pairs of eyes are the point of the approval; a small branch may have one person.
    {v1::REASON_COUNT_APPROVER_COUNTED, kPrecondition, kByName,
     "{found} counted and may not approve stocktake {item}",
     "have somebody approve it who did not count"},
    {v1::REASON_RECALL_UNKNOWN, kNotFound, kNever,
     "there is no recall {item} in the records[ at {time}]",
     "check the number; a recall is first opened, and opening it must be the earlier fact"},
    {v1::REASON_RECALL_NUMBER_IN_USE, kPrecondition, kNever,
     "the recall number {item} is in use already[: opened {newer.when} by {newer.who}]",
     "give the recall a number of its own"},
    // An item can turn up after the last word; it is noted, and asked about.
    {v1::REASON_RECALL_CLOSED, kPrecondition, kByName,
     "recall {item} is closed[: {newer.when} by {newer.who}]",
     "check the number; what turns up late is recorded as observed"},
    {v1::REASON_RECALL_ITEMS_OPEN, kPrecondition, kNever,
     "recall {item} has {found} open items and nothing says why it is closed",
     "deal with them, or say why it is closed all the same"},

    // What another system says is recorded whoever it is; nobody can answer for it at a counter.
    {v1::REASON_SENDER_UNKNOWN, kNotFound, kNever,
     "the settings in force at that time have no sender[ {item}]",
     "check the sender's id, or put settings in force that have it"},
    {v1::REASON_SOURCES_DIFFER, kPrecondition, kNever,
     "two sources of order {order} differ in the {item}[: one says {expected}][, the other says "
     "{found}]",
     "ask the prescriber which is right, record it as a change of the order, and answer this "
     "question; until then promise nothing"},
    {v1::REASON_COMPLAINT_UNKNOWN, kNotFound, kNever,
     "there is no complaint {item} in the records[ at {time}]",
     "check the number; a complaint is first received, and that must be the earlier fact"},
    {v1::REASON_COMPLAINT_NUMBER_IN_USE, kPrecondition, kNever,
     "the complaint number {item} is in use already[: received {newer.when} by {newer.who}]",
     "give the complaint a number of its own"},
    {v1::REASON_COMPLAINT_CLOSED, kPrecondition, kNever,
     "complaint {item} is closed already[: {newer.when} by {newer.who}]",
     "take what is new as a complaint of its own"},
    // Somebody may be beyond reach, or want no answer.
    {v1::REASON_COMPLAINT_NOT_ANSWERED, kPrecondition, kByName,
     "whoever complained got no answer to {item}",
     "give an answer and record it, or set this aside by name with the reason"},
    {v1::REASON_RECORDS_NOT_HELD, kPrecondition, kNever,
     "nothing keeps the records of order {order} for {item}",
     "check the matter's name in what ferrule order shows"},
    {v1::REASON_NO_BREAKDOWN_OPEN, kPrecondition, kNever,
     "no breakdown is open on order {order}[: the last one was settled {newer.when} by "
     "{newer.who}]",
     "record the call that reported it first, at its own time"},
};

// A reason's row, the first one for a number that is no reason of this release.
const Row& RowOf(v1::Reason reason) {
  const auto row =
      std::lower_bound(std::begin(kRows), std::end(kRows), reason,
                       [](const Row& r, v1::Reason wanted) { return r.reason < wanted; });
  return row != std::end(kRows) && row->reason == reason ? *row : kRows[0];
}

constexpr bool InOrder() {
  for (size_t i = 1; i < std::size(kRows); ++i) {
    if (kRows[i - 1].reason >= kRows[i].reason) return false;
  }
  return true;
}
static_assert(InOrder());

}  // namespace

std::string_view ReasonString(v1::Reason reason) {
  constexpr std::string_view kPrefix = "REASON_";
  const std::string_view name = v1::Reason_Name(reason);
  return name.empty() ? "OTHER" : name.substr(kPrefix.size());
}

absl::StatusCode CodeOf(v1::Reason reason) { return RowOf(reason).code; }

bool MayOverride(v1::Reason reason) { return RowOf(reason).may_override; }

std::vector<std::string_view> KeysOf(v1::Reason reason) {
  const Row& row = RowOf(reason);
  std::vector<std::string_view> keys = KeysIn(row.text);
  for (std::string_view key : KeysIn(row.remedy)) {
    if (std::find(keys.begin(), keys.end(), key) == keys.end()) keys.push_back(key);
  }
  return keys;
}

void PutIntoWords(absl::TimeZone zone, v1::Finding* finding) {
  const Row& row = RowOf(finding->reason());
  finding->set_text(Fill(row.text, *finding, zone));
  finding->set_remedy(Fill(row.remedy, *finding, zone));
}

}  // namespace ferrule::finding
