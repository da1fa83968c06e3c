// News of orders as facts: which order is meant, what is recorded, and where in true time.
//
// A sender's versions of an order must be folded in their own order, whatever order they come in
// and whatever its clock said. So a fact's true time is the sender's clock, moved between the
// versions before and after it where clock and versions contradict each other; versions that fall
// on one instant are told apart by the entry's order number. What the clock said stays beside it.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "core/exchange/news.h"
#include "ferrule/v1/facts.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::exchange {

// The depot's id of a sender's order: prefix and number as they are, when that is an id; otherwise
// the prefix, "x" and a hash of issuer and number. `hash` gives hexadecimal digits of a text.
std::string OrderIdOf(const v1::Sender& sender, std::string_view number,
                      const std::function<std::string(std::string_view)>& hash);

// Whose numbers the sender uses.
std::string_view IssuerOf(const v1::Sender& sender);

// Patient, class, side and day of the operation as one text, the same for the same order by another
// channel; empty when any of them is missing.
std::string ContentKey(const std::string& patient, const v1::OrderDetails& details);

// The true time of a version among the sources of an order.
int64_t TrueTime(const v1::OrderState* order, int64_t version, int64_t stated_us, int64_t now_us);

// One order of a message with what the records have of it.
struct PlannedOrder {
  const OrderNews* news = nullptr;
  std::string order;                      // the depot's id
  std::string patient;                    // the depot's reference
  const v1::OrderState* state = nullptr;  // null when it was never taken
};

struct MessageFacts {
  std::string entry_id;
  std::string actor;
  std::string message;  // bare id
  std::string sha256;   // hexadecimal
  v1::MessageKind kind = v1::MESSAGE_KIND_UNSPECIFIED;
  const v1::Sender* sender = nullptr;
  std::string settings_version;
  int64_t now_us = 0;
};

// The observed entry that the message becomes.
v1::Entry EntryOf(const std::vector<PlannedOrder>& orders, const MessageFacts& message);

// What differs between two states of an order, field by field in words; sources and stamps are left
// out.
std::vector<v1::OrderChange> Differences(const v1::OrderState& before, const v1::OrderState& after);

}  // namespace ferrule::exchange
