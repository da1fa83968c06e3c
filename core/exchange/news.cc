#include "core/exchange/news.h"

#include <algorithm>
#include <cctype>
#include <cmath>
#include <numbers>

#include "core/exchange/hl7.h"
#include "core/exchange/text.h"
#include "core/time/civil.h"

namespace ferrule::exchange {
namespace {

constexpr char kDegreeSign[] = "\xC2\xB0";

struct UnitFactor {
  std::string_view unit;
  double factor;
};

// Units as UCUM and as people write them. UCUM codes from memory, checked against the cases of
// tests/core/exchange/news_test.cc.
constexpr UnitFactor kAngles[] = {{"", 1},          {"deg", 1},
                                  {"degree", 1},    {"degrees", 1},
                                  {kDegreeSign, 1}, {"rad", 180 / std::numbers::pi}};
constexpr UnitFactor kSpeeds[] = {
    {"", 1}, {"deg/min", 1}, {"degrees/min", 1}, {"deg/s", 60}, {"degrees/s", 60}};
constexpr UnitFactor kSeconds[] = {{"", 1}, {"s", 1}, {"sec", 1}, {"min", 60}};
constexpr UnitFactor kDailyUse[] = {{"", 3600},     {"h", 3600}, {"h/d", 3600}, {"hr", 3600},
                                    {"hr/d", 3600}, {"min", 60}, {"min/d", 60}};
constexpr UnitFactor kDays[] = {{"", 1},   {"d", 1},    {"day", 1},  {"days", 1},
                                {"wk", 7}, {"week", 7}, {"weeks", 7}};

template <size_t N>
const UnitFactor* FindUnit(const UnitFactor (&units)[N], std::string_view unit) {
  for (const UnitFactor& one : units) {
    if (Lower(unit) == one.unit) return &one;
  }
  return nullptr;
}

template <size_t N>
std::string Names(const UnitFactor (&units)[N]) {
  std::string out;
  for (const UnitFactor& one : units) {
    if (!one.unit.empty()) out += Cat(out.empty() ? "" : ", ", one.unit);
  }
  return out;
}

class ItemPutter {
 public:
  ItemPutter(const StatedValue& value, OrderNews* news, std::vector<v1::Trouble>* troubles)
      : value_(value), news_(news), troubles_(troubles) {}

  void Put(v1::IntakeItem item) {
    v1::Motion* motion = nullptr;
    v1::OrderDetails& d = news_->details;
    if (item == v1::INTAKE_ITEM_EXTENSION || item == v1::INTAKE_ITEM_FLEXION ||
        item == v1::INTAKE_ITEM_SPEED || item == v1::INTAKE_ITEM_PAUSE ||
        item == v1::INTAKE_ITEM_DAILY_USE) {
      motion = d.mutable_motion();
    }
    switch (item) {
      case v1::INTAKE_ITEM_EXTENSION:
        return Number("motion.extension_deg", kAngles, -30, 180,
                      [&](double v) { motion->set_extension_deg(v); });
      case v1::INTAKE_ITEM_FLEXION:
        return Number("motion.flexion_deg", kAngles, -30, 180,
                      [&](double v) { motion->set_flexion_deg(v); });
      case v1::INTAKE_ITEM_SPEED:
        return Number("motion.speed_deg_per_min", kSpeeds, 1e-9, 10'000,
                      [&](double v) { motion->set_speed_deg_per_min(v); });
      case v1::INTAKE_ITEM_PAUSE:
        return Number("motion.pause_s", kSeconds, 0, 86'400,
                      [&](double v) { motion->set_pause_s(std::llround(v)); });
      case v1::INTAKE_ITEM_DAILY_USE:
        return Number("motion.daily_use_s", kDailyUse, 1, 86'400,
                      [&](double v) { motion->set_daily_use_s(std::llround(v)); });
      case v1::INTAKE_ITEM_LENGTH_OF_NEED:
        return Number("length_of_need_days", kDays, 1, 730, [&](double v) {
          d.set_length_of_need_days(static_cast<int32_t>(std::llround(v)));
        });
      case v1::INTAKE_ITEM_SIDE:
        return PutSide();
      case v1::INTAKE_ITEM_SURGERY_DATE:
        return Day("surgery_date", [&] { return d.mutable_surgery_date(); });
      case v1::INTAKE_ITEM_DISCHARGE_DATE:
        return Day("discharge_date", [&] { return d.mutable_discharge_date(); });
      case v1::INTAKE_ITEM_PROCEDURE:
        if (!Deletes("procedure")) d.set_procedure(std::string(value_.text));
        return;
      default:
        return;
    }
  }

 private:
  bool Deletes(std::string_view path) {
    if (value_.text != kHl7Delete) return false;
    news_->cleared.emplace_back(path);
    if (news_->details.has_motion() && news_->details.motion().ByteSizeLong() == 0) {
      news_->details.clear_motion();
    }
    return true;
  }

  template <size_t N, typename Set>
  void Number(std::string_view path, const UnitFactor (&units)[N], double least, double most,
              Set set) {
    if (Deletes(path)) return;
    double number = 0;
    if (!ParseNumber(value_.text, &number) || !std::isfinite(number)) {
      return Wrong("is not a number", "send a plain number with a decimal point");
    }
    const UnitFactor* unit = FindUnit(units, value_.unit);
    if (unit == nullptr) {
      return Wrong("has a unit of measure that it cannot have",
                   Cat("send it in one of: ", Names(units)));
    }
    number *= unit->factor;
    if (number < least || number > most) {
      return Wrong(Cat("is out of range in ", UnitOf(path)),
                   Cat("ask the prescriber; it must lie between ", least < 1e-6 ? 0 : least,
                       " and ", most, " ", UnitOf(path)));
    }
    set(number);
  }

  static std::string UnitOf(std::string_view path) {
    if (path == "length_of_need_days") return "days";
    if (path == "motion.pause_s" || path == "motion.daily_use_s") return "seconds";
    return path == "motion.speed_deg_per_min" ? "degrees a minute" : "degrees";
  }

  template <typename Field>
  void Day(std::string_view path, Field field) {
    if (Deletes(path)) return;
    google::type::Date day;
    if (const auto iso = time::ParseDay(value_.text); iso.ok()) {
      *field() = time::FromDay(*iso);
    } else if (ParseHl7Day(value_.text, &day)) {
      *field() = day;
    } else {
      Wrong("is no day of the calendar", "send year, month and day");
    }
  }

  void PutSide() {
    if (Deletes("side")) return;
    const v1::Side side = value_.side != nullptr ? value_.side->side() : ParseSide(value_.text);
    if (side == v1::SIDE_UNSPECIFIED) {
      return Wrong("is no side", "send left or right, or map the code to a side in the settings");
    }
    news_->details.set_side(side);
  }

  void Wrong(std::string_view text, std::string_view cure) {
    troubles_->push_back(TroubleAt(v1::TROUBLE_KIND_FIELD_INVALID, value_.where, text, cure));
  }

  const StatedValue& value_;
  OrderNews* news_;
  std::vector<v1::Trouble>* troubles_;
};

bool AreDigits(std::string_view text) {
  return !text.empty() && std::all_of(text.begin(), text.end(), IsDigit);
}

// The number that at most four digits make.
bool ShortNumber(std::string_view digits, int* value) {
  int64_t number = 0;
  if (!ParseDigits(digits, &number)) return false;
  *value = static_cast<int>(number);
  return true;
}

}  // namespace

v1::Trouble TroubleAt(v1::TroubleKind kind, std::string_view where, std::string_view text,
                      std::string_view cure, std::string_view found) {
  v1::Trouble trouble;
  trouble.set_kind(kind);
  trouble.set_where(std::string(where));
  trouble.set_text(std::string(text));
  trouble.set_cure(std::string(cure));
  trouble.set_found(std::string(found.substr(0, 64)));
  return trouble;
}

v1::Trouble UnmappedCode(std::string_view where, std::string_view system, std::string_view code) {
  return TroubleAt(
      v1::TROUBLE_KIND_CODE_UNMAPPED, where, "is a code that means nothing in the settings",
      "map the code under this sender in the settings, or ask the sender for another; then replay",
      system.empty() ? std::string(code) : Cat(code, " of ", std::string(system)));
}

const v1::CodeMapping* FindCode(const v1::Sender& sender, std::string_view system,
                                std::string_view code) {
  const v1::CodeMapping* any = nullptr;
  for (const v1::CodeMapping& mapping : sender.codes()) {
    if (mapping.code() != code) continue;
    if (mapping.system() == system) return &mapping;
    if (mapping.system().empty()) any = &mapping;
  }
  return any;
}

void PutItem(v1::IntakeItem item, const StatedValue& value, OrderNews* news,
             std::vector<v1::Trouble>* troubles) {
  ItemPutter(value, news, troubles).Put(item);
}

void PutCode(const v1::CodeMapping& code, OrderNews* news) {
  if (!code.device_class().empty()) news->details.set_device_class(code.device_class());
  if (code.side() != v1::SIDE_UNSPECIFIED) news->details.set_side(code.side());
  if (!code.procedure().empty()) news->details.set_procedure(code.procedure());
}

v1::Side ParseSide(std::string_view text) {
  const std::string lower = Lower(Strip(text));
  if (lower == "l" || lower == "lt" || lower == "left") return v1::SIDE_LEFT;
  if (lower == "r" || lower == "rt" || lower == "right") return v1::SIDE_RIGHT;
  if (lower == "either") return v1::SIDE_EITHER;
  return v1::SIDE_UNSPECIFIED;
}

bool ParseHl7Day(std::string_view text, google::type::Date* day) {
  int year = 0;
  int month = 0;
  int number = 0;
  if (text.size() < 8 || !ShortNumber(text.substr(0, 4), &year) ||
      !ShortNumber(text.substr(4, 2), &month) || !ShortNumber(text.substr(6, 2), &number)) {
    return false;
  }
  day->set_year(year);
  day->set_month(month);
  day->set_day(number);
  return time::IsValid(*day);
}

bool ParseHl7Time(std::string_view text, absl::TimeZone zone, int64_t* us) {
  const size_t sign = text.find_first_of("+-");
  const std::string_view local = text.substr(0, sign);
  google::type::Date day;
  if (!ParseHl7Day(local, &day)) return false;
  std::string iso = time::FormatDay(time::ToDay(day));
  if (local.size() != 8) {
    const std::string_view whole = local.substr(0, local.find('.'));
    if (whole.size() != 10 && whole.size() != 12 && whole.size() != 14) return false;
    if (!AreDigits(whole.substr(8))) return false;
    iso += Cat("T", local.substr(8, 2), ":",
               whole.size() >= 12 ? std::string(local.substr(10, 2)) : "00", ":",
               whole.size() == 14 ? std::string(local.substr(12)) : "00");
  } else if (sign != std::string_view::npos) {
    iso += "T00:00:00";
  }
  if (sign != std::string_view::npos) {
    const std::string_view offset = text.substr(sign);
    if (offset.size() != 5 || !AreDigits(offset.substr(1))) return false;
    iso += Cat(offset.substr(0, 3), ":", offset.substr(3));
  }
  const auto instant = time::ParseInstant(iso, zone);
  if (!instant.ok()) return false;
  *us = *instant;
  return true;
}

}  // namespace ferrule::exchange
