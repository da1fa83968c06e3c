#include "core/depot/retention_check.h"

#include <string>

#include "absl/strings/str_cat.h"
#include "core/fact/words.h"

namespace ferrule::depot {
namespace {

constexpr int kMostMonths = 1'200;
constexpr size_t kLongestSource = 200;

// Papers of a complaint have the complaint's days, all others those of rentals; a message also has
// the day on which it came.
bool Fits(v1::RecordKind kind, v1::RetentionAnchor anchor) {
  switch (anchor) {
    case v1::RETENTION_ANCHOR_RECEIVED:
      return kind == v1::RECORD_KIND_MESSAGE || kind == v1::RECORD_KIND_COMPLAINT_PAPERS;
    case v1::RETENTION_ANCHOR_CLOSED:
      return kind == v1::RECORD_KIND_COMPLAINT_PAPERS;
    default:
      return kind != v1::RECORD_KIND_COMPLAINT_PAPERS;
  }
}

void CheckRule(const std::string& path, const v1::RetentionRule& rule,
               std::vector<SettingsError>* errors) {
  const auto wrong = [&](const char* field, std::string message) {
    errors->push_back({0, absl::StrCat(path, field), std::move(message)});
  };
  const bool kind_known =
      rule.kind() != v1::RECORD_KIND_UNSPECIFIED && v1::RecordKind_IsValid(rule.kind());
  const bool anchor_known = rule.anchor() != v1::RETENTION_ANCHOR_UNSPECIFIED &&
                            v1::RetentionAnchor_IsValid(rule.anchor());
  if (!kind_known) wrong(".kind", "is missing: give for instance RECORD_KIND_PATIENT");
  if (!anchor_known) wrong(".anchor", "is missing: give for instance RETENTION_ANCHOR_ENDED");
  if (kind_known && anchor_known && !Fits(rule.kind(), rule.anchor())) {
    wrong(".anchor",
          absl::StrCat("is a day that the ", std::string(fact::RecordKindWords(rule.kind())),
                       " never has: give another"));
  }
  if (rule.month_count() < 1 || rule.month_count() > kMostMonths) {
    wrong(".month_count",
          absl::StrCat("is ", rule.month_count(), ": give 1 to ", kMostMonths, " months"));
  }
  if (rule.source().empty() || rule.source().size() > kLongestSource) {
    wrong(".source", absl::StrCat("has ", rule.source().size(), " characters: say in 1 to ",
                                  kLongestSource, " where the figure comes from"));
  }
}

}  // namespace

void CheckRetention(const v1::Settings& settings, std::vector<SettingsError>* errors) {
  for (int i = 0; i < settings.retention_rules_size(); ++i) {
    CheckRule(absl::StrCat("retention_rules[", i, "]"), settings.retention_rules(i), errors);
  }
}

}  // namespace ferrule::depot
