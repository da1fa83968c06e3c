// Flags of an order about fit and progression: the patient's measures with their unit of measure,
// the place of use, and how limits go on from day to day. Nothing is filled in that was not typed.
#pragma once

#include <vector>

#include "absl/status/statusor.h"
#include "cli/command.h"
#include "cli/values.h"
#include "ferrule/v1/facts.pb.h"

namespace ferrule::cli {

void AddFitFlags(std::vector<Flag>* flags);
// Only what was given is set.
void ReadFit(const Line& line, Values& values, v1::OrderDetails* details);

// "42cm", "16.5 in", "42.5": a length with its unit of measure; centimetres where none is typed.
absl::StatusOr<v1::Length> ParseLength(const std::string& text);
// "81kg", "180 lb": kilograms where none is typed.
absl::StatusOr<v1::Weight> ParseWeight(const std::string& text);

}  // namespace ferrule::cli
