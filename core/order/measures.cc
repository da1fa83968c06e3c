#include "core/order/measures.h"

#include <cmath>

#include "absl/strings/str_cat.h"

namespace ferrule::order {
namespace {

constexpr double kMillimetresPerInch = 25.4;
constexpr double kGramsPerPound = 453.59237;
constexpr double kHundredths = 100;

void AddValue(std::string_view key, std::string value, v1::Finding* finding) {
  v1::FindingValue* v = finding->add_values();
  v->set_key(std::string(key));
  v->set_value(std::move(value));
}

std::string Tenths(int64_t whole, int64_t per_unit, const char* unit) {
  const double tenths = std::round(static_cast<double>(whole) * 10 / static_cast<double>(per_unit));
  return absl::StrCat(tenths / 10, " ", unit);
}

// The same figure read in the other unit of measure.
Measure Otherwise(v1::MeasureKind kind, v1::Length length) {
  const bool inches = length.measured_in() == v1::LENGTH_UNIT_INCH;
  length.set_measured_in(inches ? v1::LENGTH_UNIT_CM : v1::LENGTH_UNIT_INCH);
  return {kind, Words(length), ToMillimetres(length)};
}
Measure Otherwise(v1::MeasureKind kind, v1::Weight weight) {
  const bool pounds = weight.measured_in() == v1::WEIGHT_UNIT_POUND;
  weight.set_measured_in(pounds ? v1::WEIGHT_UNIT_KG : v1::WEIGHT_UNIT_POUND);
  return {kind, Words(weight), ToGrams(weight)};
}

const v1::MeasureBand* FindBand(v1::MeasureKind kind, const depot::Rules& rules) {
  for (const v1::MeasureBand& band : rules.settings().measure_bands()) {
    if (band.kind() == kind) return &band;
  }
  return nullptr;
}

bool Inside(const v1::MeasureBand& band, const Measure& m) {
  const bool weight = m.kind == v1::MEASURE_KIND_WEIGHT;
  const int64_t least = weight ? band.min_g() : band.min_mm();
  const int64_t most = weight ? band.max_g() : band.max_mm();
  return m.size >= least && (most == 0 || m.size <= most);
}

std::string BandWords(const v1::MeasureBand& band) {
  if (band.kind() == v1::MEASURE_KIND_WEIGHT) {
    return absl::StrCat(KilogramWords(band.min_g()), " to ", KilogramWords(band.max_g()));
  }
  return absl::StrCat(CentimetreWords(band.min_mm()), " to ", CentimetreWords(band.max_mm()));
}

void Question(const Measure& given, const Measure& otherwise, const depot::Rules& rules,
              std::vector<v1::Finding>* out) {
  const v1::MeasureBand* band = FindBand(given.kind, rules);
  if (band == nullptr || Inside(*band, given)) return;
  v1::Finding& finding = out->emplace_back();
  finding.set_reason(v1::REASON_MEASURE_IMPLAUSIBLE);
  AddValue("item", std::string(MeasureWords(given.kind)), &finding);
  AddValue("found", given.words, &finding);
  AddValue("limit", BandWords(*band), &finding);
  if (Inside(*band, otherwise)) AddValue("expected", otherwise.words, &finding);
}

// Calls `use(kind, length or weight)` for each measure taken, in the order of the kinds.
template <typename Use>
void ForEachTaken(const v1::PatientMeasures& m, Use use) {
  if (m.has_thigh()) use(v1::MEASURE_KIND_THIGH, m.thigh());
  if (m.has_shank()) use(v1::MEASURE_KIND_SHANK, m.shank());
  if (m.has_leg()) use(v1::MEASURE_KIND_LEG, m.leg());
  if (m.has_upper_arm()) use(v1::MEASURE_KIND_UPPER_ARM, m.upper_arm());
  if (m.has_girth()) use(v1::MEASURE_KIND_GIRTH, m.girth());
  if (m.has_weight()) use(v1::MEASURE_KIND_WEIGHT, m.weight());
  if (m.has_seat_height()) use(v1::MEASURE_KIND_SEAT_HEIGHT, m.seat_height());
  if (m.has_doorway()) use(v1::MEASURE_KIND_DOORWAY, m.doorway());
}

Measure Given(v1::MeasureKind kind, const v1::Length& length) {
  return {kind, Words(length), ToMillimetres(length)};
}
Measure Given(v1::MeasureKind kind, const v1::Weight& weight) {
  return {kind, Words(weight), ToGrams(weight)};
}

}  // namespace

int64_t ToMillimetres(const v1::Length& length) {
  const double per_unit = length.measured_in() == v1::LENGTH_UNIT_INCH ? kMillimetresPerInch : 10;
  return std::llround(length.hundredths() * per_unit / kHundredths);
}

int64_t ToGrams(const v1::Weight& weight) {
  const double per_unit = weight.measured_in() == v1::WEIGHT_UNIT_POUND ? kGramsPerPound : 1000;
  return std::llround(weight.hundredths() * per_unit / kHundredths);
}

std::string Words(const v1::Length& length) {
  return absl::StrCat(length.hundredths() / kHundredths,
                      length.measured_in() == v1::LENGTH_UNIT_INCH ? " in" : " cm");
}

std::string Words(const v1::Weight& weight) {
  return absl::StrCat(weight.hundredths() / kHundredths,
                      weight.measured_in() == v1::WEIGHT_UNIT_POUND ? " lb" : " kg");
}

std::string CentimetreWords(int64_t mm) { return Tenths(mm, 10, "cm"); }
std::string KilogramWords(int64_t g) { return Tenths(g, 1000, "kg"); }

std::vector<Measure> MeasuresTaken(const v1::PatientMeasures& measures) {
  std::vector<Measure> taken;
  ForEachTaken(measures,
               [&](v1::MeasureKind kind, const auto& m) { taken.push_back(Given(kind, m)); });
  return taken;
}

std::string_view MeasureWords(v1::MeasureKind kind) {
  switch (kind) {
    case v1::MEASURE_KIND_THIGH:
      return "thigh";
    case v1::MEASURE_KIND_SHANK:
      return "shank";
    case v1::MEASURE_KIND_LEG:
      return "leg length";
    case v1::MEASURE_KIND_UPPER_ARM:
      return "upper arm";
    case v1::MEASURE_KIND_GIRTH:
      return "girth";
    case v1::MEASURE_KIND_WEIGHT:
      return "weight";
    case v1::MEASURE_KIND_SEAT_HEIGHT:
      return "seat height";
    case v1::MEASURE_KIND_DOORWAY:
      return "doorway";
    default:
      return "other measure";
  }
}

std::optional<int64_t> LegMillimetres(const v1::PatientMeasures& measures) {
  if (measures.has_leg()) return ToMillimetres(measures.leg());
  if (!measures.has_thigh() || !measures.has_shank()) return std::nullopt;
  return ToMillimetres(measures.thigh()) + ToMillimetres(measures.shank());
}

std::vector<v1::Finding> QuestionableMeasures(const v1::PatientMeasures& measures,
                                              const depot::Rules& rules) {
  std::vector<v1::Finding> out;
  ForEachTaken(measures, [&](v1::MeasureKind kind, const auto& m) {
    Question(Given(kind, m), Otherwise(kind, m), rules, &out);
  });
  return out;
}

}  // namespace ferrule::order
