#include "cli/fit_flags.h"

#include <algorithm>
#include <cmath>
#include <string_view>
#include <utility>

#include "absl/strings/str_cat.h"
#include "cli/line.h"
#include "core/time/civil.h"

namespace ferrule::cli {
namespace {

struct Typed {
  int32_t hundredths = 0;
  std::string unit;
};

absl::StatusOr<Typed> TakeApart(const std::string& text, const char* example) {
  const size_t end = text.find_first_not_of("0123456789.,");
  std::string number = text.substr(0, end);
  for (char& c : number) c = c == ',' ? '.' : c;
  const absl::StatusOr<double> value = ParseNumber(number);
  if (!value.ok() || !(*value > 0) || *value > 10'000) {
    return absl::InvalidArgumentError(
        absl::StrCat("\"", text, "\" is no measure; write a number and its unit, as in ", example));
  }
  Typed typed;
  typed.hundredths = static_cast<int32_t>(std::lround(*value * 100));
  if (end != std::string::npos) {
    const size_t from = text.find_first_not_of(' ', end);
    if (from != std::string::npos) typed.unit = text.substr(from);
  }
  return typed;
}

template <typename Measure>
void ReadMeasure(const Line& line, Values& values, std::string_view flag,
                 absl::StatusOr<Measure> (*parse)(const std::string&),
                 Measure* (*field)(v1::PatientMeasures*), v1::OrderDetails* details) {
  const std::optional<std::string> text = line.Get(flag);
  if (!text.has_value()) return;
  absl::StatusOr<Measure> measure = parse(*text);
  if (!measure.ok()) return values.Fail(flag, measure.status());
  *field(details->mutable_measures()) = *std::move(measure);
}

struct LengthFlag {
  std::string_view flag;
  v1::Length* (*field)(v1::PatientMeasures*);
};
constexpr LengthFlag kLengths[] = {
    {"--thigh", [](v1::PatientMeasures* m) { return m->mutable_thigh(); }},
    {"--shank", [](v1::PatientMeasures* m) { return m->mutable_shank(); }},
    {"--leg", [](v1::PatientMeasures* m) { return m->mutable_leg(); }},
    {"--upper-arm", [](v1::PatientMeasures* m) { return m->mutable_upper_arm(); }},
    {"--girth", [](v1::PatientMeasures* m) { return m->mutable_girth(); }},
    {"--seat-height", [](v1::PatientMeasures* m) { return m->mutable_seat_height(); }},
    {"--doorway", [](v1::PatientMeasures* m) { return m->mutable_doorway(); }},
};

void ReadProgression(const Line& line, Values& values, v1::OrderDetails* details) {
  v1::MotionProgression given;
  IfGiven(values.Number("--start-extension"), [&](double v) { given.set_start_extension_deg(v); });
  IfGiven(values.Number("--start-flexion"), [&](double v) { given.set_start_flexion_deg(v); });
  IfGiven(values.Number("--step-extension"), [&](double v) { given.set_extension_step_deg(v); });
  IfGiven(values.Number("--step-flexion"), [&](double v) { given.set_flexion_step_deg(v); });
  IfGiven(values.Whole("--first-step-day"), [&](int64_t v) {
    given.set_first_step_day(static_cast<int32_t>(std::clamp<int64_t>(v, -1, INT32_MAX)));
  });
  const std::optional<std::string> from = line.Get("--progression-from");
  if (from.has_value()) {
    if (const auto anchor = values.OneOf<v1::ProgressionAnchor>("--progression-from")) {
      given.set_anchor(*anchor);
    }
  }
  IfGiven(values.Day("--progression-day"), [&](const google::type::Date& v) {
    given.set_anchor(v1::PROGRESSION_ANCHOR_DATE);
    *given.mutable_anchor_date() = v;
  });
  if (given.ByteSizeLong() != 0) *details->mutable_progression() = given;
}

}  // namespace

absl::StatusOr<v1::Length> ParseLength(const std::string& text) {
  const absl::StatusOr<Typed> typed = TakeApart(text, "42cm or 16.5in");
  if (!typed.ok()) return typed.status();
  v1::Length length;
  length.set_hundredths(typed->hundredths);
  if (typed->unit.empty() || typed->unit == "cm") {
    length.set_measured_in(v1::LENGTH_UNIT_CM);
  } else if (typed->unit == "in" || typed->unit == "inch" || typed->unit == "\"") {
    length.set_measured_in(v1::LENGTH_UNIT_INCH);
  } else {
    return absl::InvalidArgumentError(
        absl::StrCat("\"", typed->unit, "\" is no unit of length here; write cm or in"));
  }
  return length;
}

absl::StatusOr<v1::Weight> ParseWeight(const std::string& text) {
  const absl::StatusOr<Typed> typed = TakeApart(text, "81kg or 180lb");
  if (!typed.ok()) return typed.status();
  v1::Weight weight;
  weight.set_hundredths(typed->hundredths);
  if (typed->unit.empty() || typed->unit == "kg") {
    weight.set_measured_in(v1::WEIGHT_UNIT_KG);
  } else if (typed->unit == "lb" || typed->unit == "lbs") {
    weight.set_measured_in(v1::WEIGHT_UNIT_POUND);
  } else {
    return absl::InvalidArgumentError(
        absl::StrCat("\"", typed->unit, "\" is no unit of weight here; write kg or lb"));
  }
  return weight;
}

void AddFitFlags(std::vector<Flag>* flags) {
  flags->insert(
      flags->end(),
      {{"--thigh", "LENGTH", "hip joint to the joint line of the knee: 42cm or 16.5in"},
       {"--shank", "LENGTH", "joint line of the knee to the sole"},
       {"--leg", "LENGTH", "whole leg, where thigh and shank were not measured apart"},
       {"--upper-arm", "LENGTH", "shoulder to elbow"},
       {"--girth", "LENGTH", "girth of thigh or upper arm at its thickest"},
       {"--weight", "WEIGHT", "body weight: 81kg or 180lb"},
       {"--seat-height", "LENGTH", "seat height at which both feet rest on the floor"},
       {"--doorway", "LENGTH", "narrowest doorway on the way to the place of use"},
       {"--foot", "WORD", "how the foot stands", false, "straight in out"},
       {"--foot-not-at-right-angle", "", "the foot cannot be held at a right angle"},
       {"--side-note", "TEXT", "what else is to be minded on this side; never particulars"},
       {"--mains", "VOLTS", "mains voltage at the place of use; default the branch's"},
       {"--model", "MODEL", "model that the prescriber asks for by name"},
       {"--progression-from", "WORD", "what day 0 of the progression is, by the order", false,
        "surgery discharge hand-over"},
       {"--progression-day", "DAY", "day 0 of the progression, where the order names a day"},
       {"--first-step-day", "N", "first day on which the limits grow; default 1"},
       {"--start-extension", "DEG", "extension limit at the start, by the order"},
       {"--start-flexion", "DEG", "flexion limit at the start, by the order"},
       {"--step-extension", "DEG", "degrees a day by which the extension limit goes down"},
       {"--step-flexion", "DEG", "degrees a day by which the flexion limit goes up"}});
}

void ReadFit(const Line& line, Values& values, v1::OrderDetails* details) {
  for (const LengthFlag& row : kLengths) {
    ReadMeasure(line, values, row.flag, &ParseLength, row.field, details);
  }
  v1::Weight* (*const weight)(v1::PatientMeasures*) = [](v1::PatientMeasures* m) {
    return m->mutable_weight();
  };
  ReadMeasure(line, values, "--weight", &ParseWeight, weight, details);
  IfGiven(values.OneOf<v1::FootTurn>("--foot"),
          [&](v1::FootTurn v) { details->mutable_measures()->set_foot_turn(v); });
  if (line.Has("--foot-not-at-right-angle")) {
    details->mutable_measures()->set_foot_not_at_right_angle(true);
  }
  IfGiven(line.Get("--side-note"),
          [&](const std::string& v) { details->mutable_measures()->set_side_note(v); });
  IfGiven(values.Whole("--mains"), [&](int64_t v) {
    details->set_mains_voltage_v(static_cast<int32_t>(std::clamp<int64_t>(v, -1, INT32_MAX)));
  });
  IfGiven(line.Get("--model"), [&](const std::string& v) { details->set_model(v); });
  ReadProgression(line, values, details);
}

}  // namespace ferrule::cli
