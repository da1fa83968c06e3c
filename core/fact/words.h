// A fact in the words of the counter, one line, for histories and tickets; and the words for the
// facts' enums.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "ferrule/v1/facts.pb.h"
#include "google/protobuf/repeated_field.h"

namespace ferrule::fact {

// For instance "inspection done: knee-check version 3, 6 readings, with tester ESA-2"; never
// patient particulars. Days are as given, instants inside a fact are left out, free words are cut
// to a line.
std::string Describe(const v1::Fact& fact);
// The kind alone, "handed over", "inspection done"; "nothing stated" for a fact without content.
std::string_view KindWords(const v1::Fact& fact);

// "left", "right", "either"; "not stated" for the zero, "other" for a number of a later release.
// The functions below do the same.
std::string_view SideWords(v1::Side side);
// "recall", "incident", "infestation", "contamination", "tester doubt", "owner", "other".
std::string_view HoldKindWords(v1::HoldKind kind);
// "rental", "demonstration", "loaner", "cross-rented"; the zero counts as rental.
std::string_view PurposeWords(v1::Purpose purpose);
// "old tag", "board number".
std::string_view AliasKindWords(v1::AliasKind kind);
// "HL7 v2", "FHIR R4", "CSV".
std::string_view MessageKindWords(v1::MessageKind kind);
std::string_view OrderLinkWords(v1::OrderLink link);
std::string_view DetailKindWords(v1::DetailKind kind);
std::string_view StayWords(v1::Stay stay);
std::string_view UseChangeWords(v1::UseChange change);
// "operation", "discharge", "hand-over", "a day of the order".
std::string_view ProgressionAnchorWords(v1::ProgressionAnchor anchor);
// "rep", "therapist", "patient", "other".
std::string_view MotionChangerWords(v1::MotionChanger changer);
// "read on the meter", "out of the device's memory", "told".
std::string_view UsageSourceWords(v1::UsageSource source);
// "no unit in time", "none fits", "no delivery in time", "other".
std::string_view RefusalKindWords(v1::RefusalKind kind);
std::string_view CleaningStepWords(v1::CleaningStep step);
// "contacted", "corrected", "sent back", "destroyed", "not covered", "unaccounted".
std::string_view RecallOutcomeWords(v1::RecallOutcome outcome);
// "unexplained", "moved", "scanned later", "swap", "other place", "misread", "late paper".
std::string_view CountExplanationWords(v1::CountExplanation explanation);
// "before the due day".
std::string_view CallKindWords(v1::CallKind kind);
// "not reached".
std::string_view CallOutcomeWords(v1::CallOutcome outcome);
// "ring first", "two together", "gloves", "bag at the door", "no outlet", "stay outside".
std::string_view PrecautionWords(v1::Precaution precaution);
// "ring first, gloves"; empty for none.
std::string PrecautionList(const google::protobuf::RepeatedField<int>& precautions);
// "device", "cleanliness", "visit", "teaching", "conduct", "billing", "privacy", "other".
std::string_view ComplaintKindWords(v1::ComplaintKind value);
// "patient", "referrer", "payer", "hospital", "staff", "other".
std::string_view ComplaintSourceWords(v1::ComplaintSource value);
// "nobody hurt", "could have hurt somebody", "somebody hurt".
std::string_view HarmWords(v1::Harm value);
// "upheld", "partly upheld", "not upheld", "withdrawn".
std::string_view ComplaintOutcomeWords(v1::ComplaintOutcome value);
// "by telephone", "in the home", "by itself", "not needed any more".
std::string_view BreakdownCureWords(v1::BreakdownCure value);
// "patient's particulars", "message", "papers of a rental", "papers of a complaint".
std::string_view RecordKindWords(v1::RecordKind value);
// "day received", "hand-over", "end of the rental", "last day billed", "closing of the complaint".
std::string_view RetentionAnchorWords(v1::RetentionAnchor value);
// Hours with one decimal, as run-hour meters show them: 360 s is "0.1 h".
std::string HoursWords(int64_t seconds);

}  // namespace ferrule::fact
