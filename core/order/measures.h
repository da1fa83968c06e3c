// A patient's measures: converted, put into words, and questioned when they look like a slip of the
// unit of measure.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/depot/settings_book.h"
#include "ferrule/v1/findings.pb.h"
#include "ferrule/v1/fit.pb.h"

namespace ferrule::order {

// Millimetres, rounded to the nearest; an inch is 25.4 mm (by definition since 1959, from memory).
int64_t ToMillimetres(const v1::Length& length);
// Grams, rounded to the nearest; a pound is 453.59237 g (as above).
int64_t ToGrams(const v1::Weight& weight);

// "32 cm", "12.6 in", "81.5 kg", "180 lb": as it was given.
std::string Words(const v1::Length& length);
std::string Words(const v1::Weight& weight);
// "81.3 cm", "95.2 kg": in the unit of measure of the ranges.
std::string CentimetreWords(int64_t mm);
std::string KilogramWords(int64_t g);

// One of the measures that were taken.
struct Measure {
  v1::MeasureKind kind;
  std::string words;  // as given
  int64_t size;       // millimetres, or grams for a weight
};

// Those that were taken, in the order of v1::MeasureKind.
std::vector<Measure> MeasuresTaken(const v1::PatientMeasures& measures);
// "thigh", "shank", "leg length", "upper arm", "girth", "weight", "seat height", "doorway".
std::string_view MeasureWords(v1::MeasureKind kind);
// The whole leg: as measured, else thigh and shank together; none when neither is known.
std::optional<int64_t> LegMillimetres(const v1::PatientMeasures& measures);

// MEASURE_IMPLAUSIBLE for each measure outside the band that the settings give for its kind; with
// what it would be in the other unit of measure when that lies inside, so that a leg of 32 cm is
// asked about as 32 inches. Without a band nothing is asked.
std::vector<v1::Finding> QuestionableMeasures(const v1::PatientMeasures& measures,
                                              const depot::Rules& rules);

}  // namespace ferrule::order
