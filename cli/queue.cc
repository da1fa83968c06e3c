// The queue of messages that wait, their cure, and orders' status for those who sent them.
#include <fstream>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "cli/catalog.h"
#include "cli/render_table.h"
#include "cli/render_words.h"
#include "cli/session.h"
#include "core/fact/counted.h"
#include "core/fact/words.h"
#include "core/time/civil.h"
#include "ferrule/v1/intake_service.grpc.pb.h"

namespace ferrule::cli {
namespace {

using Stub = v1::IntakeService::StubInterface;

struct StateWord {
  const char* word;
  v1::MessageState state;
};
constexpr StateWord kStates[] = {{"queued", v1::MESSAGE_STATE_QUEUED},
                                 {"applied", v1::MESSAGE_STATE_APPLIED},
                                 {"rejected", v1::MESSAGE_STATE_REJECTED},
                                 {"dismissed", v1::MESSAGE_STATE_DISMISSED},
                                 {"nothing", v1::MESSAGE_STATE_NOTHING_TO_DO}};

std::string StateText(v1::MessageState state) {
  for (const StateWord& one : kStates) {
    if (one.state == state) return one.word;
  }
  return "other";
}

std::string FullMessage(const std::string& typed) {
  return absl::StartsWith(typed, "messages/") ? typed : absl::StrCat("messages/", typed);
}

std::string Reasons(const v1::IntakeMessage& message) {
  std::string text;
  for (const v1::Trouble& trouble : message.troubles()) {
    absl::StrAppend(&text, text.empty() ? "" : "; ", trouble.where(),
                    trouble.where().empty() ? "" : " ", trouble.text(),
                    trouble.found().empty() ? "" : absl::StrCat(" (", trouble.found(), ")"));
  }
  return text;
}

std::string ChangesText(const google::protobuf::RepeatedPtrField<v1::OrderChange>& changes) {
  std::string text;
  for (const v1::OrderChange& change : changes) {
    absl::StrAppend(&text, "  order ", change.order(), " ", change.field(), ": ",
                    change.before().empty() ? "nothing" : change.before(), " -> ",
                    change.after().empty() ? "nothing" : change.after(), "\n");
  }
  return text;
}

absl::Status List(Session& session, const Line& line) {
  v1::ListMessagesRequest request;
  const std::string state = line.Get("--state").value_or("queued");
  for (const StateWord& one : kStates) {
    if (state == one.word) request.set_state(one.state);
  }
  request.set_sender(line.Get("--sender").value_or(""));
  request.set_page_size(1000);
  v1::ListMessagesResponse all;
  while (true) {
    v1::ListMessagesResponse page;
    const absl::Status asked = session.Ask(&Stub::ListMessages, request, &page);
    if (!asked.ok()) return asked;
    all.mutable_messages()->MergeFrom(page.messages());
    if (page.next_page_token().empty()) break;
    request.set_page_token(page.next_page_token());
  }
  const absl::TimeZone zone = session.zones().OfBranch("");
  Table table({{"message"}, {"sender"}, {"kind"}, {"received"}, {"order"}, {"reason"}, {"cure"}});
  for (const v1::IntakeMessage& m : all.messages()) {
    std::string orders;
    for (const std::string& order : m.orders())
      absl::StrAppend(&orders, orders.empty() ? "" : " ", order);
    table.Add({m.name().substr(m.name().find('/') + 1), m.sender(),
               std::string(fact::MessageKindWords(m.kind())), Local(m.received_time(), zone),
               orders, Reasons(m), m.troubles().empty() ? "" : m.troubles(0).cure()});
  }
  session.Show(all, table,
               table.empty() ? absl::StrCat("no ", state, " messages\n") : table.Text());
  return absl::OkStatus();
}

absl::Status ShowMessage(Session& session, const Line& line) {
  v1::GetMessageRequest request;
  request.set_name(FullMessage(line.Arg("MESSAGE")));
  request.set_with_content(line.Has("--content"));
  v1::GetMessageResponse response;
  const absl::Status asked = session.Ask(&Stub::GetMessage, request, &response);
  if (!asked.ok()) return asked;
  const v1::IntakeMessage& m = response.message();
  const absl::TimeZone zone = session.zones().OfBranch("");
  std::string text = absl::StrCat(m.name(), ": ", StateText(m.state()), ", ",
                                  std::string(fact::MessageKindWords(m.kind())), " from ",
                                  m.sender().empty() ? "an unknown sender" : m.sender(),
                                  ", received ", Local(m.received_time(), zone), ", came ",
                                  fact::Counted(m.arrival_count(), "time\n", "times\n"));
  for (const std::string& order : m.orders()) absl::StrAppend(&text, "  order ", order, "\n");
  for (const v1::Trouble& trouble : m.troubles()) {
    absl::StrAppend(&text, "  ", trouble.where(), trouble.where().empty() ? "" : " ",
                    trouble.text(),
                    trouble.found().empty() ? "" : absl::StrCat(" (", trouble.found(), ")"),
                    "\n    cure: ", trouble.cure(), "\n");
  }
  if (!m.decided_by().empty()) {
    absl::StrAppend(&text, "  decided by ", m.decided_by(), ": ", m.because(), "\n");
  }
  if (m.erased()) absl::StrAppend(&text, "  its bytes were erased\n");
  if (!m.content().empty()) {
    std::string shown = m.content();
    for (char& c : shown) {
      if (c == '\r') c = '\n';
    }
    absl::StrAppend(&text, "\n", shown, "\n");
  }
  Table table({{"message"}, {"state"}, {"sender"}, {"reason"}});
  table.Add({m.name(), StateText(m.state()), m.sender(), Reasons(m)});
  session.Show(response, table, text);
  return absl::OkStatus();
}

absl::StatusOr<std::string> Actor(const Line& line) {
  const auto actor = line.GetOrEnv("--as", "FERRULE_ACTOR");
  if (actor.has_value()) return *actor;
  return absl::InvalidArgumentError("say who decides: --as ACTOR (or FERRULE_ACTOR)");
}

absl::Status Cure(Session& session, const Line& line) {
  const auto actor = Actor(line);
  if (!actor.ok()) return actor.status();
  v1::CureMessageRequest request;
  request.set_name(FullMessage(line.Arg("MESSAGE")));
  request.set_actor(*actor);
  request.set_because(line.Get("--because").value_or(""));
  request.set_validate_only(line.Has("--check"));
  const int chosen = int(line.Has("--order")) + int(line.Has("--new")) + int(line.Has("--dismiss"));
  if (chosen > 1) return absl::InvalidArgumentError("give one of --order, --new and --dismiss");
  if (line.Has("--order")) {
    request.set_same_as_order(*line.Get("--order"));
  } else if (line.Has("--new")) {
    request.set_new_order(true);
  } else if (line.Has("--dismiss")) {
    request.set_dismiss(true);
  } else {
    request.set_replay(true);
  }
  v1::CureMessageResponse response;
  const absl::Status asked = session.Ask(&Stub::CureMessage, request, &response);
  if (!asked.ok()) return asked;
  const v1::IntakeMessage& m = response.message();
  std::string text = absl::StrCat(m.name(), line.Has("--check") ? " would be " : " is now ",
                                  StateText(m.state()), "\n");
  if (!m.troubles().empty() && !request.dismiss()) {
    absl::StrAppend(&text, "  still: ", Reasons(m), "\n    cure: ", m.troubles(0).cure(), "\n");
  }
  absl::StrAppend(&text, ChangesText(response.changes()));
  Table table({{"message"}, {"state"}, {"reason"}});
  table.Add({m.name(), StateText(m.state()), Reasons(m)});
  session.Show(response, table, text);
  return absl::OkStatus();
}

absl::Status Replay(Session& session, const Line& line) {
  v1::ReplayMessagesRequest request;
  request.set_sender(line.Get("--sender").value_or(""));
  request.set_validate_only(line.Has("--check"));
  v1::ReplayMessagesResponse all;
  while (true) {
    v1::ReplayMessagesResponse page;
    const absl::Status asked = session.Ask(&Stub::ReplayMessages, request, &page);
    if (!asked.ok()) return asked;
    all.set_tried_count(all.tried_count() + page.tried_count());
    all.set_applied_count(all.applied_count() + page.applied_count());
    all.set_queued_count(all.queued_count() + page.queued_count());
    all.mutable_changes()->MergeFrom(page.changes());
    if (page.next_page_token().empty()) break;
    request.set_page_token(page.next_page_token());
  }
  Table table({{"tried", true}, {"applied", true}, {"queued", true}});
  table.Add({absl::StrCat(all.tried_count()), absl::StrCat(all.applied_count()),
             absl::StrCat(all.queued_count())});
  std::string text = absl::StrCat(all.tried_count(), " taken again: ", all.applied_count(),
                                  line.Has("--check") ? " would be applied, " : " applied, ",
                                  all.queued_count(), " still waiting\n");
  if (line.Has("--check")) absl::StrAppend(&text, ChangesText(all.changes()));
  session.Show(all, table, text);
  return absl::OkStatus();
}

absl::Status Erase(Session& session, const Line& line) {
  const auto actor = Actor(line);
  if (!actor.ok()) return actor.status();
  if (!line.Has("--because")) {
    return absl::InvalidArgumentError("say why the message is erased: --because TEXT");
  }
  v1::EraseMessageRequest request;
  request.set_name(FullMessage(line.Arg("MESSAGE")));
  request.set_actor(*actor);
  request.set_because(*line.Get("--because"));
  v1::EraseMessageResponse response;
  const absl::Status asked = session.Ask(&Stub::EraseMessage, request, &response);
  if (!asked.ok()) return asked;
  Table table({{"message"}, {"erased"}});
  table.Add({response.message().name(), "yes"});
  session.Show(response, table,
               absl::StrCat(response.message().name(), ": its bytes are erased\n"));
  return absl::OkStatus();
}

absl::Status Export(Session& session, const Line& line) {
  v1::ExportOrderRequest request;
  const std::string order = line.Arg("ORDER");
  request.set_name(absl::StartsWith(order, "orders/") ? order : absl::StrCat("orders/", order));
  request.set_format(line.Get("--as-format").value_or("fhir") == "hl7" ? v1::EXPORT_FORMAT_HL7_V2
                                                                       : v1::EXPORT_FORMAT_FHIR_R4);
  if (!line.Has("--referrer")) {
    return absl::InvalidArgumentError("say for whom: --referrer SENDER, from the settings");
  }
  request.set_referrer(*line.Get("--referrer"));
  const auto known = session.KnownAt();
  if (!known.ok()) return known.status();
  if (known->has_value()) time::SetMicros(**known, request.mutable_known_time());
  v1::ExportOrderResponse response;
  const absl::Status asked = session.Ask(&Stub::ExportOrder, request, &response);
  if (!asked.ok()) return asked;
  Table table({{"order"}, {"media_type"}});
  table.Add({order, response.media_type()});
  std::string shown = response.content();
  for (char& c : shown) {
    if (c == '\r') c = '\n';
  }
  session.Show(response, table, shown.back() == '\n' ? shown : shown + "\n");
  return absl::OkStatus();
}

}  // namespace

void AddQueueCommands(Catalog* catalog) {
  constexpr auto kGroup = Group::kKeep;
  const Positional message{"MESSAGE", "the message, as the queue names it"};
  const Flag sender{"--sender", "SENDER", "only this sender's"};
  catalog->push_back({"queue",
                      kGroup,
                      Kind::kReads,
                      "list messages of other systems that wait, with the reason and the cure",
                      {},
                      {sender,
                       {"--state", "STATE", "those in this state instead", false,
                        "queued applied rejected dismissed nothing"}},
                      "ferrule queue",
                      List});
  catalog->push_back({"queue show",
                      kGroup,
                      Kind::kReads,
                      "show one message and what became of it",
                      {message},
                      {{"--content", "", "with its bytes, which hold a patient's particulars"}},
                      "ferrule queue show m-4f2a",
                      ShowMessage});
  catalog->push_back({"queue cure",
                      kGroup,
                      Kind::kRecords,
                      "take a waiting message again, for an order that you name, or set it aside",
                      {message},
                      {{"--order", "ORDER", "it belongs to this order"},
                       {"--new", "", "it is an order of its own"},
                       {"--dismiss", "", "set it aside; needs --because"}},
                      "ferrule queue cure m-4f2a --order R-2001",
                      Cure});
  catalog->push_back({"queue replay",
                      kGroup,
                      Kind::kRecords,
                      "take every waiting message again, after the settings have changed",
                      {},
                      {sender},
                      "ferrule queue replay --check",
                      Replay});
  catalog->push_back({"queue erase",
                      kGroup,
                      Kind::kRecords,
                      "erase a message's bytes; its digest and what became of it stay",
                      {message},
                      {},
                      "ferrule queue erase m-4f2a --because 'retention has ended'",
                      Erase});
  catalog->push_back({"export",
                      kGroup,
                      Kind::kReads,
                      "print an order's status as HL7 or FHIR for the referrer whose order it is",
                      {{"ORDER", "the order"}},
                      {{"--referrer", "SENDER", "for whom, from the settings"},
                       {"--as-format", "FORMAT", "fhir (default) or hl7", false, "fhir hl7"}},
                      "ferrule export R-2001 --referrer clinic-ehr --as-format hl7",
                      Export});
}

}  // namespace ferrule::cli
