// The plain words of enums; one switch each, so that the compiler asks for a new value's word.
#include "absl/strings/str_cat.h"
#include "core/fact/words.h"

namespace ferrule::fact {

std::string_view SideWords(v1::Side side) {
  switch (side) {
    case v1::SIDE_UNSPECIFIED:
      return "not stated";
    case v1::SIDE_LEFT:
      return "left";
    case v1::SIDE_RIGHT:
      return "right";
    case v1::SIDE_EITHER:
      return "either";
    default:
      return "other";
  }
}

std::string_view HoldKindWords(v1::HoldKind kind) {
  switch (kind) {
    case v1::HOLD_KIND_UNSPECIFIED:
      return "not stated";
    case v1::HOLD_KIND_RECALL:
      return "recall";
    case v1::HOLD_KIND_INCIDENT:
      return "incident";
    case v1::HOLD_KIND_INFESTATION:
      return "infestation";
    case v1::HOLD_KIND_CONTAMINATION:
      return "contamination";
    case v1::HOLD_KIND_TESTER_DOUBT:
      return "tester doubt";
    case v1::HOLD_KIND_OWNER:
      return "owner";
    default:
      return "other";
  }
}

std::string_view PurposeWords(v1::Purpose purpose) {
  switch (purpose) {
    case v1::PURPOSE_UNSPECIFIED:
    case v1::PURPOSE_RENTAL:
      return "rental";
    case v1::PURPOSE_DEMONSTRATION:
      return "demonstration";
    case v1::PURPOSE_LOANER:
      return "loaner";
    case v1::PURPOSE_CROSS_RENTED:
      return "cross-rented";
    default:
      return "other";
  }
}

std::string_view AliasKindWords(v1::AliasKind kind) {
  switch (kind) {
    case v1::ALIAS_KIND_UNSPECIFIED:
      return "not stated";
    case v1::ALIAS_KIND_OLD_TAG:
      return "old tag";
    case v1::ALIAS_KIND_BOARD_NUMBER:
      return "board number";
    default:
      return "other";
  }
}

std::string_view MessageKindWords(v1::MessageKind kind) {
  switch (kind) {
    case v1::MESSAGE_KIND_UNSPECIFIED:
      return "not stated";
    case v1::MESSAGE_KIND_HL7_V2:
      return "HL7 v2";
    case v1::MESSAGE_KIND_FHIR_R4:
      return "FHIR R4";
    case v1::MESSAGE_KIND_CSV_ORDER:
      return "CSV";
    default:
      return "other";
  }
}

std::string_view OrderLinkWords(v1::OrderLink link) {
  switch (link) {
    case v1::ORDER_LINK_UNSPECIFIED:
      return "belongs to";
    case v1::ORDER_LINK_SECOND_SIDE:
      return "other side of";
    case v1::ORDER_LINK_REBOOKED:
      return "in place of";
    case v1::ORDER_LINK_FURTHER:
      return "further to";
    default:
      return "other";
  }
}

std::string_view DetailKindWords(v1::DetailKind kind) {
  switch (kind) {
    case v1::DETAIL_KIND_UNSPECIFIED:
      return "not stated";
    case v1::DETAIL_KIND_SIDE:
      return "side";
    case v1::DETAIL_KIND_PROCEDURE:
      return "procedure";
    case v1::DETAIL_KIND_JOINT:
      return "joint";
    default:
      return "other";
  }
}

std::string_view StayWords(v1::Stay stay) {
  switch (stay) {
    case v1::STAY_UNSPECIFIED:
      return "not stated";
    case v1::STAY_HOME:
      return "home";
    case v1::STAY_HOSPITAL:
      return "hospital";
    case v1::STAY_FACILITY:
      return "facility";
    case v1::STAY_DIED:
      return "died";
    default:
      return "other";
  }
}

std::string_view UseChangeWords(v1::UseChange change) {
  switch (change) {
    case v1::USE_CHANGE_UNSPECIFIED:
      return "not stated";
    case v1::USE_CHANGE_STARTED:
      return "started";
    case v1::USE_CHANGE_STOPPED:
      return "stopped";
    default:
      return "other";
  }
}

std::string_view ProgressionAnchorWords(v1::ProgressionAnchor anchor) {
  switch (anchor) {
    case v1::PROGRESSION_ANCHOR_UNSPECIFIED:
      return "not stated";
    case v1::PROGRESSION_ANCHOR_SURGERY:
      return "operation";
    case v1::PROGRESSION_ANCHOR_DISCHARGE:
      return "discharge";
    case v1::PROGRESSION_ANCHOR_HAND_OVER:
      return "hand-over";
    case v1::PROGRESSION_ANCHOR_DATE:
      return "a day of the order";
    default:
      return "other";
  }
}

std::string_view MotionChangerWords(v1::MotionChanger changer) {
  switch (changer) {
    case v1::MOTION_CHANGER_UNSPECIFIED:
      return "not stated";
    case v1::MOTION_CHANGER_REP:
      return "rep";
    case v1::MOTION_CHANGER_THERAPIST:
      return "therapist";
    case v1::MOTION_CHANGER_PATIENT:
      return "patient";
    default:
      return "other";
  }
}

std::string_view UsageSourceWords(v1::UsageSource source) {
  switch (source) {
    case v1::USAGE_SOURCE_UNSPECIFIED:
      return "not stated";
    case v1::USAGE_SOURCE_METER:
      return "read on the meter";
    case v1::USAGE_SOURCE_DEVICE_MEMORY:
      return "out of the device's memory";
    case v1::USAGE_SOURCE_TOLD:
      return "told";
    default:
      return "other";
  }
}

std::string_view RefusalKindWords(v1::RefusalKind kind) {
  switch (kind) {
    case v1::REFUSAL_KIND_UNSPECIFIED:
      return "not stated";
    case v1::REFUSAL_KIND_NO_UNIT:
      return "no unit in time";
    case v1::REFUSAL_KIND_NONE_FITS:
      return "none fits";
    case v1::REFUSAL_KIND_NO_DELIVERY:
      return "no delivery in time";
    default:
      return "other";
  }
}

std::string_view CleaningStepWords(v1::CleaningStep step) {
  switch (step) {
    case v1::CLEANING_STEP_UNSPECIFIED:
      return "not stated";
    case v1::CLEANING_STEP_PREPARATION:
      return "preparation";
    case v1::CLEANING_STEP_WASHING:
      return "washing";
    case v1::CLEANING_STEP_DISINFECTION:
      return "disinfection";
    case v1::CLEANING_STEP_DRYING:
      return "drying";
    default:
      return "other";
  }
}

std::string_view CallKindWords(v1::CallKind kind) {
  switch (kind) {
    case v1::CALL_KIND_UNSPECIFIED:
      return "not stated";
    case v1::CALL_KIND_FOLLOW_UP:
      return "follow-up after the set-up";
    case v1::CALL_KIND_BEFORE_DUE:
      return "before the due day";
    case v1::CALL_KIND_COVER_ENDS:
      return "cover ends";
    case v1::CALL_KIND_CONFIRM_SURGERY:
      return "day of the operation";
    case v1::CALL_KIND_PICKUP:
      return "another pick-up";
    default:
      return "other";
  }
}

std::string_view CallOutcomeWords(v1::CallOutcome outcome) {
  switch (outcome) {
    case v1::CALL_OUTCOME_UNSPECIFIED:
      return "not stated";
    case v1::CALL_OUTCOME_REACHED:
      return "reached";
    case v1::CALL_OUTCOME_NOT_REACHED:
      return "not reached";
    case v1::CALL_OUTCOME_LATER:
      return "asked to be rung later";
    default:
      return "other";
  }
}

std::string_view PrecautionWords(v1::Precaution precaution) {
  switch (precaution) {
    case v1::PRECAUTION_UNSPECIFIED:
      return "not stated";
    case v1::PRECAUTION_RING_FIRST:
      return "ring first";
    case v1::PRECAUTION_TWO_TOGETHER:
      return "two together";
    case v1::PRECAUTION_GLOVES:
      return "gloves";
    case v1::PRECAUTION_BAG_AT_DOOR:
      return "bag at the door";
    case v1::PRECAUTION_NO_OUTLET:
      return "no outlet";
    case v1::PRECAUTION_STAY_OUTSIDE:
      return "stay outside";
    default:
      return "other";
  }
}

std::string PrecautionList(const google::protobuf::RepeatedField<int>& precautions) {
  std::string list;
  for (const int one : precautions) {
    absl::StrAppend(&list, list.empty() ? "" : ", ",
                    std::string(PrecautionWords(static_cast<v1::Precaution>(one))));
  }
  return list;
}

}  // namespace ferrule::fact
