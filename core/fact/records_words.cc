#include "core/fact/records_words.h"

#include <string_view>

#include "core/fact/words.h"

namespace ferrule::fact {

void Add(const v1::BreakdownReported& f, Line* line) {
  line->Word("of", f.unit()).Word("for order", f.order()).Detail("", f.words());
}
void Add(const v1::BreakdownSettled& f, Line* line) {
  line->Word("for order", f.order()).Detail("", BreakdownCureWords(f.cure()));
}
void Add(const v1::ComplaintReceived& f, Line* line) {
  line->Word("", f.complaint()).Word("about", f.subject());
  line->Detail("", ComplaintKindWords(f.kind())).Detail("at", f.branch());
  line->Detail("from", ComplaintSourceWords(f.source())).Detail("", HarmWords(f.harm()));
  line->Detail("", f.words());
}
void Add(const v1::ComplaintAnswered& f, Line* line) {
  line->Word("", f.complaint()).Detail("by", f.how()).Detail("", f.words());
}
void Add(const v1::ComplaintClosed& f, Line* line) {
  line->Word("", f.complaint()).Detail("", ComplaintOutcomeWords(f.outcome()));
  line->Detail("", f.done()).Detail("looked into by", f.investigator());
}
void Add(const v1::RecordsHeld& f, Line* line) {
  line->Word("of order", f.order()).Word("for", f.matter()).Detail("", f.because());
}
void Add(const v1::RecordsReleased& f, Line* line) {
  line->Word("of order", f.order()).Word("from", f.matter()).Detail("", f.because());
}
void Add(const v1::RecordsDisclosed& f, Line* line) {
  line->Word("of order", f.order()).Word("to", f.recipient());
  line->Detail("", f.content()).Detail("for", f.purpose());
}

std::string_view ComplaintKindWords(v1::ComplaintKind value) {
  switch (value) {
    case v1::COMPLAINT_KIND_UNSPECIFIED:
      return "not stated";
    case v1::COMPLAINT_KIND_DEVICE:
      return "device";
    case v1::COMPLAINT_KIND_CLEANLINESS:
      return "cleanliness";
    case v1::COMPLAINT_KIND_VISIT:
      return "visit";
    case v1::COMPLAINT_KIND_TEACHING:
      return "teaching";
    case v1::COMPLAINT_KIND_CONDUCT:
      return "conduct";
    case v1::COMPLAINT_KIND_BILLING:
      return "billing";
    case v1::COMPLAINT_KIND_PRIVACY:
      return "privacy";
    case v1::COMPLAINT_KIND_OTHER:
      return "other";
    default:
      return "other";
  }
}

std::string_view ComplaintSourceWords(v1::ComplaintSource value) {
  switch (value) {
    case v1::COMPLAINT_SOURCE_UNSPECIFIED:
      return "not stated";
    case v1::COMPLAINT_SOURCE_PATIENT:
      return "patient";
    case v1::COMPLAINT_SOURCE_REFERRER:
      return "referrer";
    case v1::COMPLAINT_SOURCE_PAYER:
      return "payer";
    case v1::COMPLAINT_SOURCE_HOSPITAL:
      return "hospital";
    case v1::COMPLAINT_SOURCE_STAFF:
      return "staff";
    case v1::COMPLAINT_SOURCE_OTHER:
      return "other";
    default:
      return "other";
  }
}

std::string_view HarmWords(v1::Harm value) {
  switch (value) {
    case v1::HARM_UNSPECIFIED:
      return "not stated";
    case v1::HARM_NONE:
      return "nobody hurt";
    case v1::HARM_POSSIBLE:
      return "could have hurt somebody";
    case v1::HARM_DONE:
      return "somebody hurt";
    default:
      return "other";
  }
}

std::string_view ComplaintOutcomeWords(v1::ComplaintOutcome value) {
  switch (value) {
    case v1::COMPLAINT_OUTCOME_UNSPECIFIED:
      return "not stated";
    case v1::COMPLAINT_OUTCOME_UPHELD:
      return "upheld";
    case v1::COMPLAINT_OUTCOME_PARTLY_UPHELD:
      return "partly upheld";
    case v1::COMPLAINT_OUTCOME_NOT_UPHELD:
      return "not upheld";
    case v1::COMPLAINT_OUTCOME_WITHDRAWN:
      return "withdrawn";
    default:
      return "other";
  }
}

std::string_view BreakdownCureWords(v1::BreakdownCure value) {
  switch (value) {
    case v1::BREAKDOWN_CURE_UNSPECIFIED:
      return "not stated";
    case v1::BREAKDOWN_CURE_BY_TELEPHONE:
      return "by telephone";
    case v1::BREAKDOWN_CURE_IN_THE_HOME:
      return "in the home";
    case v1::BREAKDOWN_CURE_BY_ITSELF:
      return "by itself";
    case v1::BREAKDOWN_CURE_NOT_NEEDED:
      return "not needed any more";
    default:
      return "other";
  }
}

std::string_view RecordKindWords(v1::RecordKind value) {
  switch (value) {
    case v1::RECORD_KIND_UNSPECIFIED:
      return "not stated";
    case v1::RECORD_KIND_PATIENT:
      return "patient's particulars";
    case v1::RECORD_KIND_MESSAGE:
      return "message";
    case v1::RECORD_KIND_RENTAL_PAPERS:
      return "papers of a rental";
    case v1::RECORD_KIND_COMPLAINT_PAPERS:
      return "papers of a complaint";
    default:
      return "other";
  }
}

std::string_view RetentionAnchorWords(v1::RetentionAnchor value) {
  switch (value) {
    case v1::RETENTION_ANCHOR_UNSPECIFIED:
      return "not stated";
    case v1::RETENTION_ANCHOR_RECEIVED:
      return "day received";
    case v1::RETENTION_ANCHOR_DELIVERED:
      return "hand-over";
    case v1::RETENTION_ANCHOR_ENDED:
      return "end of the rental";
    case v1::RETENTION_ANCHOR_BILLED:
      return "last day billed";
    case v1::RETENTION_ANCHOR_CLOSED:
      return "closing of the complaint";
    default:
      return "other";
  }
}

}  // namespace ferrule::fact
