// What an order says of side, joint and procedure against what its own other parts say. A
// contradiction stops the order until a named person has confirmed what is right.
#pragma once

#include <string>
#include <vector>

#include "core/depot/settings_book.h"
#include "ferrule/v1/facts.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::order {

struct Contradiction {
  v1::DetailKind kind;
  std::string says;  // "left"
  std::string but;   // "the patient says right, the procedure names right"
};

// Side: the order's against the patient's word, the procedure code's side and the words left and
// right in the procedure's text. Joint: the prescriber's against the class of device's. Procedure:
// the code's joint against the class of device's or else the prescriber's. What is not stated
// contradicts nothing.
std::vector<Contradiction> AllContradictions(const v1::OrderState& order,
                                             const depot::Rules& rules);

// Those that nobody has confirmed as they now stand.
std::vector<Contradiction> OpenContradictions(const v1::OrderState& order,
                                              const depot::Rules& rules);

// What a confirmation of that kind confirms, in words; it holds as long as these words stay.
std::string ConfirmedWords(const v1::OrderState& order, v1::DetailKind kind,
                           const depot::Rules& rules);

}  // namespace ferrule::order
