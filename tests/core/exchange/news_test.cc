// Tests core/exchange/news.cc, core/exchange/read_hl7.cc, core/exchange/read_fhir.cc and
// core/exchange/read_csv.cc: what messages say, and what is wrong with them. All synthetic.
#include "core/exchange/news.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "core/time/civil.h"
#include "tests/core/exchange/sender.h"

namespace ferrule::exchange {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

class News : public ::testing::Test {
 protected:
  News() {
    options_.sender = &sender_;
    options_.zone = *time::Zone("America/New_York");
  }
  Reading Hl7(const std::string& more, const std::string& type = "OMG^O19^OMG_O19") {
    return ReadHl7("MSH|^~\\&|EHR|CLINIC|DEPOT|DEPOT|20260301101500-0500||" + type +
                       "|MSG1|P|2.5.1\rPID|1||PT1^^^CLINIC^MR~S9^^^ST^SS||DOE^JANE\r" + more,
                   options_);
  }
  static std::vector<std::string> Where(const Reading& reading) {
    std::vector<std::string> out;
    for (const v1::Trouble& t : reading.troubles) {
      out.push_back(v1::TroubleKind_Name(t.kind()).substr(13) + " " + t.where());
    }
    return out;
  }
  v1::Sender sender_ = testing::ClinicSender();
  ReadOptions options_;
};

std::string Day(const google::type::Date& d) { return time::FormatDay(time::ToDay(d)); }

TEST_F(News, OfAnOrderInHl7) {
  const Reading r =
      Hl7("IN1|1|MCARE^Medicare|1|MEDICARE|||||||||20260901\r"
          "ORC|NW|ORD1^EHR||||||||||1234567893^ORTHO^OLLIE|||20260302\r"
          "TQ1|1||||||20260303|20260323|R\r"
          "OBR|1|ORD1^EHR||E0935^CPM device^HCPCS||||||||||||||||||||||||||||||||||||||||TKR|LT\r"
          "OBX|1|NM|FLEX||40|deg|||||O\rOBX|2|NM|EXT||-5|deg|||||O\rOBX|3|NM|HOURS||6|h/d|||||O\r"
          "OBX|4|TS|DOS||20260302||||||O\rOBX|5|ST|NOISE||whatever||||||O\r");
  EXPECT_THAT(Where(r), IsEmpty());
  ASSERT_EQ(r.orders.size(), 1u);
  const OrderNews& n = r.orders[0];
  EXPECT_EQ(r.message_id, "MSG1");
  EXPECT_EQ(n.number, "ORD1");
  EXPECT_EQ(n.patient, "PT1");
  EXPECT_EQ(n.details.device_class(), "knee");
  EXPECT_EQ(n.details.side(), v1::SIDE_LEFT);
  EXPECT_EQ(n.details.procedure(), "total knee replacement");
  EXPECT_EQ(n.details.motion().flexion_deg(), 40);
  EXPECT_EQ(n.details.motion().extension_deg(), -5);
  EXPECT_EQ(n.details.motion().daily_use_s(), 6 * 3600);
  EXPECT_EQ(Day(n.details.surgery_date()), "2026-03-02");
  EXPECT_EQ(Day(n.details.needed_date()), "2026-03-03");
  EXPECT_EQ(n.details.length_of_need_days(), 21);
  EXPECT_EQ(Day(n.details.cover_end_date()), "2026-09-01");
  EXPECT_EQ(n.details.prescriber(), "1234567893");
  EXPECT_EQ(n.details.branch(), "north");
  EXPECT_EQ(time::FormatUtc(n.stated_us), "2026-03-01T15:15:00Z");
  EXPECT_EQ(n.version, n.stated_us);
}

TEST_F(News, NeverHoldTheName) {
  const Reading r = Hl7("ORC|NW|ORD1\rNTE|1||JANE lives at 5 Elm\rOBR|1|||CPM-K\r");
  EXPECT_EQ(r.orders[0].details.DebugString().find("JANE"), std::string::npos);
  EXPECT_EQ(r.orders[0].details.DebugString().find("Elm"), std::string::npos);
}

TEST_F(News, OfOlderOrdersCarryTheirTimingInOrc7) {
  const Reading r = Hl7("ORC|NW|ORD1|||||1^^D14^20260303^20260316\rOBR|1|||CPM-K\r", "ORM^O01");
  EXPECT_THAT(Where(r), IsEmpty());
  EXPECT_EQ(r.orders[0].details.length_of_need_days(), 14);
}

TEST_F(News, OfRequisitions) {
  const Reading r = Hl7("ORC|NW|ORD1\rRQD|1|CPM-K|||1|EA||||20260304\r", "OMS^O05");
  EXPECT_THAT(Where(r), IsEmpty());
  EXPECT_EQ(Day(r.orders[0].details.needed_date()), "2026-03-04");
}

TEST_F(News, OfCancelsAndChanges) {
  EXPECT_EQ(Hl7("ORC|CA|ORD1||||||||||||||R^surgery off\r").orders[0].control,
            OrderNews::Control::kCancel);
  const Reading change = Hl7("ORC|XO|ORD1||||||||||\"\"\rTQ1|1||||||\"\"\r");
  EXPECT_EQ(change.orders[0].control, OrderNews::Control::kChange);
  EXPECT_THAT(change.orders[0].cleared, ElementsAre("prescriber", "needed_date"));
}

TEST_F(News, NameTheFieldThatIsWrong) {
  EXPECT_THAT(Where(Hl7("ORC|NW|\rOBR|1|||CPM-K\r")), ElementsAre("FIELD_MISSING ORC-2"));
  EXPECT_THAT(Where(Hl7("ORC|NW|ORD1\r")), ElementsAre("FIELD_MISSING OBR-4"));
  EXPECT_THAT(Where(Hl7("ORC|NW|ORD1\rOBR|1|||E9999^x^HCPCS\r")),
              ElementsAre("CODE_UNMAPPED OBR-4.1"));
  EXPECT_THAT(Where(Hl7("ORC|ZZ|ORD1\rOBR|1|||CPM-K\r")), ElementsAre("NOT_SUPPORTED ORC-1"));
  EXPECT_THAT(Where(Hl7("ORC|HD|ORD1\r")), ElementsAre("NEEDS_DECISION ORC-1"));
  EXPECT_THAT(Where(Hl7("ORC|NW|ORD1\rTQ1|1||||||20260230\rOBR|1|||CPM-K\r")),
              ElementsAre("FIELD_INVALID TQ1-7"));
  EXPECT_THAT(Where(Hl7("ORC|NW|ORD1\rOBR|1|||CPM-K\rOBX|1|NM|FLEX||far|deg\r")),
              ElementsAre("FIELD_INVALID OBX-5"));
  EXPECT_THAT(Where(Hl7("ORC|NW|ORD1\rOBR|1|||CPM-K\rOBX|1|NM|UNKNOWN||1\r")),
              ElementsAre("CODE_UNMAPPED OBX-3.1"));
  EXPECT_THAT(Where(Hl7("ORC|NW|A\rOBR|1|||CPM-K\rORC|NW|A\rOBR|1|||CPM-K\r")),
              ElementsAre("FIELD_INVALID ORC-2"));
}

// Exception 89: figures with their unit; one that cannot be is questioned, never guessed.
TEST_F(News, Exception89MixedUnitsAreConvertedAndSlipsQuestioned) {
  const auto flexion = [&](const std::string& value, const std::string& unit) {
    return Hl7("ORC|NW|A\rOBR|1|||CPM-K\rOBX|1|NM|FLEX||" + value + "|" + unit + "\r");
  };
  EXPECT_NEAR(flexion("1.5707963", "rad").orders[0].details.motion().flexion_deg(), 90, 1e-4);
  EXPECT_EQ(flexion("90", "").orders[0].details.motion().flexion_deg(), 90);
  EXPECT_THAT(Where(flexion("900", "deg")), ElementsAre("FIELD_INVALID OBX-5"));
  EXPECT_THAT(Where(flexion("90", "in")), ElementsAre("FIELD_INVALID OBX-5"));
  const Reading minutes = Hl7("ORC|NW|A\rOBR|1|||CPM-K\rOBX|1|NM|HOURS||240|min\r");
  EXPECT_EQ(minutes.orders[0].details.motion().daily_use_s(), 4 * 3600);
}

TEST_F(News, OfDischargesAndMovedOperations) {
  const Reading adt = Hl7("PV1|1|I" + std::string(42, '|') + "|20260305140000\r", "ADT^A03");
  ASSERT_THAT(Where(adt), IsEmpty());
  EXPECT_TRUE(adt.for_patient);
  EXPECT_EQ(Day(adt.orders[0].details.discharge_date()), "2026-03-05");
  EXPECT_THAT(Hl7("PV1|1|I\r", "ADT^A08").orders, IsEmpty());
  EXPECT_THAT(Where(Hl7("PV1|1|I\r", "ADT^A03")), ElementsAre("FIELD_MISSING PV1-45"));
  const Reading siu = Hl7("SCH|1||||||||||^^^20260310080000\r", "SIU^S13");
  EXPECT_EQ(Day(siu.orders[0].details.surgery_date()), "2026-03-10");
  EXPECT_THAT(Where(Hl7("SCH|1\r", "SIU^S15")), ElementsAre("NEEDS_DECISION MSH-9.2"));
}

TEST_F(News, TakeTheSendersCountWhereItCounts) {
  sender_.set_version_from(v1::VERSION_SOURCE_COUNT);
  EXPECT_THAT(Where(Hl7("ORC|NW|A\rOBR|1|||CPM-K\r")), ElementsAre("FIELD_MISSING MSH-13"));
}

constexpr char kRequest[] = R"json({
 "resourceType": "DeviceRequest", "id": "dr1",
 "meta": {"versionId": "3", "lastUpdated": "2026-03-01T10:15:00-05:00"},
 "identifier": [{"value": "ORD1"}], "status": "active", "intent": "order",
 "codeCodeableConcept": {"coding": [{"system": "HCPCS", "code": "E0935"}]},
 "parameter": [{"code": {"coding": [{"code": "FLEX"}]},
                "valueQuantity": {"value": 40, "code": "deg"}},
               {"code": {"coding": [{"code": "SIDE"}]},
                "valueCodeableConcept": {"coding": [{"code": "RT"}]}}],
 "subject": {"identifier": {"value": "PT1"}},
 "occurrencePeriod": {"start": "2026-03-03", "end": "2026-03-23"},
 "authoredOn": "2026-03-01"})json";

std::string With(std::string text, const std::string& from, const std::string& to) {
  const size_t at = text.find(from);
  EXPECT_NE(at, std::string::npos) << from;
  return text.replace(at, from.size(), to);
}

TEST_F(News, OfAnOrderInFhir) {
  const Reading r = ReadFhir(kRequest, options_);
  EXPECT_THAT(Where(r), IsEmpty());
  ASSERT_EQ(r.orders.size(), 1u);
  const OrderNews& n = r.orders[0];
  EXPECT_EQ(n.number, "ORD1");
  EXPECT_EQ(n.patient, "PT1");
  EXPECT_EQ(n.details.device_class(), "knee");
  EXPECT_EQ(n.details.side(), v1::SIDE_RIGHT);
  EXPECT_EQ(n.details.motion().flexion_deg(), 40);
  EXPECT_EQ(n.details.length_of_need_days(), 21);
  EXPECT_EQ(Day(n.details.signed_date()), "2026-03-01");
  EXPECT_EQ(time::FormatUtc(n.stated_us), "2026-03-01T15:15:00Z");
}

TEST_F(News, OfABundleWithTheOperationAndThePatient) {
  const std::string bundle =
      R"({"resourceType":"Bundle","type":"collection","identifier":{"value":"B1"},"entry":[
      {"fullUrl":"urn:uuid:p","resource":{"resourceType":"Patient","id":"p",
        "identifier":[{"value":"PT1"}]}},
      {"fullUrl":"urn:uuid:s","resource":{"resourceType":"ServiceRequest","id":"s",
        "status":"active","intent":"order","subject":{"reference":"urn:uuid:p"},
        "code":{"coding":[{"code":"TKR"}]},"bodySite":[{"coding":[{"code":"LT"}]}],
        "occurrenceDateTime":"2026-03-02"}},
      {"resource":)" +
      With(With(kRequest, R"("subject": {"identifier": {"value": "PT1"}})",
                R"("subject": {"reference": "urn:uuid:p"},
                   "supportingInfo": [{"reference": "urn:uuid:s"}])"),
           R"(,
               {"code": {"coding": [{"code": "SIDE"}]},
                "valueCodeableConcept": {"coding": [{"code": "RT"}]}})",
           "") +
      "}]}";
  const Reading r = ReadFhir(bundle, options_);
  EXPECT_THAT(Where(r), IsEmpty());
  ASSERT_EQ(r.orders.size(), 1u);
  EXPECT_EQ(r.message_id, "B1");
  EXPECT_EQ(r.orders[0].patient, "PT1");
  EXPECT_EQ(r.orders[0].details.side(), v1::SIDE_LEFT);
  EXPECT_EQ(Day(r.orders[0].details.surgery_date()), "2026-03-02");
  EXPECT_EQ(r.orders[0].details.procedure(), "total knee replacement");
}

TEST_F(News, OfFhirSayWhatCannotBeTaken) {
  const auto where = [&](const std::string& from, const std::string& to) {
    return Where(ReadFhir(With(kRequest, from, to), options_));
  };
  EXPECT_THAT(where("\"order\"", "\"plan\""), ElementsAre("NOT_AN_ORDER DeviceRequest.intent"));
  EXPECT_THAT(where("E0935", "E9999"),
              ElementsAre("CODE_UNMAPPED DeviceRequest.codeCodeableConcept"));
  EXPECT_THAT(where("\"2026-03-03\"", "\"2026-02-30\""),
              ElementsAre("FIELD_INVALID DeviceRequest.occurrencePeriod.start"));
  EXPECT_THAT(where("\"authoredOn\"", "\"occurrenceDateTime\": \"2026-03-03\", \"authoredOn\""),
              ElementsAre("FIELD_INVALID DeviceRequest.occurrence[x]"));
  EXPECT_THAT(where("{\"value\": \"ORD1\"}", "{\"use\": \"usual\"}"),
              ElementsAre("FIELD_MISSING DeviceRequest.identifier"));
  EXPECT_THAT(Where(ReadFhir("not json", options_)), ElementsAre("NOT_READABLE "));
  EXPECT_THAT(Where(ReadFhir(R"({"resourceType":"Account"})", options_)),
              ElementsAre("NOT_SUPPORTED resourceType"));
  const Reading off = ReadFhir(With(kRequest, "\"active\"", "\"revoked\""), options_);
  EXPECT_EQ(off.orders[0].control, OrderNews::Control::kCancel);
}

TEST_F(News, OfARowOfAFile) {
  v1::CsvMapping mapping;
  mapping.set_date_form("MM/DD/YYYY");
  const Reading r = ReadCsvOrder({{"order_number", "ORD1"},
                                  {"patient", "PT1"},
                                  {"device_code", "CPM-K"},
                                  {"stated_time", "2026-03-01 10:15"},
                                  {"side", "left"},
                                  {"flexion_deg", "40"},
                                  {"daily_use_h", "6"},
                                  {"surgery_date", "03/02/2026"}},
                                 mapping, options_);
  EXPECT_THAT(Where(r), IsEmpty());
  EXPECT_EQ(r.orders[0].details.side(), v1::SIDE_LEFT);
  EXPECT_EQ(Day(r.orders[0].details.surgery_date()), "2026-03-02");
  EXPECT_EQ(time::FormatUtc(r.orders[0].stated_us), "2026-03-01T15:15:00Z");
  EXPECT_THAT(Where(ReadCsvOrder({{"order_number", "A"}}, mapping, options_)),
              ElementsAre("FIELD_MISSING patient", "FIELD_MISSING stated_time",
                          "FIELD_MISSING device_code"));
}

TEST(Hl7Times, AreReadWithTheirOffsetAndRefusedWhenTheyAreNone) {
  const absl::TimeZone zone = *time::Zone("America/New_York");
  int64_t us = 0;
  EXPECT_TRUE(ParseHl7Time("20260301101500.25-0500", zone, &us));
  EXPECT_EQ(time::FormatUtc(us), "2026-03-01T15:15:00.25Z");
  EXPECT_TRUE(ParseHl7Time("202603011015", zone, &us));
  EXPECT_EQ(time::FormatUtc(us), "2026-03-01T15:15:00Z");
  EXPECT_TRUE(ParseHl7Time("20260301", zone, &us));
  EXPECT_EQ(time::FormatUtc(us), "2026-03-01T05:00:00Z");
  for (const char* bad : {"", "2026", "20260230", "2026030", "20260301251500", "2026030110151",
                          "20260301101500+05", "x0260301"}) {
    EXPECT_FALSE(ParseHl7Time(bad, zone, &us)) << bad;
  }
}

}  // namespace
}  // namespace ferrule::exchange
