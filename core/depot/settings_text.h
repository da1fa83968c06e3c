// Settings as text: protobuf text format in, errors by line and field out.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"
#include "ferrule/v1/settings.pb.h"

namespace ferrule::depot {

struct SettingsError {
  int line = 0;         // from 1; 0 when the error has no line
  std::string field;    // "models[2].checklist"
  std::string message;  // what is wrong and what would be right
};

// Parses and validates a whole file. On any error nothing is returned and every error found is in
// `errors`, in the order of lines.
absl::StatusOr<v1::Settings> ParseSettings(std::string_view text,
                                           std::vector<SettingsError>* errors);

// Every error of a version: duplicate ids, references to nothing, unknown zones, limits the wrong
// way round, missing required fields. Lines are 0.
std::vector<SettingsError> ValidateSettings(const v1::Settings& settings);

// The version as text that parses to the same version.
std::string FormatSettings(const v1::Settings& settings);

}  // namespace ferrule::depot
