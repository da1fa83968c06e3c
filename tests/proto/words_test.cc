// The rules of the words, walked over the descriptors.
#include "tests/proto/words.h"

#include <algorithm>
#include <cctype>
#include <iterator>
#include <set>
#include <string>

#include "gtest/gtest.h"

namespace ferrule::words {
namespace {

namespace pb = google::protobuf;

bool EndsWith(const std::string& text, const std::string& end) {
  return text.size() >= end.size() && text.compare(text.size() - end.size(), end.size(), end) == 0;
}

// "PLACE_KIND" for "PlaceKind".
std::string UpperSnake(const std::string& camel) {
  std::string out;
  for (size_t i = 0; i < camel.size(); ++i) {
    const auto c = static_cast<unsigned char>(camel[i]);
    if (std::isupper(c) && i > 0) out += '_';
    out += static_cast<char>(std::toupper(c));
  }
  return out;
}

bool IsSentence(const std::string& comment) {
  const size_t first = comment.find_first_not_of(" \n");
  const size_t last = comment.find_last_not_of(" \n");
  return first != std::string::npos && comment[last] == '.';
}

TEST(Words, AreThere) {
  EXPECT_GE(Files().size(), 7u);
  EXPECT_GE(Messages().size(), 100u);
  EXPECT_GE(Methods().size(), 16u);
}

TEST(Words, EveryMessageAndFieldIsExplainedInASentence) {
  for (const pb::Descriptor* message : Messages()) {
    EXPECT_TRUE(IsSentence(CommentOf(*message))) << message->full_name();
    for (int i = 0; i < message->field_count(); ++i) {
      EXPECT_TRUE(IsSentence(CommentOf(*message->field(i)))) << message->field(i)->full_name();
    }
  }
}

TEST(Words, EveryEnumAndValueIsExplainedInASentence) {
  for (const pb::EnumDescriptor* one : Enums()) {
    EXPECT_TRUE(IsSentence(CommentOf(*one))) << one->full_name();
    for (int i = 0; i < one->value_count(); ++i) {
      EXPECT_TRUE(IsSentence(CommentOf(*one->value(i)))) << one->value(i)->full_name();
    }
  }
}

TEST(Words, EveryServiceAndMethodIsExplainedInASentence) {
  for (const pb::MethodDescriptor* method : Methods()) {
    EXPECT_TRUE(IsSentence(CommentOf(*method))) << method->full_name();
    EXPECT_TRUE(IsSentence(CommentOf(*method->service()))) << method->service()->full_name();
  }
}

TEST(Words, EveryEnumBeginsUnspecifiedAndItsValuesCarryItsName) {
  for (const pb::EnumDescriptor* one : Enums()) {
    const std::string prefix = UpperSnake(one->name()) + "_";
    EXPECT_EQ(one->value(0)->name(), prefix + "UNSPECIFIED");
    EXPECT_EQ(one->value(0)->number(), 0) << one->full_name();
    for (int i = 0; i < one->value_count(); ++i) {
      EXPECT_EQ(one->value(i)->name().rfind(prefix, 0), 0u) << one->value(i)->full_name();
    }
  }
}

TEST(Words, InstantsEndInTimeAndDaysInDate) {
  for (const pb::Descriptor* message : Messages()) {
    for (int i = 0; i < message->field_count(); ++i) {
      const pb::FieldDescriptor& field = *message->field(i);
      if (field.message_type() == nullptr) continue;
      const std::string& type = field.message_type()->full_name();
      const bool time = field.name() == "time" || EndsWith(field.name(), "_time");
      const bool date = field.name() == "date" || EndsWith(field.name(), "_date");
      EXPECT_EQ(time, type == "google.protobuf.Timestamp") << field.full_name();
      EXPECT_EQ(date, type == "google.type.Date") << field.full_name();
    }
  }
}

TEST(Words, NumbersAreInt32Int64OrDouble) {
  const std::set<pb::FieldDescriptor::Type> good = {
      pb::FieldDescriptor::TYPE_INT32,  pb::FieldDescriptor::TYPE_INT64,
      pb::FieldDescriptor::TYPE_DOUBLE, pb::FieldDescriptor::TYPE_BOOL,
      pb::FieldDescriptor::TYPE_STRING, pb::FieldDescriptor::TYPE_BYTES,
      pb::FieldDescriptor::TYPE_ENUM,   pb::FieldDescriptor::TYPE_MESSAGE};
  for (const pb::Descriptor* message : Messages()) {
    for (int i = 0; i < message->field_count(); ++i) {
      EXPECT_EQ(good.count(message->field(i)->type()), 1u) << message->field(i)->full_name();
    }
  }
}

// A double without a unit of measure in its name takes its unit from the checklist, or from the
// field `unit` beside it or of the measure that it belongs to.
TEST(Words, MeasuresEndInTheirUnit) {
  const std::set<const char*> kMeasures = {
      "_deg",         "_deg_per_min",
      "_c",            // degrees Celsius
      "_share",        // of 1
      "_probability",  // of 1
      "_hours",
      "_reading",  // in the checklist's unit of measure
      "_units",       "_unit_days",   "_days",  "_ratio", "_per_day",      "_per_year",
      "_failures",    "_turns",       "_shape", "_slope", "_in_lead_time",
  };
  const std::set<std::string> by_checklist = {
      "ferrule.v1.Reading.value",       "ferrule.v1.FailedItem.value",
      "ferrule.v1.ChecklistItem.min",   "ferrule.v1.ChecklistItem.max",
      "ferrule.v1.ElectricalLimit.min", "ferrule.v1.ElectricalLimit.max",
      "ferrule.v1.Measure.value",       "ferrule.v1.MeasurePart.value",
      "ferrule.v1.MeasureRecord.value"};
  std::set<std::string> seen;
  for (const pb::Descriptor* message : Messages()) {
    for (int i = 0; i < message->field_count(); ++i) {
      const pb::FieldDescriptor& field = *message->field(i);
      if (field.type() != pb::FieldDescriptor::TYPE_DOUBLE) continue;
      if (by_checklist.count(field.full_name()) == 1) {
        seen.insert(field.full_name());
        continue;
      }
      const bool beside =
          EndsWith(field.name(), "_value") && message->FindFieldByName("unit") != nullptr;
      const bool named = std::any_of(kMeasures.begin(), kMeasures.end(), [&](const char* measure) {
        return EndsWith(field.name(), measure);
      });
      EXPECT_TRUE(beside || named) << field.full_name();
    }
  }
  EXPECT_EQ(seen, by_checklist);
}

TEST(Words, AmountsAreWholeHundredths) {
  for (const pb::Descriptor* message : Messages()) {
    for (int i = 0; i < message->field_count(); ++i) {
      const pb::FieldDescriptor& field = *message->field(i);
      const bool amount = field.name().find("cost") != std::string::npos ||
                          field.name().find("price") != std::string::npos ||
                          field.name().find("amount") != std::string::npos;
      if (!amount) continue;
      EXPECT_TRUE(EndsWith(field.name(), "_minor")) << field.full_name();
      EXPECT_EQ(field.type(), pb::FieldDescriptor::TYPE_INT64) << field.full_name();
    }
  }
}

TEST(Words, EveryMethodHasARequestAndAResponseOfItsOwn) {
  for (const pb::MethodDescriptor* method : Methods()) {
    EXPECT_EQ(method->input_type()->name(), method->name() + "Request");
    EXPECT_EQ(method->output_type()->name(), method->name() + "Response");
    EXPECT_FALSE(method->client_streaming()) << method->full_name();
  }
}

TEST(Words, EveryMethodBeginsWithAVerbOfTheContract) {
  const std::set<std::string> verbs = {"Assess",  "Cure",   "Erase",  "Export", "Get",    "Import",
                                       "Issue",   "List",   "Put",    "Record", "Replay", "Report",
                                       "Resolve", "Revoke", "Submit", "Watch"};
  for (const pb::MethodDescriptor* method : Methods()) {
    const auto end = std::find_if(method->name().begin() + 1, method->name().end(), [](char c) {
      return std::isupper(static_cast<unsigned char>(c)) != 0;
    });
    EXPECT_EQ(verbs.count(std::string(method->name().begin(), end)), 1u) << method->full_name();
  }
}

// The ledger is paged by position, which a client keeps for ever; everything else by token.
TEST(Words, EveryListIsPaged) {
  int lists = 0;
  for (const pb::MethodDescriptor* method : Methods()) {
    if (method->name().rfind("List", 0) != 0) continue;
    ++lists;
    const bool ledger = method->name() == "ListEntries";
    const pb::Descriptor& request = *method->input_type();
    const pb::Descriptor& response = *method->output_type();
    EXPECT_NE(request.FindFieldByName("page_size"), nullptr) << method->full_name();
    EXPECT_NE(request.FindFieldByName(ledger ? "after_sequence" : "page_token"), nullptr)
        << method->full_name();
    EXPECT_NE(response.FindFieldByName(ledger ? "next_after_sequence" : "next_page_token"), nullptr)
        << method->full_name();
    ASSERT_GE(response.field_count(), 1);
    EXPECT_TRUE(response.field(0)->is_repeated()) << method->full_name();
  }
  EXPECT_GE(lists, 5);
}

TEST(Words, EveryFactSaysWhichSubjectsItHas) {
  const pb::Descriptor* fact = nullptr;
  for (const pb::Descriptor* message : Messages()) {
    if (message->full_name() == "ferrule.v1.Fact") fact = message;
  }
  ASSERT_NE(fact, nullptr);
  const pb::OneofDescriptor* what = fact->FindOneofByName("what");
  ASSERT_NE(what, nullptr);
  EXPECT_GE(what->field_count(), 30);
  for (int i = 0; i < what->field_count(); ++i) {
    const std::string comment = CommentOf(*what->field(i)->message_type());
    EXPECT_NE(comment.find("Subject"), std::string::npos) << what->field(i)->full_name();
  }
}

}  // namespace
}  // namespace ferrule::words
