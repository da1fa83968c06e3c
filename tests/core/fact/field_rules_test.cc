#include "core/fact/field_rules.h"

#include <gtest/gtest.h>

#include <fstream>
#include <set>
#include <string>
#include <vector>

#include "ferrule/v1/facts.pb.h"
#include "google/protobuf/descriptor.h"
#include "google/protobuf/descriptor.pb.h"

namespace ferrule::fact {
namespace {

using google::protobuf::Descriptor;
using google::protobuf::FieldDescriptor;

// The words of the ground as they are written, comments included.
class Words : public ::testing::Test {
 protected:
  void SetUp() override {
    std::ifstream in(FERRULE_DESCRIPTOR_SET, std::ios::binary);
    google::protobuf::FileDescriptorSet set;
    ASSERT_TRUE(set.ParseFromIstream(&in));
    for (const auto& file : set.file()) ASSERT_NE(pool_.BuildFile(file), nullptr) << file.name();
    const auto* facts = pool_.FindFileByName("ferrule/v1/facts.proto");
    ASSERT_NE(facts, nullptr);
    Add(facts->FindMessageTypeByName("Entry"));
  }

  // Every message that an entry holds, but those that are checked elsewhere.
  void Add(const Descriptor* type) {
    if (type->file()->package() != "ferrule.v1" || type->name() == "Settings") return;
    if (!seen_.insert(type->name()).second) return;
    for (int i = 0; i < type->field_count(); ++i) {
      fields_.push_back(type->field(i));
      if (type->field(i)->message_type() != nullptr) Add(type->field(i)->message_type());
    }
  }

  static std::string CommentOf(const FieldDescriptor& field) {
    google::protobuf::SourceLocation at;
    return field.GetSourceLocation(&at) ? at.leading_comments : "";
  }

  static const FieldRule& Rule(const FieldDescriptor& field) {
    return RuleOf(field.containing_type()->name(), field.name());
  }

  google::protobuf::DescriptorPool pool_;
  std::set<std::string> seen_;
  std::vector<const FieldDescriptor*> fields_;
};

TEST_F(Words, SayRequiredWhereTheRulesDo) {
  int required = 0;
  for (const FieldDescriptor* field : fields_) {
    const bool said = CommentOf(*field).find("REQUIRED") != std::string::npos;
    const bool number = field->cpp_type() == FieldDescriptor::CPPTYPE_INT64 ||
                        field->cpp_type() == FieldDescriptor::CPPTYPE_DOUBLE;
    // A number without presence is 0 when it is left out: nothing tells the two apart.
    if (number && !field->has_presence()) continue;
    // A reference stands in states too, where it may be unset; in an entry it must name an entry.
    const bool reference = field->full_name() == "ferrule.v1.FactRef.entry_id";
    EXPECT_EQ(Rule(*field).required, said || reference) << field->full_name();
    required += said;
  }
  EXPECT_GT(required, 80);
}

TEST_F(Words, GiveTheLengthsThatTheRulesHave) {
  int lengths = 0;
  for (const FieldDescriptor* field : fields_) {
    const std::string comment = CommentOf(*field);
    for (const auto& [words, longest] :
         {std::pair("1 to 64 characters", 64), std::pair("1 to 500 characters", 500),
          std::pair("at most 32 characters", 32), std::pair("At most 2,000 characters", 2000)}) {
      if (comment.find(words) == std::string::npos) continue;
      EXPECT_EQ(Rule(*field).longest, longest) << field->full_name();
      ++lengths;
    }
  }
  EXPECT_GE(lengths, 12);
}

TEST_F(Words, CallFieldsOfSubjectsByBareIds) {
  const std::set<std::string> kSubjects = {"unit", "unit_in", "unit_out", "order", "part", "lot"};
  for (const FieldDescriptor* field : fields_) {
    if (kSubjects.count(field->name()) == 0) continue;
    EXPECT_EQ(Rule(*field).form, Form::kId) << field->full_name();
  }
}

TEST_F(Words, BoundEveryNumberOfSecondsAndMoney) {
  for (const FieldDescriptor* field : fields_) {
    const std::string& name = field->name();
    const bool seconds = name.size() > 2 && name.substr(name.size() - 2) == "_s";
    const bool money = name.find("_minor") != std::string::npos;
    if (!seconds && !money) continue;
    EXPECT_GE(Rule(*field).least, 0) << field->full_name();
    EXPECT_LE(Rule(*field).most, money ? kMostMinor : kMostSeconds) << field->full_name();
  }
}

}  // namespace
}  // namespace ferrule::fact
