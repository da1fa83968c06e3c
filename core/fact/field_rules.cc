#include "core/fact/field_rules.h"

#include <algorithm>
#include <iterator>

namespace ferrule::fact {
namespace {

constexpr FieldRule Id(std::string_view message, std::string_view field) {
  return {.message = message, .field = field, .required = true, .form = Form::kId};
}
// An id that may be left out, or the ids of a list.
constexpr FieldRule IdIfAny(std::string_view message, std::string_view field) {
  return {.message = message, .field = field, .form = Form::kId};
}
constexpr FieldRule Names(std::string_view message, std::string_view field) {
  return {.message = message, .field = field, .required = true, .form = Form::kSubjectName};
}
constexpr FieldRule Text(std::string_view message, std::string_view field, int longest) {
  return {.message = message, .field = field, .required = true, .longest = longest};
}
constexpr FieldRule TextIfAny(std::string_view message, std::string_view field, int longest) {
  return {.message = message, .field = field, .longest = longest};
}
// A message, an enum or a list that must be there.
constexpr FieldRule Required(std::string_view message, std::string_view field) {
  return {.message = message, .field = field, .required = true};
}
constexpr FieldRule Between(std::string_view message, std::string_view field, double least,
                            double most) {
  return {.message = message, .field = field, .least = least, .most = most};
}
constexpr FieldRule Above(std::string_view message, std::string_view field, double least,
                          double most) {
  return {.message = message, .field = field, .least = least, .most = most, .above_least = true};
}
constexpr FieldRule Seconds(std::string_view message, std::string_view field) {
  return Between(message, field, 0, kMostSeconds);
}

constexpr double kMostVersion = 9e15;  // the largest count that a double holds exactly

constexpr FieldRule kRules[] = {
    Text("Entry", "entry_id", 64),
    Text("Entry", "actor", 64),
    TextIfAny("Entry", "channel", 32),
    Required("Entry", "facts"),

    Required("Fact", "happened_time"),
    TextIfAny("Fact", "note", 2000),
    Required("Override", "rule"),
    Text("Override", "authority", 64),
    Text("Override", "because", 500),

    Text("FactRef", "entry_id", 64),
    Between("FactRef", "index", 0, kMostFacts - 1),

    Id("PartInPosition", "part"),
    Id("PartInPosition", "position"),

    Id("UnitReceived", "unit"),
    TextIfAny("UnitReceived", "serial", 64),
    TextIfAny("UnitReceived", "udi", 200),
    Id("UnitReceived", "model"),
    TextIfAny("UnitReceived", "owner", 64),
    Between("UnitReceived", "cost_minor", 0, kMostMinor),
    Id("UnitReceived", "place"),
    Seconds("UnitReceived", "meter_s"),

    Id("UnitMoved", "unit"),
    IdIfAny("UnitMoved", "from_place"),
    Id("UnitMoved", "to_place"),

    Id("MeterRead", "unit"),
    Seconds("MeterRead", "reading_s"),
    Id("MeterReplaced", "unit"),
    Seconds("MeterReplaced", "old_last_s"),
    Seconds("MeterReplaced", "new_first_s"),
    Id("MeterRolledOver", "unit"),
    Seconds("MeterRolledOver", "reading_s"),
    Above("MeterRolledOver", "width_s", 0, kMostSeconds),

    Id("PartFitted", "part"),
    Id("PartFitted", "unit"),
    Id("PartFitted", "position"),
    Id("PartRemoved", "part"),
    Id("PartRemoved", "unit"),
    Id("PartRemoved", "position"),

    Id("HoldPlaced", "unit"),
    Required("HoldPlaced", "kind"),
    Text("HoldPlaced", "reason", 500),
    TextIfAny("HoldPlaced", "reference", 64),
    Id("HoldLifted", "unit"),
    Required("HoldLifted", "kind"),
    Text("HoldLifted", "outcome", 500),
    TextIfAny("HoldLifted", "reference", 64),
    TextIfAny("HoldLifted", "inspected_by", 64),

    Id("CleaningStarted", "unit"),
    Id("CleaningFinished", "unit"),
    Id("CleaningFinished", "product"),
    TextIfAny("CleaningFinished", "product_lot", 64),
    Required("CleaningFinished", "wet_from_time"),
    Required("CleaningFinished", "wet_to_time"),
    TextIfAny("CleaningFinished", "discarded", 64),
    TextIfAny("CleaningFinished", "seal", 64),
    TextIfAny("CleaningFinished", "dilution", 32),
    IdIfAny("CleaningFinished", "extra"),
    Id("MemoryErased", "unit"),
    TextIfAny("MemoryErased", "method", 500),

    Id("Reading", "item"),
    Id("InspectionDone", "unit"),
    Id("InspectionDone", "checklist"),
    Text("InspectionDone", "checklist_version", 64),
    TextIfAny("InspectionDone", "tester", 64),
    Id("RepairOpened", "unit"),
    Text("RepairOpened", "complaint", 500),
    Id("RepairClosed", "unit"),
    TextIfAny("RepairClosed", "cause", 64),
    Seconds("RepairClosed", "labour_s"),
    Between("RepairClosed", "cost_minor", 0, kMostMinor),
    Id("ServiceDone", "unit"),
    Id("ServiceDone", "plan"),
    Id("SideConfigured", "unit"),
    Required("SideConfigured", "side"),

    Id("UnitMissing", "unit"),
    Id("UnitFound", "unit"),
    Id("UnitFound", "place"),
    Id("UnitWrittenOff", "unit"),
    Text("UnitWrittenOff", "reason", 500),
    Text("UnitWrittenOff", "approved_by", 64),
    Id("AliasNoted", "unit"),
    Text("AliasNoted", "alias", 64),
    Required("AliasNoted", "kind"),

    Id("CleaningStepDone", "unit"),
    Required("CleaningStepDone", "step"),
    Id("ContactNoted", "unit"),
    IdIfAny("ContactNoted", "beside_unit"),
    TextIfAny("ContactNoted", "evidence", 500),
    Id("TreatmentDone", "unit"),
    Id("TreatmentDone", "treatment"),
    Between("TreatmentDone", "temperature_c", -50, 500),
    Required("TreatmentDone", "from_time"),
    Required("TreatmentDone", "to_time"),
    Id("ServiceDeferred", "unit"),
    Id("ServiceDeferred", "plan"),
    Required("ServiceDeferred", "until_date"),
    Text("ServiceDeferred", "authority", 64),
    Text("ServiceDeferred", "because", 500),
    Id("TesterCalibrated", "tester"),
    Required("TesterCalibrated", "due_date"),
    TextIfAny("TesterCalibrated", "certificate", 64),
    Id("TesterDoubted", "tester"),
    Required("TesterDoubted", "from_time"),
    Required("TesterDoubted", "to_time"),
    Text("TesterDoubted", "because", 500),
    IdIfAny("TesterDoubted", "units"),

    Between("Motion", "extension_deg", -30, 180),
    Between("Motion", "flexion_deg", -30, 180),
    Above("Motion", "speed_deg_per_min", 0, 10'000),
    Between("Motion", "pause_s", 0, 86'400),
    Above("Motion", "daily_use_s", 0, 86'400),
    // The id form leaves no room for a name: particulars never enter a fact.
    IdIfAny("OrderDetails", "patient"),
    TextIfAny("OrderDetails", "prescriber", 64),
    TextIfAny("OrderDetails", "facility", 64),
    IdIfAny("OrderDetails", "branch"),
    IdIfAny("OrderDetails", "device_class"),
    TextIfAny("OrderDetails", "procedure", 500),
    Between("OrderDetails", "length_of_need_days", 1, 730),
    Id("OrderTaken", "order"),
    TextIfAny("OrderTaken", "sender_reference", 64),
    Between("OrderTaken", "sender_version", 0, kMostVersion),
    Id("OrderChanged", "order"),
    Required("OrderChanged", "details"),
    Between("OrderChanged", "sender_version", 0, kMostVersion),
    Id("OrderCancelled", "order"),
    TextIfAny("OrderCancelled", "reason", 500),
    Between("OrderCancelled", "sender_version", 0, kMostVersion),

    Id("UnitHeldForOrder", "unit"),
    Id("UnitHeldForOrder", "order"),
    Id("OrderHoldReleased", "unit"),
    Id("OrderHoldReleased", "order"),
    TextIfAny("OrderHoldReleased", "reason", 500),

    Id("KitItem", "item"),
    Id("KitItem", "lot"),
    Between("KitItem", "piece_count", 1, 1'000'000),
    Id("HandedOver", "unit"),
    Id("HandedOver", "order"),
    Id("HandedOver", "unit_model"),
    Seconds("HandedOver", "meter_s"),
    IdIfAny("HandedOver", "accessories"),
    TextIfAny("HandedOver", "papers", 64),
    TextIfAny("HandedOver", "signed_by", 32),
    Id("Exchanged", "order"),
    Id("Exchanged", "unit_out"),
    Id("Exchanged", "to_place"),
    Seconds("Exchanged", "out_meter_s"),
    Id("Exchanged", "unit_in"),
    Id("Exchanged", "unit_in_model"),
    Seconds("Exchanged", "in_meter_s"),
    TextIfAny("Exchanged", "reason", 500),

    Id("OrderExtended", "order"),
    Required("OrderExtended", "through_date"),
    Id("PickupAgreed", "order"),
    Required("PickupAgreed", "pickup_date"),
    Id("PickupFailed", "order"),
    TextIfAny("PickupFailed", "outcome", 500),
    Id("PickedUp", "unit"),
    Id("PickedUp", "order"),
    Id("PickedUp", "to_place"),
    Seconds("PickedUp", "meter_s"),
    IdIfAny("PickedUp", "accessories"),
    IdIfAny("PickedUp", "missing"),
    TextIfAny("PickedUp", "condition", 500),
    Id("ReceivedBack", "unit"),
    Id("ReceivedBack", "place"),
    Seconds("ReceivedBack", "meter_s"),
    TextIfAny("ReceivedBack", "serial", 64),
    IdIfAny("ReceivedBack", "accessories"),
    TextIfAny("ReceivedBack", "condition", 500),

    Required("SettingsPut", "settings"),
    Required("SettingsPut", "from_time"),
    Required("Reversal", "fact"),
    Names("Reversal", "subjects"),
    Text("Reversal", "because", 500),
    Names("QuestionAnswered", "subject"),
    Required("QuestionAnswered", "fact"),
    Required("QuestionAnswered", "rule"),
    Text("QuestionAnswered", "explanation", 500),
};

constexpr FieldRule kAnything{.message = "", .field = ""};

}  // namespace

const FieldRule& RuleOf(std::string_view message, std::string_view field) {
  const auto row = std::find_if(std::begin(kRules), std::end(kRules), [&](const FieldRule& r) {
    return r.message == message && r.field == field;
  });
  return row == std::end(kRules) ? kAnything : *row;
}

}  // namespace ferrule::fact
