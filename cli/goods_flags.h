// Goods as they are typed: "pad-set=L5*10" is ten pieces of lot L5, "walker*2" two that are only
// counted.
#pragma once

#include <string>

#include "absl/status/statusor.h"
#include "cli/command.h"
#include "cli/values.h"
#include "ferrule/v1/stock.pb.h"
#include "google/protobuf/repeated_field.h"

namespace ferrule::cli {

inline constexpr Flag kLotFlag{"--lot", "LOT", "the lot; none for what is only counted"};
inline constexpr Flag kUnitsFlag{"--unit", "UNIT", "tag of a unit", true};
inline constexpr Flag kGoodsFlag{"--goods", "ITEM=LOT*N", "goods: pad-set=L5*10, or walker*2",
                                 true};

// InvalidArgument with the right form otherwise; the count may be left out for 1.
absl::StatusOr<v1::StockLine> ParseGoods(const std::string& text);
// Every --goods of the line.
void ReadGoods(const Line& line, Values& values,
               google::protobuf::RepeatedPtrField<v1::StockLine>* lines);
// "pad-set of lot L5", "walker".
std::string GoodsName(const std::string& item, const std::string& lot);

}  // namespace ferrule::cli
