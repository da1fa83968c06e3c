// Any bytes as an HL7 message: refused in words, or composed again into a message that says the
// same; read as an order; answered with something that is a message itself.
#include "core/exchange/hl7.h"

#include <cstdint>
#include <cstdlib>
#include <string_view>

#include "core/exchange/hl7_text.h"
#include "core/exchange/news.h"

namespace {

using namespace ferrule::exchange;  // a program of one file

void Check(bool holds) {
  if (!holds) std::abort();
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  const auto message = ParseHl7(text);
  if (message.ok()) {
    const std::string composed = ComposeHl7(*message);
    const auto again = ParseHl7(composed);
    Check(again.ok());
    Check(ComposeHl7(*again) == composed);
  }
  const Hl7Header header = ReadHl7Header(text);
  Hl7Answer answer;
  answer.state = ferrule::v1::MESSAGE_STATE_REJECTED;
  answer.troubles = CheckHl7Header(header);
  answer.order_response = size % 2 == 0;
  answer.orders = {{"a", "b"}};
  Check(ParseHl7(ComposeAnswer(header, answer)).ok());
  ferrule::v1::Sender sender;
  sender.set_id("s");
  ferrule::v1::CodeMapping& code = *sender.add_codes();
  code.set_code("E");
  code.set_item(static_cast<ferrule::v1::IntakeItem>(size % 12));
  const Hl7Text utf8 = ToUtf8(text, size % 3 == 0 ? "8859/15" : "");
  ReadHl7(utf8.utf8, {&sender, absl::UTCTimeZone()});
  return 0;
}
