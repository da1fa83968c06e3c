#include "core/store/postgres_values.h"

#include <charconv>
#include <string>

#include "absl/strings/str_cat.h"

namespace ferrule::store {
namespace {

// Type numbers of the engine's catalogue (src/include/catalog/pg_type.dat), fixed for all releases.
constexpr Oid kBool = 16;
constexpr Oid kBytea = 17;
constexpr Oid kName = 19;
constexpr Oid kInt8 = 20;
constexpr Oid kInt2 = 21;
constexpr Oid kInt4 = 23;
constexpr Oid kText = 25;
constexpr Oid kUnknown = 705;
constexpr Oid kVarchar = 1043;
constexpr Oid kNumeric = 1700;

constexpr int kText0 = 0;  // formats of a parameter
constexpr int kBinary = 1;

uint64_t BigEndian(const char* bytes, size_t size) {
  uint64_t value = 0;
  for (size_t i = 0; i < size; ++i) value = value << 8 | uint8_t(bytes[i]);
  return value;
}

// The whole part of a numeric, which sum() of a bigint column gives: 16-bit count, weight, sign
// and scale, then digits to the base 10,000.
int64_t NumericInt(const char* bytes) {
  constexpr uint64_t kNegative = 0x4000;
  const auto part = [&](int i) { return int16_t(BigEndian(bytes + 2 * i, 2)); };
  const int digits = part(0);
  const int weight = part(1);
  int64_t value = 0;
  for (int i = 0; i <= weight; ++i) value = value * 10'000 + (i < digits ? part(4 + i) : 0);
  return uint16_t(part(2)) == kNegative ? -value : value;
}

absl::StatusCode CodeOf(std::string_view state) {
  struct Meaning {
    std::string_view prefix;
    absl::StatusCode code;
  };
  using enum absl::StatusCode;
  // The longer prefixes first.
  static constexpr Meaning kMeanings[] = {
      {"08P01", kInternal},          // protocol violation: a program error
      {"22021", kInvalidArgument},   // not in the encoding
      {"22P05", kInvalidArgument},   // untranslatable character
      {"23505", kAlreadyExists},     // unique violation
      {"25006", kPermissionDenied},  // read-only transaction
      {"25P03", kUnavailable},       // idle-in-transaction time-out
      {"28", kPermissionDenied},     // authorization
      {"40", kAborted},              // serialization failure, deadlock
      {"42501", kPermissionDenied},  // insufficient privilege
      {"53300", kUnavailable},       // too many connections
      {"53", kResourceExhausted},    // disk full, out of memory
      {"54", kInvalidArgument},      // a program limit
      {"55P03", kUnavailable},       // lock not available
      {"57014", kCancelled},         // query cancelled
      {"57", kUnavailable},          // shut down, starting, database dropped
      {"08", kUnavailable},          // connection
      {"XX001", kDataLoss},          // data corrupted
      {"XX002", kDataLoss},          // index corrupted
  };
  for (const Meaning& meaning : kMeanings) {
    if (state.substr(0, meaning.prefix.size()) == meaning.prefix) return meaning.code;
  }
  return kInternal;
}

constexpr std::string_view kNoMemory = "53200";

std::string_view RemedyFor(std::string_view state, absl::StatusCode code) {
  if (state == kNoMemory) {
    return "the database has no memory left for it, nothing was done: end other programs there or "
           "add memory, then try again";
  }
  switch (code) {
    case absl::StatusCode::kUnavailable:
      return "the database is not available: try again";
    case absl::StatusCode::kResourceExhausted:
      return "the database's disk is full: make room, then try again";
    case absl::StatusCode::kDataLoss:
      return "the database is damaged: keep it as it is and restore the last backup";
    case absl::StatusCode::kPermissionDenied:
      return "the database does not allow it: check the role's rights";
    default:
      return "";
  }
}

}  // namespace

Oid TypeOf(Value::Kind kind) {
  switch (kind) {
    case Value::Kind::kInt:
      return kInt8;
    case Value::Kind::kText:
      return kText;
    case Value::Kind::kBlob:
      return kBytea;
    case Value::Kind::kNull:
      break;
  }
  return 0;
}

PgParameters::PgParameters(std::span<const Oid> types)
    : types_(types),
      numbers_(types.size()),
      values_(types.size()),
      lengths_(types.size()),
      formats_(types.size()) {}

void PgParameters::SetInt(size_t i, int64_t value) {
  char* const out = numbers_[i].data();
  values_[i] = out;
  if (types_[i] == kInt8) {
    for (int byte = 7; byte >= 0; --byte) {
      out[byte] = char(uint64_t(value) >> (8 * (7 - byte)));
    }
    lengths_[i] = 8;
    formats_[i] = kBinary;
    return;
  }
  *std::to_chars(out, out + numbers_[i].size() - 1, value).ptr = '\0';
  formats_[i] = kText0;
}

void PgParameters::Set(std::span<const Value> values) {
  for (size_t i = 0; i < values.size(); ++i) {
    const Value& value = values[i];
    switch (value.kind()) {
      case Value::Kind::kNull:
        values_[i] = nullptr;
        break;
      case Value::Kind::kInt:
        SetInt(i, value.int_value());
        break;
      case Value::Kind::kText:
      case Value::Kind::kBlob:
        // Without an address libpq would take it for NULL.
        values_[i] = value.bytes().data() == nullptr ? "" : value.bytes().data();
        lengths_[i] = int(value.bytes().size());
        formats_[i] = kBinary;
        break;
    }
  }
}

absl::Status CheckColumns(const PGresult* description, const char* statement) {
  for (int column = 0; column < libpq.PQnfields(description); ++column) {
    switch (libpq.PQftype(description, column)) {
      case kBool:
      case kBytea:
      case kName:
      case kInt8:
      case kInt2:
      case kInt4:
      case kText:
      case kUnknown:
      case kVarchar:
      case kNumeric:
        continue;
      default:
        return absl::InternalError(absl::StrCat("statement ", statement, ": column ", column,
                                                " is neither integer nor text nor blob (type ",
                                                libpq.PQftype(description, column), ")"));
    }
  }
  return absl::OkStatus();
}

int64_t PgRow::Int(int column) const {
  if (IsNull(column)) return 0;
  const char* bytes = libpq.PQgetvalue(result_, row_, column);
  switch (libpq.PQftype(result_, column)) {
    case kInt8:
      return int64_t(BigEndian(bytes, 8));
    case kInt4:
      return int32_t(BigEndian(bytes, 4));
    case kInt2:
      return int16_t(BigEndian(bytes, 2));
    case kBool:
      return bytes[0];
    case kNumeric:
      return NumericInt(bytes);
    default:
      return 0;
  }
}

absl::Status PgStatus(const PGresult* result, std::string_view doing) {
  const char* const state = libpq.PQresultErrorField(result, PG_DIAG_SQLSTATE);
  const absl::StatusCode code = state == nullptr ? absl::StatusCode::kUnavailable : CodeOf(state);
  const char* const primary = libpq.PQresultErrorField(result, PG_DIAG_MESSAGE_PRIMARY);
  std::string message = primary != nullptr ? primary : libpq.PQresultErrorMessage(result);
  while (!message.empty() && message.back() == '\n') message.pop_back();
  const std::string_view known = state == nullptr ? std::string_view() : state;
  const std::string_view remedy = RemedyFor(known, code);
  absl::Status status(
      code, absl::StrCat(absl::string_view(doing.data(), doing.size()), ": ",
                         absl::string_view(remedy.data(), remedy.size()),
                         remedy.empty() ? "" : " (", message, state == nullptr ? "" : ", SQLSTATE ",
                         state == nullptr ? "" : state, remedy.empty() ? "" : ")"));
  return known == kNoMemory ? OutOfMemory(std::move(status)) : status;
}

}  // namespace ferrule::store
