#include "core/ledger/anchor.h"

#include <algorithm>
#include <optional>
#include <tuple>

#include "absl/strings/ascii.h"
#include "absl/strings/escaping.h"
#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_split.h"

namespace ferrule::ledger {
namespace {

constexpr size_t kDigestDigits = 64;

absl::string_view View(std::string_view s) { return {s.data(), s.size()}; }

std::optional<Anchor> Read(std::string_view sequence, std::string_view digest) {
  Anchor anchor;
  if (digest.size() != kDigestDigits ||
      !std::all_of(digest.begin(), digest.end(),
                   [](unsigned char c) { return absl::ascii_isxdigit(c); }) ||
      sequence.empty() ||
      !std::all_of(sequence.begin(), sequence.end(),
                   [](unsigned char c) { return absl::ascii_isdigit(c); }) ||
      !absl::SimpleAtoi(View(sequence), &anchor.sequence) || anchor.sequence <= 0) {
    return std::nullopt;
  }
  anchor.digest = absl::HexStringToBytes(View(digest));
  return anchor;
}

// The value of a member of the manifest, which is written by us, one member a line.
std::string_view Member(std::string_view text, std::string_view name) {
  const size_t at = text.find(absl::StrCat("\"", View(name), "\":"));
  if (at == std::string_view::npos) return {};
  const size_t from = text.find_first_not_of(" \"", at + name.size() + 3);
  if (from == std::string_view::npos) return {};
  return text.substr(from, text.find_first_of(",\"\n} ", from) - from);
}

}  // namespace

std::string AnchorText(int64_t sequence, std::string_view digest) {
  return absl::StrCat(sequence, ":", absl::BytesToHexString(View(digest)));
}

absl::StatusOr<std::vector<Anchor>> AnchorsIn(std::string_view text) {
  std::vector<Anchor> anchors;
  for (const absl::string_view word :
       absl::StrSplit(View(text), absl::ByAnyChar(" \t\r\n,;\"'=()[]{}"), absl::SkipEmpty())) {
    const std::string_view w(word.data(), word.size());
    const size_t colon = w.find(':');
    if (colon == std::string_view::npos) continue;
    if (auto anchor = Read(w.substr(0, colon), w.substr(colon + 1))) anchors.push_back(*anchor);
  }
  if (auto head = Read(Member(text, "head_sequence"), Member(text, "head_digest"))) {
    anchors.push_back(*head);
  }
  if (anchors.empty()) {
    return absl::InvalidArgumentError(
        "no anchor was found: give SEQUENCE:DIGEST as ferruled head prints it, or the manifest of "
        "a "
        "backup");
  }
  std::sort(anchors.begin(), anchors.end(), [](const Anchor& a, const Anchor& b) {
    return std::tie(a.sequence, a.digest) < std::tie(b.sequence, b.digest);
  });
  anchors.erase(std::unique(anchors.begin(), anchors.end(),
                            [](const Anchor& a, const Anchor& b) {
                              return a.sequence == b.sequence && a.digest == b.digest;
                            }),
                anchors.end());
  for (size_t i = 1; i < anchors.size(); ++i) {
    if (anchors[i].sequence != anchors[i - 1].sequence) continue;
    return absl::InvalidArgumentError(
        absl::StrCat("position ", anchors[i].sequence,
                     " was noted with two digests: they are not of one ledger, or one was forged"));
  }
  return anchors;
}

}  // namespace ferrule::ledger
