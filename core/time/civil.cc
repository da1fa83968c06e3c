#include "core/time/civil.h"

#include <algorithm>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "core/time/iso.h"

namespace ferrule::time {
namespace {

constexpr int64_t kMicrosPerSecond = 1'000'000;
// 0001-01-01T00:00:00Z and 9999-12-31T23:59:59Z, the range of a protobuf Timestamp.
constexpr int64_t kMinSeconds = -62'135'596'800;
constexpr int64_t kMaxSeconds = 253'402'300'799;

constexpr char kInstantForms[] =
    "write 2026-11-25 or 2026-11-25 14:05 (local time of the branch), or 2026-11-25T14:05:00Z or "
    "2026-11-25T14:05:00+01:00";

// Reads fixed-width digits and separators from the front of a text.
class Scanner {
 public:
  explicit Scanner(std::string_view text) : rest_(text) {}

  bool Done() const { return rest_.empty(); }
  // Takes one character when it is one of `any_of`; gives 0 otherwise.
  char Take(std::string_view any_of) {
    if (rest_.empty() || any_of.find(rest_.front()) == std::string_view::npos) return 0;
    const char c = rest_.front();
    rest_.remove_prefix(1);
    return c;
  }
  // Exactly `width` digits.
  bool Number(int width, int* value) {
    if (rest_.size() < static_cast<size_t>(width)) return false;
    *value = 0;
    for (int i = 0; i < width; ++i) {
      const char c = rest_[static_cast<size_t>(i)];
      if (!IsDigit(c)) return false;
      *value = *value * 10 + (c - '0');
    }
    rest_.remove_prefix(static_cast<size_t>(width));
    return true;
  }
  // One or more digits after a decimal point; what is finer than a microsecond is cut off.
  bool Fraction(int64_t* micros) {
    if (rest_.empty() || !IsDigit(rest_.front())) return false;
    int64_t unit = kMicrosPerSecond / 10;
    for (*micros = 0; !rest_.empty() && IsDigit(rest_.front()); rest_.remove_prefix(1)) {
      *micros += (rest_.front() - '0') * unit;
      unit /= 10;
    }
    return true;
  }

 private:
  static bool IsDigit(char c) { return c >= '0' && c <= '9'; }
  std::string_view rest_;
};

bool IsLeapYear(int year) { return year % 4 == 0 && (year % 100 != 0 || year % 400 == 0); }

int DaysInMonth(int year, int month) {
  constexpr int kDays[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  return month == 2 && IsLeapYear(year) ? 29 : kDays[month - 1];
}

bool IsRealDay(int year, int month, int day) {
  return year >= 1 && year <= 9999 && month >= 1 && month <= 12 && day >= 1 &&
         day <= DaysInMonth(year, month);
}

struct DayFields {
  int year = 0;
  int month = 0;
  int day = 0;
};

bool ScanDay(Scanner* in, DayFields* d) {
  return in->Number(4, &d->year) && in->Take("-") && in->Number(2, &d->month) && in->Take("-") &&
         in->Number(2, &d->day);
}

struct ClockFields {
  int hour = 0;
  int minute = 0;
  int second = 0;
  int64_t micros = 0;
  bool has_offset = false;
  int offset_s = 0;
};

bool ScanOffset(Scanner* in, ClockFields* c) {
  const char sign = in->Take("Zz+-");
  if (sign == 0) return true;
  c->has_offset = true;
  if (sign == 'Z' || sign == 'z') return true;
  int hours = 0;
  int minutes = 0;
  if (!in->Number(2, &hours) || !in->Take(":") || !in->Number(2, &minutes)) return false;
  if (hours > 23 || minutes > 59) return false;
  c->offset_s = (hours * 60 + minutes) * 60 * (sign == '-' ? -1 : 1);
  return true;
}

bool ScanClock(Scanner* in, ClockFields* c) {
  if (!in->Number(2, &c->hour) || !in->Take(":") || !in->Number(2, &c->minute)) return false;
  if (in->Take(":")) {
    if (!in->Number(2, &c->second)) return false;
    if (in->Take(".") && !in->Fraction(&c->micros)) return false;
  }
  return ScanOffset(in, c);
}

absl::Status NotAnInstant(std::string_view text, std::string_view why) {
  return absl::InvalidArgumentError(
      absl::StrCat("\"", std::string(text), "\" ", std::string(why), ": ", kInstantForms));
}

std::string DayText(const DayFields& d) {
  return absl::StrCat(absl::Dec(d.year, absl::kZeroPad4), "-", absl::Dec(d.month, absl::kZeroPad2),
                      "-", absl::Dec(d.day, absl::kZeroPad2));
}

// RFC 3339 5.7 allows second 60 where a leap second was inserted: at the end of a UTC day only.
bool IsLeapSecond(const ClockFields& c) {
  if (c.second != 60 || !c.has_offset) return false;
  const int utc_minutes = c.hour * 60 + c.minute - c.offset_s / 60;
  return (utc_minutes + 2 * 24 * 60) % (24 * 60) == 23 * 60 + 59;
}

bool IsRealClock(const ClockFields& c) {
  return c.hour <= 23 && c.minute <= 59 && (c.second <= 59 || IsLeapSecond(c));
}

}  // namespace

int64_t ToMicros(const google::protobuf::Timestamp& t) {
  const int64_t seconds = std::clamp(t.seconds(), kMinSeconds, kMaxSeconds);
  return seconds * kMicrosPerSecond + t.nanos() / 1000;
}

google::protobuf::Timestamp FromMicros(int64_t us) {
  google::protobuf::Timestamp t;
  SetMicros(us, &t);
  return t;
}

void SetMicros(int64_t us, google::protobuf::Timestamp* t) {
  int64_t seconds = us / kMicrosPerSecond;
  int64_t micros = us % kMicrosPerSecond;
  if (micros < 0) {  // nanos count forward, also before 1970
    micros += kMicrosPerSecond;
    --seconds;
  }
  t->set_seconds(seconds);
  t->set_nanos(static_cast<int32_t>(micros * 1000));
}

bool IsValid(const google::type::Date& d) { return IsRealDay(d.year(), d.month(), d.day()); }

absl::CivilDay ToDay(const google::type::Date& d) {
  return absl::CivilDay(d.year(), d.month(), d.day());
}

google::type::Date FromDay(absl::CivilDay d) {
  google::type::Date date;
  date.set_year(static_cast<int32_t>(d.year()));
  date.set_month(d.month());
  date.set_day(d.day());
  return date;
}

int64_t DayNumber(absl::CivilDay d) { return d - absl::CivilDay(1970, 1, 1); }

absl::CivilDay DayFromNumber(int64_t n) { return absl::CivilDay(1970, 1, 1) + n; }

absl::StatusOr<absl::TimeZone> Zone(std::string_view name) {
  // Only names of the zone database: no file paths, and nothing that means another zone on another
  // machine.
  const bool is_name =
      !name.empty() && name.front() != '/' && name.find("..") == std::string_view::npos &&
      name != "localtime" && std::all_of(name.begin(), name.end(), [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
               c == '/' || c == '_' || c == '+' || c == '-';
      });
  absl::TimeZone zone;
  if (is_name && absl::LoadTimeZone(std::string(name), &zone)) return zone;
  return absl::InvalidArgumentError(
      absl::StrCat("\"", std::string(name),
                   "\" is no time zone: write an IANA name, for instance Europe/Berlin"));
}

absl::CivilDay LocalDay(int64_t us, absl::TimeZone zone) {
  return absl::ToCivilDay(absl::FromUnixMicros(us), zone);
}

int64_t StartOfDayMicros(absl::CivilDay day, absl::TimeZone zone) {
  // FromCivil gives the transition where a clock change skips midnight: the day's first instant.
  return absl::ToUnixMicros(absl::FromCivil(absl::CivilSecond(day), zone));
}

absl::StatusOr<absl::CivilDay> ParseDay(std::string_view text) {
  if (text.size() > 5 && text[5] == 'W') return ParseWeekDate(text);
  Scanner in(text);
  DayFields d;
  if (!ScanDay(&in, &d) || !in.Done()) {
    return absl::InvalidArgumentError(absl::StrCat(
        "\"", std::string(text), "\" is not a day: write year-month-day, for instance 2026-11-25"));
  }
  if (!IsRealDay(d.year, d.month, d.day)) {
    return absl::InvalidArgumentError(
        absl::StrCat("\"", std::string(text),
                     "\" is no day of the calendar: check month and day, the form is "
                     "year-month-day, for instance 2026-11-25"));
  }
  return absl::CivilDay(d.year, d.month, d.day);
}

std::string FormatDay(absl::CivilDay d) {
  return DayText({static_cast<int>(d.year()), d.month(), d.day()});
}

std::string FormatLocal(int64_t us, absl::TimeZone zone) {
  return absl::FormatTime("%E4Y-%m-%d %H:%M", absl::FromUnixMicros(us), zone);
}

std::string FormatUtc(int64_t us) {
  return absl::FormatTime("%E4Y-%m-%dT%H:%M:%E*SZ", absl::FromUnixMicros(us), absl::UTCTimeZone());
}

absl::StatusOr<int64_t> ParseInstant(std::string_view text, absl::TimeZone zone) {
  Scanner in(text);
  DayFields d;
  if (!ScanDay(&in, &d)) return NotAnInstant(text, "is not a time");
  if (!IsRealDay(d.year, d.month, d.day)) {
    return NotAnInstant(text, "names no day of the calendar");
  }
  const absl::CivilDay day(d.year, d.month, d.day);
  if (in.Done()) return StartOfDayMicros(day, zone);
  ClockFields c;
  if (!in.Take("Tt ") || !ScanClock(&in, &c) || !in.Done()) {
    return NotAnInstant(text, "is not a time");
  }
  if (!IsRealClock(c)) return NotAnInstant(text, "names no time of the day");
  const absl::CivilSecond local(d.year, d.month, d.day, c.hour, c.minute, c.second);
  const absl::Time instant =
      c.has_offset ? absl::FromCivil(local - c.offset_s, absl::UTCTimeZone()) : zone.At(local).pre;
  return absl::ToUnixMicros(instant) + c.micros;
}

}  // namespace ferrule::time
