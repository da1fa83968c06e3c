// What a message of another system says, whatever it was written in: the form between the readers
// (HL7 v2, FHIR, CSV) and the facts. Holds no particulars of a patient but the number by which the
// sender knows the patient.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "absl/time/time.h"
#include "ferrule/v1/facts.pb.h"
#include "ferrule/v1/intake.pb.h"
#include "ferrule/v1/settings.pb.h"

namespace ferrule::exchange {

// The largest message that is taken, in bytes.
inline constexpr size_t kMostMessageBytes = 3 << 20;

// What a message says about one order.
struct OrderNews {
  enum class Control {
    kOrder,   // the order as it stands; it may be the first of it
    kChange,  // what changes in an order that was sent before
    kCancel,
  };
  Control control = Control::kOrder;
  std::string number;                // the sender's; empty when the message finds it by the patient
  int64_t version = 0;               // the sender's
  int64_t stated_us = 0;             // the sender's clock, 0 when it states none
  v1::OrderDetails details;          // without the patient's reference
  std::string patient;               // the sender's number of the patient
  std::vector<std::string> cleared;  // paths in OrderDetails that the message takes away
  std::string reason;                // of a cancellation
};

// A message read. Usable when `troubles` is empty.
struct Reading {
  std::string message_id;  // the sender's own, empty when it gives none
  int64_t stated_us = 0;
  bool for_patient = false;  // the news are for the patient's orders, which give no number
  std::vector<OrderNews> orders;
  std::vector<v1::Trouble> troubles;
};

struct ReadOptions {
  const v1::Sender* sender = nullptr;  // must be given
  absl::TimeZone zone;                 // of times without offset
};

// One trouble in words; nothing of the message's content but a code.
v1::Trouble TroubleAt(v1::TroubleKind kind, std::string_view where, std::string_view text,
                      std::string_view cure, std::string_view found = "");
v1::Trouble UnmappedCode(std::string_view where, std::string_view system, std::string_view code);

// The meaning of a sender's code: with that system, else for any system; null when it has none.
const v1::CodeMapping* FindCode(const v1::Sender& sender, std::string_view system,
                                std::string_view code);

// A value that comes with a code, and its unit of measure as stated.
struct StatedValue {
  std::string_view where;
  std::string_view text;
  std::string_view unit;
  const v1::CodeMapping* side = nullptr;  // when the value is itself a code that says a side
};

// Puts a stated value where its item belongs, in the unit of the field. FIELD_INVALID for a value
// or a unit that the item cannot have. A value of two quotes takes the field away.
void PutItem(v1::IntakeItem item, const StatedValue& value, OrderNews* news,
             std::vector<v1::Trouble>* troubles);
// Puts what a code says into the order.
void PutCode(const v1::CodeMapping& code, OrderNews* news);

// "L", "left", "LT", "both"... in any case: SIDE_UNSPECIFIED when it is no side.
v1::Side ParseSide(std::string_view text);

// HL7 v2 instants and days, "YYYYMMDD[HHMM[SS[.S...]]][+/-ZZZZ]". False when they are none.
bool ParseHl7Time(std::string_view text, absl::TimeZone zone, int64_t* us);
bool ParseHl7Day(std::string_view text, google::type::Date* day);

// Microseconds as the version of an order.
inline int64_t VersionOfTime(int64_t us) { return us; }

// The readers. Each gives what it could read and every trouble that it met.
Reading ReadHl7(std::string_view bytes, const ReadOptions& options);
Reading ReadFhir(std::string_view bytes, const ReadOptions& options);
// `fields` by the names of the mapping, for instance "order_number" (csv_fields.h).
Reading ReadCsvOrder(const std::vector<std::pair<std::string, std::string>>& fields,
                     const v1::CsvMapping& mapping, const ReadOptions& options);

}  // namespace ferrule::exchange
