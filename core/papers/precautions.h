// Precautions on papers: what whoever goes to a home does there, and never what was seen.
#pragma once

#include <string>

#include "ferrule/v1/home.pb.h"

namespace ferrule::papers {

// What to do, as a sentence: "Two go together."
std::string PrecautionSentence(v1::Precaution precaution);

}  // namespace ferrule::papers
