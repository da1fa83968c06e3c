#include "cli/goods_flags.h"

#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"

namespace ferrule::cli {

absl::StatusOr<v1::StockLine> ParseGoods(const std::string& text) {
  const absl::Status wrong = absl::InvalidArgumentError(absl::StrCat(
      "'", text, "' is no goods; write item, lot and pieces, for instance pad-set=L5*10, or ",
      "walker*2 for what is only counted"));
  v1::StockLine line;
  std::string rest = text;
  int32_t pieces = 1;
  if (const size_t star = rest.rfind('*'); star != std::string::npos) {
    if (!absl::SimpleAtoi(rest.substr(star + 1), &pieces) || pieces < 1) return wrong;
    rest.resize(star);
  }
  const size_t equals = rest.find('=');
  line.set_item(rest.substr(0, equals));
  if (equals != std::string::npos) line.set_lot(rest.substr(equals + 1));
  if (line.item().empty() || (equals != std::string::npos && line.lot().empty())) return wrong;
  line.set_piece_count(pieces);
  return line;
}

void ReadGoods(const Line& line, Values& values,
               google::protobuf::RepeatedPtrField<v1::StockLine>* lines) {
  for (const std::string& text : line.All("--goods")) {
    const auto goods = ParseGoods(text);
    if (!goods.ok()) return values.Fail("--goods", goods.status());
    *lines->Add() = *goods;
  }
}

std::string GoodsName(const std::string& item, const std::string& lot) {
  return lot.empty() ? item : absl::StrCat(item, " of lot ", lot);
}

}  // namespace ferrule::cli
