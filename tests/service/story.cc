#include "tests/service/story.h"

#include <stdexcept>

#include "absl/strings/ascii.h"
#include "absl/strings/str_cat.h"
#include "core/finding/catalog.h"
#include "core/time/civil.h"
#include "google/protobuf/text_format.h"
#include "tests/support/folded_depot.h"

namespace ferrule::testing {
namespace {

constexpr char kCover[] = R"(
    procedures { id: '27447' display_name: 'knee replacement' joint: 'knee' }
    procedures { id: 'partial' display_name: 'partial knee replacement' joint: 'knee' }
    procedures { id: 'left-knee' joint: 'knee' side: SIDE_LEFT }
    procedures { id: 'shoulder-repair' joint: 'shoulder' }
    payer_terms { id: 'federal'
      rules { device_classes: 'knee' procedures: 'partial' not_covered: true }
      rules { device_classes: 'knee' home_only: true amount_minor: 2500 early_delivery_days: 2
        billing_code: 'E0935' modifiers: 'RR' left_modifier: 'LT' right_modifier: 'RT'
        needs: BILLING_NEED_PROCEDURE needs: BILLING_NEED_SURGERY_DATE
        needs: BILLING_NEED_APPLICATION_DATE needs: BILLING_NEED_DISCHARGE_DATE
        needs: BILLING_NEED_WRITTEN_ORDER needs: BILLING_NEED_DELIVERY_SIGNATURE
        readings { id: 'surgery-is-day-0' anchor: COVER_ANCHOR_SURGERY length_days: 21
          start { anchor: COVER_ANCHOR_SURGERY measure: WINDOW_MEASURE_CALENDAR_DAYS most: 2 } }
        readings { id: 'surgery-is-day-1' anchor: COVER_ANCHOR_SURGERY anchor_day_number: 1
          length_days: 21
          start { anchor: COVER_ANCHOR_SURGERY measure: WINDOW_MEASURE_CALENDAR_DAYS most: 2 } }
        readings { id: 'discharge-is-day-1' anchor: COVER_ANCHOR_DISCHARGE anchor_day_number: 1
          length_days: 21
          start { anchor: COVER_ANCHOR_SURGERY measure: WINDOW_MEASURE_CALENDAR_DAYS most: 2 } } } }
    payer_terms { id: 'strict'
      rules { needs_authorisation: true amount_minor: 3000
        readings { id: 'days' anchor: COVER_ANCHOR_SURGERY length_days: 60 } } }
    payer_terms { id: 'private'
      rules { amount_minor: 4000 readings { id: 'every-day' anchor: COVER_ANCHOR_HAND_OVER } } }
    payer_terms { id: 'monthly'
      rules { billing_unit: BILLING_UNIT_MONTH amount_minor: 12000 interruption_days: 60
        readings { id: 'months' anchor: COVER_ANCHOR_HAND_OVER } } }
)";

std::string WithJoints(std::string settings) {
  for (const char* joint : {"knee", "shoulder"}) {
    const std::string from = absl::StrCat("device_classes { id: '", joint, "'");
    const size_t at = settings.find(from);
    if (at == std::string::npos) throw std::invalid_argument(from);
    settings.insert(at + from.size(), absl::StrCat(" joint: '", joint, "'"));
  }
  return settings;
}

template <typename Request>
void KnownAt(const Story& story, const std::string& known_at, Request* request) {
  if (!known_at.empty()) time::SetMicros(story.Us(known_at), request->mutable_known_time());
}

}  // namespace

std::string StorySettings() { return WithJoints(FoldSettings()) + kCover; }

Story::Story() : channel_(depot_.Channel(Transport::kTcp)) {
  ledger_ = v1::LedgerService::NewStub(channel_);
  answers_ = v1::DepotService::NewStub(channel_);
  cover_ = v1::CoverService::NewStub(channel_);
  Tell("2026-01-01 00:00", absl::StrCat("settings_put { settings {", StorySettings(),
                                        "} from_time { seconds: 1735689600 } }"));  // 2025-01-01
}

int64_t Story::Us(const std::string& at) const {
  return time::ParseInstant(at, time::Zone("Europe/Berlin").value()).value();
}

void Story::Now(const std::string& at) { depot_.clock().Set(Us(at)); }

v1::Entry Story::EntryOf(const std::string& at, const std::vector<std::string>& facts,
                         v1::EntryMode mode) {
  v1::Entry entry;
  entry.set_entry_id(absl::StrCat("story-", 1000 + entries_++));
  entry.set_actor("clerk-cy");
  entry.set_channel("test");
  entry.set_mode(mode);
  for (const std::string& fact : facts) AddFact(Us(at), fact, &entry);
  return entry;
}

grpc::Status Story::Record(const v1::Entry& entry, v1::Receipt* receipt) {
  v1::RecordRequest request;
  *request.mutable_entry() = entry;
  v1::RecordResponse response;
  grpc::ClientContext context;
  const grpc::Status status = ledger_->Record(&context, request, &response);
  *receipt = response.receipt();
  return status;
}

v1::Receipt Story::MustRecord(const v1::Entry& entry) {
  v1::Receipt receipt;
  const grpc::Status status = Record(entry, &receipt);
  EXPECT_TRUE(status.ok()) << entry.ShortDebugString() << "\n" << status.error_message();
  return receipt;
}

v1::Receipt Story::Tell(const std::string& at, const std::string& fact) {
  return Tell(at, std::vector<std::string>{fact});
}

v1::Receipt Story::Tell(const std::string& at, const std::vector<std::string>& facts) {
  Now(at);
  return MustRecord(EntryOf(at, facts, v1::ENTRY_MODE_ENFORCED));
}

v1::Receipt Story::Observe(const std::string& at, const std::string& fact) {
  Now(at);
  return MustRecord(EntryOf(at, {fact}, v1::ENTRY_MODE_OBSERVED));
}

v1::Receipt Story::TellLate(const std::string& at, const std::string& known,
                            const std::string& fact, bool observed) {
  Now(known);
  return MustRecord(
      EntryOf(at, {fact}, observed ? v1::ENTRY_MODE_OBSERVED : v1::ENTRY_MODE_ENFORCED));
}

std::vector<std::string> Story::Refused(const std::string& at, const std::string& fact) {
  return Refused(at, std::vector<std::string>{fact});
}

std::vector<std::string> Story::Refused(const std::string& at,
                                        const std::vector<std::string>& facts) {
  Now(at);
  v1::Receipt receipt;
  const grpc::Status status = Record(EntryOf(at, facts, v1::ENTRY_MODE_ENFORCED), &receipt);
  std::vector<std::string> reasons;
  if (status.ok()) return reasons;
  const Details details = DetailsOf(status);
  for (const v1::Finding& finding : details.refusal.findings()) {
    EXPECT_FALSE(finding.remedy().empty());
    reasons.emplace_back(finding::ReasonString(finding.reason()));
  }
  return reasons;
}

void Story::ReadyKnee(const std::string& unit, const std::string& side) {
  const auto fact = [&](const std::string& at, const std::string& text) { Tell(at, text); };
  fact("2026-05-01 08:00",
       absl::StrCat("unit_received { unit: '", unit, "' model: 'knee-a' place: 'dock' side: ", side,
                    " parts { part: 'PEN-", unit, "' position: 'pendant' } }"));
  const int64_t wet_s = Us("2026-05-01 08:10") / 1'000'000;
  fact("2026-05-01 08:20", absl::StrCat("cleaning_finished { unit: '", unit,
                                        "' product: 'wipe' wet_from_time { seconds: ", wet_s,
                                        " } wet_to_time { seconds: ", wet_s + 120, " } }"));
  fact("2026-05-01 08:30", absl::StrCat("memory_erased { unit: '", unit, "' }"));
  fact("2026-05-01 08:40",
       absl::StrCat("inspection_done { unit: '", unit,
                    "' checklist: 'knee-check' checklist_version: '1' tester: 'T-1' "
                    "readings { item: 'earth' value: 0.2 } readings { item: 'arc' value: 1 } "
                    "readings { item: 'stop' value: 1 } }"));
  fact("2026-05-01 08:50", absl::StrCat("unit_moved { unit: '", unit, "' to_place: 'shelf' }"));
}

void Story::TakeOrder(const std::string& order, const std::string& more) {
  const auto parsed = [](const std::string& text) {
    v1::OrderDetails details;
    if (!google::protobuf::TextFormat::ParseFromString(text, &details)) {
      throw std::invalid_argument("no details: " + text);
    }
    return details;
  };
  v1::OrderDetails details = parsed(
      "patient: 'P-1' prescriber: 'D-1' branch: 'north' device_class: 'knee' side: SIDE_LEFT "
      "procedure: 'knee replacement' surgery_date { year: 2026 month: 5 day: 14 } "
      "discharge_date { year: 2026 month: 5 day: 16 } "
      "needed_date { year: 2026 month: 5 day: 16 } length_of_need_days: 21 "
      "signed_date { year: 2026 month: 5 day: 1 } payer: 'federal' "
      "motion { extension_deg: 0 flexion_deg: 90 }");
  details.MergeFrom(parsed(more));
  Tell("2026-05-02 09:00", absl::StrCat("order_taken { order: '", order, "' details { ",
                                        details.ShortDebugString(), " } sender_version: 1 }"));
}

std::string Story::HandedOver(const std::string& unit, const std::string& order,
                              const std::string& more) {
  return absl::StrCat("handed_over { unit: '", unit, "' order: '", order,
                      "' unit_model: 'knee-a' signed_by: 'patient' "
                      "kit { item: 'pad-set' lot: 'L-1' piece_count: 1 } ",
                      more, " }");
}

void Story::HandOver(const std::string& at, const std::string& unit, const std::string& order,
                     const std::string& more) {
  Tell(at, HandedOver(unit, order, more));
}

void Story::PickUp(const std::string& at, const std::string& unit, const std::string& order) {
  Tell(at,
       absl::StrCat("picked_up { unit: '", unit, "' order: '", order, "' to_place: 'van-dirty' }"));
}

void Story::UsualRental(const std::string& order, const std::string& unit) {
  Tell("2026-05-15 10:00",
       absl::StrCat("use_noted { order: '", order, "' change: USE_CHANGE_STARTED }"));
  Tell("2026-05-16 11:00",
       absl::StrCat("patient_stay_noted { order: '", order, "' stay: STAY_HOME }"));
  HandOver("2026-05-16 12:00", unit, order);
}

v1::SubjectState Story::OrderSubject(const std::string& order) {
  v1::GetOrderRequest request;
  request.set_name("orders/" + order);
  v1::GetOrderResponse response;
  grpc::ClientContext context;
  const grpc::Status status = answers_->GetOrder(&context, request, &response);
  EXPECT_TRUE(status.ok()) << status.error_message();
  return response.state();
}

v1::OrderState Story::Order(const std::string& order) { return OrderSubject(order).order(); }

v1::UnitState Story::Unit(const std::string& unit) {
  v1::GetUnitRequest request;
  request.set_name("units/" + unit);
  v1::GetUnitResponse response;
  grpc::ClientContext context;
  EXPECT_TRUE(answers_->GetUnit(&context, request, &response).ok());
  return response.state().unit();
}

v1::AssessUnitResponse Story::AssessUnit(const std::string& unit, const std::string& order) {
  v1::AssessUnitRequest request;
  request.set_name("units/" + unit);
  request.set_order(order);
  v1::AssessUnitResponse response;
  grpc::ClientContext context;
  EXPECT_TRUE(answers_->AssessUnit(&context, request, &response).ok());
  return response;
}

v1::AssessOrderResponse Story::Missing(const std::string& order) {
  v1::AssessOrderRequest request;
  request.set_name("orders/" + order);
  v1::AssessOrderResponse response;
  grpc::ClientContext context;
  EXPECT_TRUE(cover_->AssessOrder(&context, request, &response).ok());
  return response;
}

v1::GetRentalEndsResponse Story::Ends(const std::string& order) {
  v1::GetRentalEndsRequest request;
  request.set_name("orders/" + order);
  v1::GetRentalEndsResponse response;
  grpc::ClientContext context;
  EXPECT_TRUE(cover_->GetRentalEnds(&context, request, &response).ok());
  return response;
}

v1::GetDayLedgerResponse Story::Days(const std::string& order, const std::string& known_at,
                                     const std::string& through) {
  v1::GetDayLedgerRequest request;
  request.set_name("orders/" + order);
  KnownAt(*this, known_at, &request);
  if (!through.empty()) {
    *request.mutable_through_date() = time::FromDay(time::ParseDay(through).value());
  }
  v1::GetDayLedgerResponse response;
  grpc::ClientContext context;
  const grpc::Status status = cover_->GetDayLedger(&context, request, &response);
  EXPECT_TRUE(status.ok()) << status.error_message();
  return response;
}

v1::ReportDueResponse Story::Due(const std::string& known_at) {
  v1::ReportDueRequest request;
  KnownAt(*this, known_at, &request);
  v1::ReportDueResponse response;
  grpc::ClientContext context;
  EXPECT_TRUE(answers_->ReportDue(&context, request, &response).ok());
  return response;
}

v1::ReportClaimsResponse Story::Claims(const std::string& known_at, bool open) {
  v1::ReportClaimsRequest request;
  KnownAt(*this, known_at, &request);
  request.set_open_rentals(open);
  v1::ReportClaimsResponse response;
  grpc::ClientContext context;
  EXPECT_TRUE(cover_->ReportClaims(&context, request, &response).ok());
  return response;
}

v1::ReportCorrectionsResponse Story::Corrections(const std::string& order) {
  v1::ReportCorrectionsRequest request;
  if (!order.empty()) request.set_name("orders/" + order);
  v1::ReportCorrectionsResponse response;
  grpc::ClientContext context;
  const grpc::Status status = cover_->ReportCorrections(&context, request, &response);
  EXPECT_TRUE(status.ok()) << status.error_message();
  return response;
}

v1::GetBoardResponse Story::Board() {
  v1::GetBoardRequest request;
  request.set_branch("north");
  v1::GetBoardResponse response;
  grpc::ClientContext context;
  EXPECT_TRUE(answers_->GetBoard(&context, request, &response).ok());
  return response;
}

int Story::QuestionCount(const std::string& subject) {
  v1::ListQuestionsRequest request;
  request.set_subject(subject);
  v1::ListQuestionsResponse response;
  grpc::ClientContext context;
  EXPECT_TRUE(answers_->ListQuestions(&context, request, &response).ok());
  return response.questions_size();
}

std::string DayText(const google::type::Date& date) {
  return time::IsValid(date) ? time::FormatDay(time::ToDay(date)) : "none";
}

std::string DayOf(const v1::DayLedger& ledger, const std::string& day) {
  for (const v1::LedgerDay& d : ledger.days()) {
    if (DayText(d.date()) != day) continue;
    return v1::DayState_Name(d.state()).substr(10) + " " +
           v1::DayReason_Name(d.reason()).substr(11);
  }
  return "no such day";
}

std::string EndsText(const v1::GetRentalEndsResponse& ends) {
  std::string text;
  for (const v1::RentalEndRow& end : ends.ends()) {
    const std::string basis = v1::DueBasis_Name(end.basis()).substr(10);
    absl::StrAppend(&text, text.empty() ? "" : "; ", absl::AsciiStrToLower(basis), " ",
                    DayText(end.date()), end.rules() ? ", due" : "",
                    end.overdue_days() > 0 ? absl::StrCat(", ", end.overdue_days(), " over") : "");
  }
  return text;
}

std::vector<std::string> MissingText(const v1::AssessOrderResponse& answer, bool to_bill) {
  std::vector<std::string> out;
  for (const v1::MissingItem& item : answer.missing()) {
    if (to_bill ? item.to_bill() : item.to_go_out()) {
      out.push_back(absl::StrCat(item.item(), ", from ", item.supplier()));
    }
  }
  return out;
}

}  // namespace ferrule::testing
