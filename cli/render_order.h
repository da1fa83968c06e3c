// An order in words, and the lists and counts that orders stand in.
#pragma once

#include "absl/time/time.h"
#include "cli/render_fields.h"
#include "cli/render_table.h"
#include "ferrule/v1/depot_service.pb.h"

namespace ferrule::cli {

Fields OrderFields(const v1::GetOrderResponse& answer, absl::TimeZone zone);
Table OrderTable(const google::protobuf::RepeatedPtrField<v1::OrderRow>& orders);
Table DueTable(const google::protobuf::RepeatedPtrField<v1::DueRow>& rows);
Table BoardTable(const google::protobuf::RepeatedPtrField<v1::BoardRow>& rows);

}  // namespace ferrule::cli
