// Fills the catalog's sentences with what a finding says.
//
// A template holds `{key}`: a value of that key; for `unit`, `order`, `part` and `lot` also the
// finding's own subject; `subject`, the subject as people call it ("K-0417", "order R-12");
// `time`, the true time of the fact; `newer.when`, `newer.who`, `older.when`, `older.who`, the
// first and the second piece of evidence. Of what stands in `[...|...]` the first alternative is
// taken in which everything is known, and nothing when there is none; brackets may be nested.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "absl/time/time.h"
#include "ferrule/v1/findings.pb.h"

namespace ferrule::finding {

// The template in words, times local to `zone`. A key outside brackets that is not known reads
// "(not stated)".
std::string Fill(std::string_view sentence, const v1::Finding& finding, absl::TimeZone zone);

// The keys that a template names, in order, repeated ones once.
std::vector<std::string_view> KeysIn(std::string_view sentence);

}  // namespace ferrule::finding
