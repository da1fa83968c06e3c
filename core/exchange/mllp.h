// The minimal lower layer protocol: 0x0B, a message, 0x1C 0x0D, over a stream of bytes that comes
// in pieces of any size. Source: docs.rs/hl7-2-mllp, hexdocs.pm/mllp and python3-hl7 agree.
#pragma once

#include <cstddef>
#include <functional>
#include <string>
#include <string_view>

namespace ferrule::exchange {

inline constexpr char kStartBlock = 0x0B;
inline constexpr char kEndBlock = 0x1C;

// The bytes between two messages.
std::string Frame(std::string_view message);

// Finds the messages in a stream. Bytes outside of a frame are skipped and counted. A start block
// inside of a frame begins a new one: the message before it was never finished. A frame longer than
// the most is not kept, only its beginning, so that its sender can still be answered.
class MllpReader {
 public:
  struct Block {
    std::string bytes;  // the message, or its beginning when `too_large`
    bool too_large = false;
    size_t size = 0;  // of the whole message
  };
  // What is kept of a message that is too large.
  static constexpr size_t kKept = 4096;

  explicit MllpReader(size_t most) : most_(most) {}

  void Feed(std::string_view bytes, const std::function<void(Block)>& on_block);
  // Bytes that belonged to no message, and messages that were begun and never ended.
  size_t skipped_bytes() const { return skipped_; }
  size_t unfinished() const { return unfinished_; }
  bool inside() const { return state_ != State::kOutside; }

 private:
  enum class State { kOutside, kInside, kEnding };
  void Begin();
  void Keep(char c);

  const size_t most_;
  State state_ = State::kOutside;
  Block block_;
  size_t skipped_ = 0;
  size_t unfinished_ = 0;
};

}  // namespace ferrule::exchange
