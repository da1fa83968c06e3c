// Exceptions of the trade that belong to what other systems send, 85, 87, 90 and 94 of the depot's
// list, each as it is lived: over the wire. One test a number. The others of the link (7, 18, 19,
// 86, 88 to 93) are in tests/core/intake/intake_test.cc, tests/core/exchange/news_test.cc and
// tests/exchange.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <memory>
#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "core/time/civil.h"
#include "ferrule/v1/intake_service.grpc.pb.h"
#include "nlohmann/json.hpp"
#include "tests/service/story.h"

namespace ferrule::testing {
namespace {

using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

std::string SettingsWithSenders() {
  std::string text = StorySettings();
  text.replace(text.find("version: '"), 10, "version: 'link-");
  return text +
         " senders { id: 'clinic-ehr' hl7_application: 'EHR' order_prefix: 'E-' branch: 'north' "
         "version_from: VERSION_SOURCE_TIME codes { code: 'E0935' device_class: 'knee' } "
         "codes { code: 'LT' side: SIDE_LEFT } codes { code: 'RT' side: SIDE_RIGHT } } "
         "senders { id: 'hand-clinic' order_prefix: 'H-' branch: 'north' } ";
}

class LinkExceptions : public ::testing::Test {
 protected:
  LinkExceptions()
      : intake_(v1::IntakeService::NewStub(story_.depot().Channel(Transport::kTcp))),
        answers_(v1::DepotService::NewStub(story_.depot().Channel(Transport::kTcp))) {
    story_.Tell("2026-01-02 00:00", absl::StrCat("settings_put { settings {", SettingsWithSenders(),
                                                 "} from_time { seconds: 1767312000 } }"));
  }

  // A message of the clinic about its order N7: control, when it was written, its side.
  static std::string Message(const std::string& id, const std::string& control,
                             const std::string& stated, const std::string& side) {
    return absl::StrCat("MSH|^~\\&|EHR|CLINIC|DEPOT|HOME|", stated, "+0200||OMG^O19|", id,
                        "|P|2.5.1\rPID|1||PT7\rORC|", control, "|N7\rOBR|1|||E0935",
                        std::string(40, '|'), "|", side, "\r");
  }
  v1::SubmitMessageResponse Send(const std::string& content) {
    v1::SubmitMessageRequest request;
    request.set_kind(v1::MESSAGE_KIND_HL7_V2);
    request.set_content(content);
    v1::SubmitMessageResponse response;
    grpc::ClientContext context;
    const grpc::Status status = intake_->SubmitMessage(&context, request, &response);
    EXPECT_TRUE(status.ok()) << status.error_message();
    return response;
  }
  grpc::Status Export(const std::string& referrer, const std::string& known_at,
                      std::string* content) {
    v1::ExportOrderRequest request;
    request.set_name("orders/E-N7");
    request.set_format(v1::EXPORT_FORMAT_FHIR_R4);
    request.set_referrer(referrer);
    if (!known_at.empty()) {
      time::SetMicros(story_.Us(known_at), request.mutable_known_time());
    }
    v1::ExportOrderResponse response;
    grpc::ClientContext context;
    const grpc::Status status = intake_->ExportOrder(&context, request, &response);
    *content = response.content();
    return status;
  }
  std::vector<v1::HistoryRow> History(const std::string& name) {
    v1::ListHistoryRequest request;
    request.set_name(name);
    v1::ListHistoryResponse response;
    grpc::ClientContext context;
    EXPECT_TRUE(answers_->ListHistory(&context, request, &response).ok());
    return {response.rows().begin(), response.rows().end()};
  }
  static std::string PickedUp(const std::string& note) {
    return "picked_up { unit: 'K-1' order: 'R-1' to_place: 'van-dirty' } note: '" + note + "'";
  }
  // The end of the order's only leg, and what is asked about the order.
  void OneOutcome(const std::string& end) {
    const v1::SubjectState order = story_.OrderSubject("R-1");
    EXPECT_EQ(order.order().status(), v1::ORDER_STATUS_CLOSED);
    ASSERT_EQ(order.order().legs_size(), 1);
    EXPECT_EQ(time::ToMicros(order.order().legs(0).to().time()), story_.Us(end));
    ASSERT_EQ(order.questions_size(), 1);
    EXPECT_EQ(order.questions(0).reason(), v1::REASON_ORDER_CLOSED);
    EXPECT_EQ(story_.Unit("K-1").turn_count(), 1) << "one rental, however often it was closed";
  }

  Story story_;
  std::unique_ptr<v1::IntakeService::Stub> intake_;
  std::unique_ptr<v1::DepotService::Stub> answers_;
};

TEST_F(LinkExceptions, E85TheSameMessageTwiceHasOneEffectAndIsAcknowledgedAsARepeat) {
  story_.Now("2026-05-02 10:00");
  const std::string message = Message("M1", "NW", "20260502095900", "LT");
  EXPECT_FALSE(Send(message).repeated());
  const auto again = Send(message);
  EXPECT_TRUE(again.repeated());
  EXPECT_THAT(again.acknowledgement(), HasSubstr("MSA|AA|M1"));
  EXPECT_EQ(again.message().arrival_count(), 2);
  int taken = 0;
  int sources = 0;
  for (const v1::HistoryRow& row : History("orders/E-N7")) {
    taken += row.fact().has_order_taken() ? 1 : 0;
    sources += row.fact().has_order_message_received() ? 1 : 0;
  }
  EXPECT_EQ(taken, 1);
  EXPECT_EQ(sources, 1);
}

TEST_F(LinkExceptions, E87TwoPeopleCloseOnePickUpTheOtherIsShownAsWellAndChangesNothing) {
  story_.ReadyKnee("K-1");
  story_.TakeOrder("R-1");
  story_.UsualRental();
  story_.Observe("2026-06-05 15:00", PickedUp("by rep ann"));
  // The second handheld comes back into the net an hour later, and says a later time.
  const v1::Receipt second =
      story_.TellLate("2026-06-05 15:20", "2026-06-05 16:30", PickedUp("by rep ben"), true);
  EXPECT_GT(second.questions_size(), 0);
  OneOutcome("2026-06-05 15:00");
  // At a counter it would not have been taken.
  EXPECT_THAT(story_.Refused("2026-06-05 17:00", PickedUp("by clerk cy")),
              Contains("ORDER_CLOSED"));
  std::vector<std::string> told;
  for (const v1::HistoryRow& row : History("orders/R-1")) {
    if (row.fact().has_picked_up()) told.push_back(row.fact().note());
  }
  EXPECT_THAT(told, ElementsAre("by rep ann", "by rep ben"));
}

TEST_F(LinkExceptions, E87InTheOtherOrderOfArrivalTheSameOneCounts) {
  story_.ReadyKnee("K-1");
  story_.TakeOrder("R-1");
  story_.UsualRental();
  story_.TellLate("2026-06-05 15:20", "2026-06-05 15:30", PickedUp("by rep ben"), true);
  story_.TellLate("2026-06-05 15:00", "2026-06-05 16:30", PickedUp("by rep ann"), true);
  OneOutcome("2026-06-05 15:00");
}

TEST_F(LinkExceptions, E90ACopyOfTheRecordIsGivenAndAnAmendmentIsAppended) {
  story_.Now("2026-05-02 10:00");
  Send(Message("M1", "NW", "20260502095900", "LT"));
  std::string before;
  ASSERT_TRUE(Export("clinic-ehr", "", &before).ok());
  // The patient says that the record is wrong; the clinic sends the change.
  story_.Now("2026-05-04 10:00");
  Send(Message("M2", "XO", "20260504095900", "RT"));
  EXPECT_EQ(story_.Order("E-N7").details().side(), v1::SIDE_RIGHT);
  std::string after;
  ASSERT_TRUE(Export("clinic-ehr", "", &after).ok());
  // The copy: everything that was ever told about the order, the mistake included, in its order.
  std::vector<v1::Side> sides;
  for (const v1::HistoryRow& row : History("orders/E-N7")) {
    if (row.fact().has_order_taken()) sides.push_back(row.fact().order_taken().details().side());
    if (row.fact().has_order_changed()) {
      sides.push_back(row.fact().order_changed().details().side());
    }
  }
  EXPECT_THAT(sides, ElementsAre(v1::SIDE_LEFT, v1::SIDE_RIGHT));
  // What was given before is given again when it is asked for as it was known.
  std::string as_then;
  ASSERT_TRUE(Export("clinic-ehr", "2026-05-03 10:00", &as_then).ok());
  auto then = nlohmann::json::parse(as_then);
  auto given = nlohmann::json::parse(before);
  EXPECT_EQ(then["entry"], given["entry"]);
}

TEST_F(LinkExceptions, E94AnotherReferrerLearnsNothingNotEvenThatThereIsAnOrder) {
  story_.Now("2026-05-02 10:00");
  Send(Message("M1", "NW", "20260502095900", "LT"));
  std::string content;
  const grpc::Status other = Export("hand-clinic", "", &content);
  EXPECT_EQ(other.error_code(), grpc::StatusCode::NOT_FOUND);
  EXPECT_THAT(other.error_message(), Not(HasSubstr("clinic-ehr")));
  EXPECT_THAT(content, IsEmpty());
  EXPECT_EQ(Export("nobody", "", &content).error_message(), other.error_message());
}

}  // namespace
}  // namespace ferrule::testing
