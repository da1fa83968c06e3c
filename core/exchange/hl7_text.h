// Character sets of HL7 v2 messages (table 0211), and what an acknowledgement says.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"
#include "core/exchange/hl7.h"
#include "ferrule/v1/intake.pb.h"
#include "ferrule/v1/settings.pb.h"

namespace ferrule::exchange {

// The message in UTF-8. MSH-18 says what it is in; without it `otherwise` (empty: UTF-8). Taken
// are ASCII, 8859/1, 8859/15 and UNICODE UTF-8. The trouble names MSH-18, or the byte that does not
// belong to the set.
struct Hl7Text {
  std::string utf8;
  std::vector<v1::Trouble> troubles;
};
Hl7Text ToUtf8(std::string_view bytes, std::string_view otherwise);

// What the beginning of a message says about itself, as far as it can be read: enough to answer it.
// `known` is false without an MSH segment.
struct Hl7Header {
  bool known = false;
  Delimiters delimiters;
  Hl7Segment msh;

  // Enhanced mode: MSH-15 or MSH-16 says when an answer is wanted (AL, ER, SU, NE; table 0155).
  bool enhanced() const;
  bool WantsAccept(bool good) const;
  bool WantsApplication(bool good) const;
};
Hl7Header ReadHl7Header(std::string_view bytes);

// What keeps a message of this type, event, version or processing id from being taken at all.
std::vector<v1::Trouble> CheckHl7Header(const Hl7Header& header);

// What is answered to a message.
struct Hl7Answer {
  enum class Mode { kOriginal, kAccept, kApplication };
  Mode mode = Mode::kOriginal;
  v1::MessageState state = v1::MESSAGE_STATE_APPLIED;
  std::vector<v1::Trouble> troubles;
  std::string control_id;  // the answer's own
  int64_t now_us = 0;
  // With an order response instead of a plain ACK: the sender's numbers with the depot's.
  bool order_response = false;
  std::vector<std::pair<std::string, std::string>> orders;
};

// AA, AE or AR (CA, CE, CR in accept mode): AA also for a message that waits, which is safe with
// the depot; AR for what has nothing to do with the content.
std::string_view AnswerCode(const Hl7Answer& answer);

// The acknowledgement: MSH with the parties turned round, MSA, and an ERR segment a trouble that
// names the field. With the message's own delimiters.
std::string ComposeAnswer(const Hl7Header& header, const Hl7Answer& answer);

}  // namespace ferrule::exchange
