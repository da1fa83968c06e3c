// Any bytes as FHIR: checked and read without harm, whatever they are.
#include <cstdint>
#include <string_view>

#include "core/exchange/fhir_check.h"
#include "core/exchange/news.h"

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  using namespace ferrule::exchange;  // a program of one file
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  ferrule::v1::Sender sender;
  sender.set_id("s");
  ferrule::v1::CodeMapping& code = *sender.add_codes();
  code.set_code("E0935");
  code.set_device_class("knee");
  ReadFhir(text, {&sender, absl::UTCTimeZone()});
  const Json json = ParseJson(text);
  if (!json.is_discarded()) CheckFhir(json, "R");
  return 0;
}
