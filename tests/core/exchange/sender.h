// A sender with a few codes, for tests; synthetic.
#pragma once

#include "ferrule/v1/settings.pb.h"
#include "google/protobuf/text_format.h"

namespace ferrule::testing {

inline v1::Sender ClinicSender() {
  v1::Sender sender;
  google::protobuf::TextFormat::ParseFromString(
      "id: 'clinic-ehr' issuer: 'clinic' hl7_application: 'EHR' hl7_facility: 'CLINIC' "
      "order_prefix: 'E-' branch: 'north' time_zone: 'America/New_York' "
      "codes { system: 'HCPCS' code: 'E0935' device_class: 'knee' } "
      "codes { code: 'CPM-K' device_class: 'knee' } "
      "codes { code: 'LT' side: SIDE_LEFT } codes { code: 'RT' side: SIDE_RIGHT } "
      "codes { code: 'FLEX' item: INTAKE_ITEM_FLEXION } "
      "codes { code: 'EXT' item: INTAKE_ITEM_EXTENSION } "
      "codes { code: 'SPEED' item: INTAKE_ITEM_SPEED } "
      "codes { code: 'HOURS' item: INTAKE_ITEM_DAILY_USE } "
      "codes { code: 'DOS' item: INTAKE_ITEM_SURGERY_DATE } "
      "codes { code: 'SIDE' item: INTAKE_ITEM_SIDE } "
      "codes { code: 'NOISE' item: INTAKE_ITEM_IGNORED } "
      "codes { code: 'TKR' procedure: 'total knee replacement' }",
      &sender);
  return sender;
}

}  // namespace ferrule::testing
