#include "core/exchange/mllp.h"

#include <algorithm>
#include <utility>

namespace ferrule::exchange {

std::string Frame(std::string_view message) {
  std::string out;
  out.reserve(message.size() + 3);
  out += kStartBlock;
  out += message;
  out += kEndBlock;
  out += '\r';
  return out;
}

void MllpReader::Begin() {
  block_ = {};
  state_ = State::kInside;
}

void MllpReader::Keep(char c) {
  ++block_.size;
  if (block_.size > most_ && !block_.too_large) {
    block_.too_large = true;
    block_.bytes.resize(std::min(block_.bytes.size(), kKept));
    block_.bytes.shrink_to_fit();
  }
  if (!block_.too_large) block_.bytes += c;
}

void MllpReader::Feed(std::string_view bytes, const std::function<void(Block)>& on_block) {
  for (const char c : bytes) {
    switch (state_) {
      case State::kOutside:
        if (c == kStartBlock) {
          Begin();
        } else {
          ++skipped_;
        }
        break;
      case State::kEnding:
        if (c == '\r') {
          state_ = State::kOutside;
          on_block(std::exchange(block_, {}));
          break;
        }
        // The end sign was none: it belongs to the message.
        Keep(kEndBlock);
        state_ = State::kInside;
        [[fallthrough]];
      case State::kInside:
        if (c == kStartBlock) {
          ++unfinished_;
          Begin();
        } else if (c == kEndBlock) {
          state_ = State::kEnding;
        } else {
          Keep(c);
        }
        break;
    }
  }
}

}  // namespace ferrule::exchange
