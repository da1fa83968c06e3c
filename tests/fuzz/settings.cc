// Any bytes as a settings file: it is refused with every error in words, or it is whole, and
// written out again it says the same.
#include <cstdint>
#include <cstdlib>
#include <string>
#include <vector>

#include "core/depot/settings_text.h"
#include "google/protobuf/stubs/logging.h"

namespace {

void Check(bool holds) {
  if (!holds) std::abort();
}

}  // namespace

extern "C" int LLVMFuzzerInitialize(int* /*argc*/, char*** /*argv*/) {
  // The library tells of texts that are no UTF-8 on its own; that would be all there is to see.
  google::protobuf::SetLogHandler(nullptr);
  return 0;
}

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  using ferrule::depot::ParseSettings;
  const std::string text(reinterpret_cast<const char*>(data), size);
  std::vector<ferrule::depot::SettingsError> errors;
  const auto settings = ParseSettings(text, &errors);
  Check(settings.ok() == errors.empty());
  for (const auto& error : errors) Check(!error.message.empty());
  if (!settings.ok()) return 0;
  Check(ferrule::depot::ValidateSettings(*settings).empty());
  const auto again = ParseSettings(ferrule::depot::FormatSettings(*settings), &errors);
  Check(again.ok() && again->SerializeAsString() == settings->SerializeAsString());
  return 0;
}
