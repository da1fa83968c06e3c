#include "core/depot/settings_text.h"

#include <algorithm>
#include <utility>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "core/depot/settings_source.h"
#include "google/protobuf/io/tokenizer.h"
#include "google/protobuf/text_format.h"

namespace ferrule::depot {
namespace {

using google::protobuf::FieldDescriptor;
using google::protobuf::TextFormat;

constexpr size_t kMostErrors = 100;

struct Complaint {
  int line = 0;    // from 0
  int column = 0;  // from 0
  std::string message;
};

// Keeps the parser's first complaint: what follows it is mostly its echo.
class FirstComplaint : public google::protobuf::io::ErrorCollector {
 public:
  void AddError(int line, int column, const std::string& message) override {
    if (message_.empty()) complaint_ = {line, column, message};
    message_ = message;
  }
  const Complaint& get() const { return complaint_; }

 private:
  Complaint complaint_;
  std::string message_;
};

template <typename Type, typename Count, typename Get>
std::string Names(const Type& type, Count count, Get get, int from) {
  std::string names;
  for (int i = from; i < (type.*count)(); ++i) {
    absl::StrAppend(&names, names.empty() ? "" : ", ", (type.*get)(i)->name());
  }
  return names;
}

std::string FieldsOf(const google::protobuf::Descriptor& type) {
  using D = google::protobuf::Descriptor;
  return Names(type, &D::field_count, &D::field, 0);
}

std::string ValuesOf(const google::protobuf::EnumDescriptor& type) {
  using E = google::protobuf::EnumDescriptor;
  return Names(type, &E::value_count, &E::value, 1);
}

// What a field takes, for people.
std::string Wanted(const FieldDescriptor& field) {
  switch (field.cpp_type()) {
    case FieldDescriptor::CPPTYPE_ENUM:
      return absl::StrCat("one of ", ValuesOf(*field.enum_type()));
    case FieldDescriptor::CPPTYPE_STRING:
      return "a text in quotes";
    case FieldDescriptor::CPPTYPE_BOOL:
      return "true or false";
    case FieldDescriptor::CPPTYPE_DOUBLE:
      return "a number";
    case FieldDescriptor::CPPTYPE_MESSAGE:
      return "a block in braces";
    default:
      return "a whole number";
  }
}

SettingsError InWords(const Complaint& complaint, const Statement* at) {
  SettingsError error{complaint.line + 1, "", ""};
  const bool unknown = at != nullptr && at->field == nullptr && at->within != nullptr;
  const bool twice = complaint.message.find("multiple times") != std::string::npos;
  if (at != nullptr) error.field = at->path;
  if (unknown || twice || (at != nullptr && !at->block)) error.line = at->line;
  if (unknown) {
    error.message = absl::StrCat("there is no such field: known are ", FieldsOf(*at->within));
  } else if (twice) {
    error.message = "is given twice: give it once";
  } else if (at != nullptr && at->field != nullptr && !at->block) {
    error.message = absl::StrCat("cannot be read: give ", Wanted(*at->field));
  } else {
    error.message = absl::StrCat("cannot be read (", complaint.message,
                                 "): check braces, colons and quotes here");
  }
  return error;
}

// Parses once; the first complaint when it fails.
bool ParseOnce(const std::string& text, v1::Settings* settings, Complaint* complaint) {
  FirstComplaint first;
  TextFormat::Parser parser;
  parser.RecordErrorsTo(&first);
  settings->Clear();
  if (parser.ParseFromString(text, settings)) return true;
  *complaint = first.get();
  return false;
}

// Makes a statement blank without moving anything else.
void Blank(const Statement& statement, std::string* text) {
  for (size_t i = statement.begin; i < statement.end && i < text->size(); ++i) {
    char& c = (*text)[i];
    if (c != '\n' && c != '\t' && c != '\r') c = ' ';
  }
}

// The parser stops at its first error, so that each statement found wrong is made blank and the
// rest is read again, as long as that tells something new.
std::vector<SettingsError> SyntaxErrors(const SettingsSource& source, std::string text,
                                        v1::Settings* settings) {
  std::vector<SettingsError> errors;
  std::vector<const Statement*> blanked;
  Complaint complaint;
  while (errors.size() < kMostErrors && !ParseOnce(text, settings, &complaint)) {
    const Statement* at = source.At(complaint.line, complaint.column, complaint.message);
    errors.push_back(InWords(complaint, at));
    const bool can_go_on = at != nullptr && at->closed && (!at->block || at->field == nullptr) &&
                           std::find(blanked.begin(), blanked.end(), at) == blanked.end();
    if (!can_go_on) break;
    Blank(*at, &text);
    blanked.push_back(at);
  }
  return errors;
}

absl::Status Refusal(const std::vector<SettingsError>& errors) {
  const SettingsError& first = errors.front();
  std::string message = first.line > 0 ? absl::StrCat("line ", first.line) : "settings";
  if (!first.field.empty()) absl::StrAppend(&message, ", ", first.field);
  absl::StrAppend(&message, ": ", first.message);
  if (errors.size() > 1) absl::StrAppend(&message, " (and ", errors.size() - 1, " more)");
  return absl::InvalidArgumentError(message);
}

}  // namespace

absl::StatusOr<v1::Settings> ParseSettings(std::string_view text,
                                           std::vector<SettingsError>* errors) {
  const SettingsSource source(text);
  v1::Settings settings;
  *errors = SyntaxErrors(source, std::string(text), &settings);
  if (errors->empty()) {
    *errors = ValidateSettings(settings);
    for (SettingsError& e : *errors) e.line = source.LineOf(e.field);
  }
  if (errors->empty()) return settings;
  std::stable_sort(errors->begin(), errors->end(),
                   [](const auto& a, const auto& b) { return a.line < b.line; });
  return Refusal(*errors);
}

std::string FormatSettings(const v1::Settings& settings) {
  TextFormat::Printer printer;
  printer.SetUseUtf8StringEscaping(true);
  std::string text;
  printer.PrintToString(settings, &text);
  return text;
}

}  // namespace ferrule::depot
