#include "core/papers/precautions.h"

namespace ferrule::papers {

// Common practice, no source; the depot's own rules and local codes say more.
std::string PrecautionSentence(v1::Precaution precaution) {
  switch (precaution) {
    case v1::PRECAUTION_RING_FIRST:
      return "Ring before you leave for the home.";
    case v1::PRECAUTION_TWO_TOGETHER:
      return "Two go together.";
    case v1::PRECAUTION_GLOVES:
      return "Wear gloves, and what else the depot's rules give against contact.";
    case v1::PRECAUTION_BAG_AT_DOOR:
      return "What comes out goes into a closed bag at the door, before it goes into the van.";
    case v1::PRECAUTION_NO_OUTLET:
      return "Plug nothing in there until somebody licensed has found the outlet safe.";
    case v1::PRECAUTION_STAY_OUTSIDE:
      return "Hand over at the door; nobody goes in.";
    default:
      // Of a later release: better asked than left out.
      return "Another precaution is noted: ask the branch before you go.";
  }
}

}  // namespace ferrule::papers
