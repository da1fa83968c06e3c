// Opens core/exchange to tests in other languages: one request a line of standard input as JSON,
// one answer a line of standard output.
//   {"do": "parse", "text": ...}            a message as segments, fields, repetitions, components
//   {"do": "escape" | "unescape", "text"}   with the usual delimiters
//   {"do": "answer", "text", "id", "state"} the acknowledgement of a message that came to that end
//   {"do": "csv", "text"}                   the records of a table
//   {"do": "check", "resource"}             what is wrong with a FHIR resource: paths
//   {"do": "read", "resource"}              what an order says: numbers and troubles
//   {"do": "table"}                         the elements of FHIR as they are in code
//   {"do": "date", "text"}                  whether a text is a FHIR dateTime
#include <iostream>
#include <string>

#include "core/exchange/csv.h"
#include "core/exchange/fhir_check.h"
#include "core/exchange/fhir_table.h"
#include "core/exchange/hl7.h"
#include "core/exchange/hl7_text.h"
#include "core/exchange/news.h"

namespace ferrule::exchange {
namespace {

Json Troubles(const std::vector<v1::Trouble>& troubles) {
  Json out = Json::array();
  for (const v1::Trouble& t : troubles) {
    out.push_back({{"kind", v1::TroubleKind_Name(t.kind()).substr(13)},
                   {"where", t.where()},
                   {"text", t.text()}});
  }
  return out;
}

Json Parse(const std::string& text) {
  const auto message = ParseHl7(text);
  if (!message.ok()) return {{"error", std::string(message.status().message())}};
  Json segments = Json::array();
  for (const Hl7Segment& segment : message->segments) {
    Json fields = Json::array({segment.name()});
    for (const Hl7Field& field : segment.fields()) {
      Json repetitions = Json::array();
      for (const Hl7Repetition& repetition : field) repetitions.push_back(repetition);
      fields.push_back(repetitions);
    }
    segments.push_back(fields);
  }
  return {{"segments", segments}, {"composed", ComposeHl7(*message)}};
}

Json Answer(const Json& ask) {
  Hl7Answer answer;
  answer.state = static_cast<v1::MessageState>(ask["state"].get<int>());
  answer.control_id = ask["id"];
  answer.now_us = 1'772'360'000'000'000;
  return ComposeAnswer(ReadHl7Header(ask["text"].get<std::string>()), answer);
}

Json Read(const Json& resource) {
  v1::Sender sender;
  sender.set_id("probe");
  sender.set_branch("north");
  const Reading reading = ReadFhir(resource.dump(), {&sender, absl::UTCTimeZone()});
  Json numbers = Json::array();
  for (const OrderNews& news : reading.orders) numbers.push_back(news.number);
  return {{"orders", numbers}, {"troubles", Troubles(reading.troubles)}};
}

Json Records(const std::string& text) {
  Json out = Json::array();
  for (const CsvRecord& record : CsvReader().Feed(text, true)) {
    out.push_back({{"fields", record.fields}, {"wrong", record.wrong}, {"line", record.line}});
  }
  return out;
}

Json Table() {
  Json out = Json::array();
  for (const FhirElement& e : FhirElements()) {
    out.push_back({{"path", e.path},
                   {"min", e.min},
                   {"max", e.max == FhirElement::kMany ? -1 : e.max},
                   {"types", e.types},
                   {"codes", e.codes}});
  }
  return out;
}

Json Do(const Json& ask) {
  const std::string what = ask["do"];
  const std::string text = ask.value("text", "");
  if (what == "parse") return Parse(text);
  if (what == "escape") return EscapeHl7(text, Delimiters());
  if (what == "unescape") return UnescapeHl7(text, Delimiters());
  if (what == "answer") return Answer(ask);
  if (what == "csv") return Records(text);
  if (what == "check") return Troubles(CheckFhir(ask["resource"], "R"));
  if (what == "read") return Read(ask["resource"]);
  if (what == "table") return Table();
  if (what == "date") return IsFhirDate(text, true);
  return {{"error", "not known: " + what}};
}

}  // namespace
}  // namespace ferrule::exchange

int main() {
  std::string line;
  while (std::getline(std::cin, line)) {
    const auto ask = nlohmann::json::parse(line);
    std::cout << ferrule::exchange::Do(ask).dump(-1, ' ', true,
                                                 nlohmann::json::error_handler_t::replace)
              << std::endl;
  }
  return 0;
}
