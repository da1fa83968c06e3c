#include "core/ledger/state_cache.h"

#include <algorithm>
#include <mutex>
#include <utility>

#include "absl/strings/string_view.h"
#include "google/protobuf/arena.h"

namespace ferrule::ledger {
namespace {

absl::string_view Key(std::string_view name) { return {name.data(), name.size()}; }

constexpr size_t kSmallestBlock = 1'024;
constexpr size_t kRoomToGrow = 256;

google::protobuf::ArenaOptions BlockOf(size_t bytes) {
  google::protobuf::ArenaOptions options;
  options.start_block_size = std::max(kSmallestBlock, bytes);
  return options;
}

// A state and the arena it lies on.
struct OnArena {
  explicit OnArena(size_t bytes)
      : arena(BlockOf(bytes)),
        state(google::protobuf::Arena::CreateMessage<v1::SubjectState>(&arena)) {}
  google::protobuf::Arena arena;
  v1::SubjectState* const state;
};

}  // namespace

std::shared_ptr<v1::SubjectState> NewState(size_t expected_bytes) {
  auto holder = std::make_shared<OnArena>(expected_bytes);
  v1::SubjectState* state = holder->state;
  return {std::move(holder), state};
}

std::shared_ptr<v1::SubjectState> CopyOf(const v1::SubjectState& state) {
  const google::protobuf::Arena* arena = state.GetArena();
  const size_t used = arena != nullptr ? arena->SpaceUsed() : state.SpaceUsedLong();
  auto copy = NewState(used + kRoomToGrow);
  copy->MergeFrom(state);
  return copy;
}

std::optional<Known> StateCache::Find(std::string_view name) const {
  std::shared_lock lock(mutex_);
  auto it = states_.find(Key(name));
  if (it == states_.end()) return std::nullopt;
  return it->second;
}

uint64_t StateCache::generation() const {
  std::shared_lock lock(mutex_);
  return generation_;
}

void StateCache::PutIfUnchanged(uint64_t generation, std::string_view name, Known known) {
  std::unique_lock lock(mutex_);
  if (generation != generation_) return;
  MakeRoom();
  states_.insert_or_assign(std::string(name), std::move(known));
}

void StateCache::PutCommitted(std::vector<std::pair<std::string, Known>> states) {
  std::unique_lock lock(mutex_);
  ++generation_;
  for (auto& [name, known] : states) {
    MakeRoom();
    states_.insert_or_assign(std::move(name), std::move(known));
  }
}

void StateCache::Drop(const std::vector<std::string>& names) {
  std::unique_lock lock(mutex_);
  ++generation_;
  for (const std::string& name : names) states_.erase(name);
}

void StateCache::Clear() {
  std::unique_lock lock(mutex_);
  ++generation_;
  states_.clear();
}

void StateCache::MakeRoom() {
  if (states_.size() < capacity_) return;
  // Which ones go does not matter: the hash order is as good as random, and a dropped state is one
  // read away. An eighth at a time, so that the search for victims is paid once.
  size_t to_drop = capacity_ / 8 + 1;
  for (auto it = states_.begin(); it != states_.end() && to_drop > 0; --to_drop) {
    states_.erase(it++);
  }
}

}  // namespace ferrule::ledger
