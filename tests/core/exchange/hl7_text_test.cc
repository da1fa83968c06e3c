#include "core/exchange/hl7_text.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "core/exchange/news.h"

namespace ferrule::exchange {
namespace {

using ::testing::IsEmpty;
using ::testing::SizeIs;

std::string Msh(const std::string& type = "OMG^O19", const std::string& processing = "P",
                const std::string& version = "2.5.1", const std::string& rest = "") {
  return "MSH|^~\\&|EHR|CLINIC|DEPOT|HOME|20260301||" + type + "|M1|" + processing + "|" + version +
         rest + "\r";
}

std::string Code(v1::MessageState state, std::vector<v1::Trouble> troubles,
                 Hl7Answer::Mode mode = Hl7Answer::Mode::kOriginal) {
  Hl7Answer answer;
  answer.state = state;
  answer.troubles = std::move(troubles);
  answer.mode = mode;
  return std::string(AnswerCode(answer));
}

TEST(Hl7Headers, SayWhetherAMessageIsTaken) {
  const auto where = [](const std::string& text) {
    const auto troubles = CheckHl7Header(ReadHl7Header(text));
    return troubles.empty() ? "" : troubles[0].where();
  };
  EXPECT_EQ(where(Msh()), "");
  EXPECT_EQ(where(Msh("ORU^R01")), "MSH-9.1");
  EXPECT_EQ(where(Msh("OMG^O99")), "MSH-9.2");
  EXPECT_EQ(where(Msh("OMG^O19", "T")), "MSH-11");
  EXPECT_EQ(where(Msh("OMG^O19", "P", "3.0")), "MSH-12");
  EXPECT_EQ(where("PID|1\r"), "MSH");
  EXPECT_EQ(where(""), "MSH");
}

TEST(Hl7Headers, SayWhenAnAnswerIsWanted) {
  const Hl7Header original = ReadHl7Header(Msh());
  EXPECT_FALSE(original.enhanced());
  const Hl7Header enhanced = ReadHl7Header(Msh("OMG^O19", "P", "2.5.1", "|||AL|ER"));
  EXPECT_TRUE(enhanced.enhanced());
  EXPECT_TRUE(enhanced.WantsAccept(true));
  EXPECT_FALSE(enhanced.WantsApplication(true));
  EXPECT_TRUE(enhanced.WantsApplication(false));
}

TEST(Hl7CharacterSets, AreTurnedIntoUtf8) {
  const std::string tail = "PID|1||X||M\xFCller\r";
  EXPECT_THAT(ToUtf8(Msh() + tail, "").troubles, SizeIs(1));
  EXPECT_EQ(
      ToUtf8(Msh("OMG^O19", "P", "2.5.1", "||||||8859/1") + tail, "").utf8.find("M\xC3\xBCller") ==
          std::string::npos,
      false);
  EXPECT_THAT(ToUtf8(Msh() + tail, "8859/1").troubles, IsEmpty());
  EXPECT_NE(ToUtf8(Msh() + "NTE|\xA4\r", "8859/15").utf8.find("\xE2\x82\xAC"), std::string::npos);
  EXPECT_THAT(ToUtf8(Msh("OMG^O19", "P", "2.5.1", "||||||KS X 1001") + tail, "").troubles,
              SizeIs(1));
  EXPECT_THAT(ToUtf8(Msh("OMG^O19", "P", "2.5.1", "||||||ASCII") + tail, "").troubles, SizeIs(1));
  EXPECT_THAT(ToUtf8(Msh() + "PID|1||X||M\xC3\xBCller\r", "").troubles, IsEmpty());
}

TEST(Hl7Answers, AreAaAlsoForWhatWaitsAndArForWhatIsNotAboutContent) {
  const v1::Trouble code = UnmappedCode("OBR-4.1", "HCPCS", "E9999");
  const v1::Trouble missing = TroubleAt(v1::TROUBLE_KIND_FIELD_MISSING, "ORC-2", "is missing", "x");
  const v1::Trouble type = TroubleAt(v1::TROUBLE_KIND_NOT_SUPPORTED, "MSH-9.1", "no", "x");
  EXPECT_EQ(Code(v1::MESSAGE_STATE_APPLIED, {}), "AA");
  EXPECT_EQ(Code(v1::MESSAGE_STATE_QUEUED, {code}), "AA");
  EXPECT_EQ(Code(v1::MESSAGE_STATE_REJECTED, {missing}), "AE");
  EXPECT_EQ(Code(v1::MESSAGE_STATE_REJECTED, {type}), "AR");
  EXPECT_EQ(Code(v1::MESSAGE_STATE_APPLIED, {}, Hl7Answer::Mode::kAccept), "CA");
  EXPECT_EQ(Code(v1::MESSAGE_STATE_REJECTED, {missing}, Hl7Answer::Mode::kAccept), "CE");
  EXPECT_EQ(Code(v1::MESSAGE_STATE_REJECTED, {type}, Hl7Answer::Mode::kAccept), "CR");
}

TEST(Hl7Answers, NameTheFieldAndTurnThePartiesRound) {
  Hl7Answer answer;
  answer.state = v1::MESSAGE_STATE_REJECTED;
  answer.troubles = {UnmappedCode("OBR-4.1", "HCPCS", "E9|99")};
  answer.control_id = "A1";
  answer.now_us = 1'772'000'000'000'000;
  const auto parsed = ParseHl7(ComposeAnswer(ReadHl7Header(Msh()), answer));
  ASSERT_TRUE(parsed.ok());
  EXPECT_EQ(parsed->msh().Get(3), "DEPOT");
  EXPECT_EQ(parsed->msh().Get(5), "EHR");
  EXPECT_EQ(parsed->msh().Get(9), "ACK");
  EXPECT_EQ(parsed->msh().Get(9, 2), "O19");
  EXPECT_EQ(parsed->Find("MSA")->Get(2), "M1");
  const Hl7Segment* err = parsed->Find("ERR");
  ASSERT_NE(err, nullptr);
  EXPECT_EQ(err->Get(2), "OBR");
  EXPECT_EQ(err->Get(2, 3), "4");
  EXPECT_EQ(err->Get(2, 5), "1");
  EXPECT_EQ(err->Get(3), "103");
  EXPECT_EQ(err->Get(4), "E");
  EXPECT_NE(err->Get(8).find("E9|99 of HCPCS"), std::string::npos);
}

TEST(Hl7Answers, UseTheMessagesOwnDelimitersAndItsOwnVersion) {
  Hl7Answer answer;
  answer.state = v1::MESSAGE_STATE_QUEUED;
  answer.troubles = {UnmappedCode("OBR-4.1", "", "X")};
  const std::string text = ComposeAnswer(
      ReadHl7Header("MSH#*!+$#EHR#CLINIC#DEPOT#HOME#20260301##ORM*O01#M9#P#2.3\r"), answer);
  EXPECT_EQ(text.rfind("MSH#*!+$#DEPOT#HOME#EHR#CLINIC#", 0), 0u) << text;
  EXPECT_NE(text.find("MSA#AA#M9#OBR-4.1 "), std::string::npos) << text;
  EXPECT_NE(text.find("ERR#OBR*1*4*103"), std::string::npos) << text;
}

TEST(Hl7Answers, MayBeOrderResponses) {
  Hl7Answer answer;
  answer.order_response = true;
  answer.orders = {{"ORD1", "E-ORD1"}};
  const auto parsed = ParseHl7(ComposeAnswer(ReadHl7Header(Msh()), answer));
  EXPECT_EQ(parsed->msh().Get(9), "ORG");
  EXPECT_EQ(parsed->msh().Get(9, 2), "O20");
  EXPECT_EQ(parsed->Find("ORC")->Get(1), "OK");
  EXPECT_EQ(parsed->Find("ORC")->Get(3), "E-ORD1");
}

}  // namespace
}  // namespace ferrule::exchange
