#include "core/finding/sentence.h"

#include <algorithm>
#include <optional>

#include "absl/strings/str_cat.h"
#include "core/fact/subject.h"
#include "core/time/civil.h"

namespace ferrule::finding {
namespace {

using fact::SubjectKind;

struct Lookup {
  const v1::Finding& finding;
  absl::TimeZone zone;

  std::optional<std::string> Value(std::string_view key) const {
    for (const v1::FindingValue& v : finding.values()) {
      if (v.key() == key && !v.value().empty()) return v.value();
    }
    if (key == "subject") return Called();
    if (key == "time") return When(finding.has_time(), finding.time());
    if (key.substr(0, 6) == "newer.") return OfStamp(0, key.substr(6));
    if (key.substr(0, 6) == "older.") return OfStamp(1, key.substr(6));
    return OwnId(key);
  }

  // The subject as people call it.
  std::optional<std::string> Called() const {
    const absl::StatusOr<fact::Subject> s = fact::ParseSubjectName(finding.subject());
    if (!s.ok()) return std::nullopt;
    const std::string id(s->id);
    switch (s->kind) {
      case SubjectKind::kUnit:
        return id;
      case SubjectKind::kPart:
        return absl::StrCat("part ", id);
      case SubjectKind::kLot:
        return absl::StrCat("lot ", id);
      case SubjectKind::kOrder:
        return absl::StrCat("order ", id);
      case SubjectKind::kSettings:
        return "the settings";
      case SubjectKind::kForecasts:
        return absl::StrCat("the forecasts of ", id);
      case SubjectKind::kTester:
        return absl::StrCat("tester ", id);
      case SubjectKind::kItem:
        return absl::StrCat("item ", id);
      case SubjectKind::kTransfer:
        return absl::StrCat("transfer ", id);
      case SubjectKind::kCount:
        return absl::StrCat("stocktake ", id);
      case SubjectKind::kRecall:
        return absl::StrCat("recall ", id);
      case SubjectKind::kPlace:
        return absl::StrCat("place ", id);
      case SubjectKind::kComplaint:
        return absl::StrCat("complaint ", id);
    }
    return std::nullopt;
  }

  std::optional<std::string> OwnId(std::string_view key) const {
    const absl::StatusOr<fact::Subject> s = fact::ParseSubjectName(finding.subject());
    if (!s.ok()) return std::nullopt;
    const bool own = (key == "unit" && s->kind == SubjectKind::kUnit) ||
                     (key == "order" && s->kind == SubjectKind::kOrder) ||
                     (key == "part" && s->kind == SubjectKind::kPart) ||
                     (key == "lot" && s->kind == SubjectKind::kLot);
    if (!own) return std::nullopt;
    return std::string(s->id);
  }

  std::optional<std::string> OfStamp(int index, std::string_view what) const {
    if (index >= finding.evidence_size()) return std::nullopt;
    const v1::Stamp& stamp = finding.evidence(index);
    if (what == "when") return When(stamp.has_time(), stamp.time());
    if (what == "who" && !stamp.actor().empty()) return stamp.actor();
    return std::nullopt;
  }

  std::optional<std::string> When(bool known, const google::protobuf::Timestamp& t) const {
    if (!known) return std::nullopt;
    return time::FormatLocal(time::ToMicros(t), zone);
  }
};

// Fills templates from the front of `rest`.
class Filler {
 public:
  Filler(const Lookup& lookup, std::string_view rest) : lookup_(lookup), rest_(rest) {}

  bool Done() const { return rest_.empty(); }

  // One run of text up to `|`, `]` or the end, and which of these ended it; false when something
  // named in it is not known.
  bool Run(std::string* out, char* ended_by) {
    bool all_known = true;
    *ended_by = 0;
    while (!rest_.empty()) {
      const char c = rest_.front();
      rest_.remove_prefix(1);
      if (c == ']' || c == '|') {
        *ended_by = c;
        return all_known;
      }
      if (c == '[') {
        Choice(out);
      } else if (c == '{') {
        all_known = Value(out) && all_known;
      } else {
        out->push_back(c);
      }
    }
    return all_known;
  }

 private:
  // The first alternative in which everything is known; nothing when there is none.
  void Choice(std::string* out) {
    bool chosen = false;
    char ended_by = '|';
    while (ended_by == '|') {
      std::string run;
      const bool all_known = Run(&run, &ended_by);
      if (all_known && !chosen) out->append(run);
      chosen = chosen || all_known;
    }
  }

  bool Value(std::string* out) {
    const size_t end = rest_.find('}');
    const std::optional<std::string> value = lookup_.Value(rest_.substr(0, end));
    out->append(value.value_or("(not stated)"));
    rest_.remove_prefix(end == std::string_view::npos ? rest_.size() : end + 1);
    return value.has_value();
  }

  const Lookup& lookup_;
  std::string_view rest_;
};

}  // namespace

std::string Fill(std::string_view sentence, const v1::Finding& finding, absl::TimeZone zone) {
  std::string out;
  const Lookup lookup{finding, zone};
  Filler filler(lookup, sentence);
  char ended_by = 0;
  while (!filler.Done()) filler.Run(&out, &ended_by);
  return out;
}

std::vector<std::string_view> KeysIn(std::string_view sentence) {
  std::vector<std::string_view> keys;
  size_t begin = sentence.find('{');
  while (begin != std::string_view::npos) {
    const size_t end = sentence.find('}', begin);
    if (end == std::string_view::npos) break;
    const std::string_view key = sentence.substr(begin + 1, end - begin - 1);
    if (std::find(keys.begin(), keys.end(), key) == keys.end()) keys.push_back(key);
    begin = sentence.find('{', end);
  }
  return keys;
}

}  // namespace ferrule::finding
