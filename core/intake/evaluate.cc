// What a message means for the records as they stand: read by its sender's settings, its orders
// found, and the entry made. Nothing is written here.
#include <algorithm>

#include "absl/strings/str_cat.h"
#include "core/exchange/csv.h"
#include "core/exchange/csv_fields.h"
#include "core/exchange/hl7_text.h"
#include "core/fact/subject.h"
#include "core/fact/utf8.h"
#include "core/fact/validate.h"
#include "core/intake/digest.h"
#include "core/intake/intake.h"
#include "core/time/civil.h"

namespace ferrule::intake {
namespace {

using exchange::OrderNews;
using exchange::TroubleAt;

constexpr size_t kPatientDigits = 20;
constexpr size_t kMessageDigits = 24;
constexpr size_t kMostOrders = 30;  // of one message: an entry holds 100 facts, three an order

const v1::Sender* FindSender(const v1::Settings& settings, const std::string& id) {
  for (const v1::Sender& sender : settings.senders()) {
    if (sender.id() == id) return &sender;
  }
  return nullptr;
}

// By application and facility, or by the application alone when a sender names no facility.
const v1::Sender* FindSystem(const v1::Settings& settings, std::string_view application,
                             std::string_view facility) {
  const v1::Sender* found = nullptr;
  for (const v1::Sender& sender : settings.senders()) {
    if (sender.hl7_application().empty() || sender.hl7_application() != application) continue;
    if (sender.hl7_facility() == facility) return &sender;
    if (sender.hl7_facility().empty()) found = &sender;
  }
  return found;
}

absl::TimeZone ZoneOfSender(const v1::Sender& sender, const depot::Rules& rules) {
  if (!sender.time_zone().empty()) {
    if (const auto zone = time::Zone(sender.time_zone()); zone.ok()) return *zone;
  }
  return rules.ZoneOf(sender.branch());
}

void Add(v1::Trouble trouble, Evaluation* e) { *e->message.add_troubles() = std::move(trouble); }

v1::Trouble UnknownSender(std::string_view where, std::string_view found) {
  return TroubleAt(v1::TROUBLE_KIND_SENDER_UNKNOWN, where,
                   "names a sender that is not in the settings",
                   "put the sender into the settings, then replay", found);
}

const v1::CsvMapping* FindMapping(const v1::Sender& sender, v1::ImportKind kind,
                                  const std::string& id) {
  static const v1::CsvMapping& plain = *new v1::CsvMapping;
  const v1::CsvMapping* only = nullptr;
  int count = 0;
  for (const v1::CsvMapping& mapping : sender.csv()) {
    if (mapping.kind() != kind) continue;
    if (mapping.id() == id) return &mapping;
    only = &mapping;
    ++count;
  }
  if (!id.empty()) return nullptr;
  return count == 0 ? &plain : count == 1 ? only : nullptr;
}

exchange::Reading ReadCsvMessage(const v1::SubmitMessageRequest& request,
                                 const exchange::ReadOptions& options) {
  exchange::Reading out;
  const v1::CsvMapping* mapping =
      FindMapping(*options.sender, v1::IMPORT_KIND_ORDERS, request.mapping());
  if (mapping == nullptr) {
    out.troubles.push_back(TroubleAt(v1::TROUBLE_KIND_SENDER_UNKNOWN, "mapping",
                                     "is no column mapping of this sender, or there are several",
                                     "name one of the sender's mappings", request.mapping()));
    return out;
  }
  exchange::CsvReader reader(mapping->delimiter().empty() ? ',' : mapping->delimiter()[0]);
  const auto records = reader.Feed(exchange::WithoutMark(request.content()), true);
  if (records.size() != 2 || !records[0].wrong.empty()) {
    out.troubles.push_back(TroubleAt(v1::TROUBLE_KIND_NOT_READABLE, "",
                                     "is not a header with one record below it",
                                     "send the header line and one record"));
    return out;
  }
  if (!records[1].wrong.empty()) {
    out.troubles.push_back(
        TroubleAt(v1::TROUBLE_KIND_NOT_READABLE, "", records[1].wrong, "correct the record"));
    return out;
  }
  exchange::CsvLayout layout =
      exchange::LayOut(v1::IMPORT_KIND_ORDERS, *mapping, records[0].fields);
  if (!layout.troubles.empty()) {
    out.troubles = std::move(layout.troubles);
    return out;
  }
  const auto values = exchange::ValuesOf(layout, records[1].fields, &out.troubles);
  if (!out.troubles.empty()) return out;
  return exchange::ReadCsvOrder(values, *mapping, options);
}

v1::MessageState StateOfTroubles(const v1::IntakeMessage& message) {
  bool nothing = !message.troubles().empty();
  for (const v1::Trouble& trouble : message.troubles()) {
    if (!IsCurable(trouble.kind())) return v1::MESSAGE_STATE_REJECTED;
    nothing &= trouble.kind() == v1::TROUBLE_KIND_NOT_AN_ORDER;
  }
  return nothing ? v1::MESSAGE_STATE_NOTHING_TO_DO : v1::MESSAGE_STATE_QUEUED;
}

bool IsOpen(const v1::OrderState& order) {
  return order.status() == v1::ORDER_STATUS_OPEN || order.status() == v1::ORDER_STATUS_HELD ||
         order.status() == v1::ORDER_STATUS_ON_RENT;
}

}  // namespace

bool IsCurable(v1::TroubleKind kind) {
  switch (kind) {
    case v1::TROUBLE_KIND_SENDER_UNKNOWN:
    case v1::TROUBLE_KIND_CODE_UNMAPPED:
    case v1::TROUBLE_KIND_WAITS_FOR_ORDER:
    case v1::TROUBLE_KIND_POSSIBLE_REPEAT:
    case v1::TROUBLE_KIND_NOT_AN_ORDER:
    case v1::TROUBLE_KIND_NEEDS_DECISION:
    case v1::TROUBLE_KIND_REFUSED:
      return true;
    default:
      return false;
  }
}

absl::StatusOr<Evaluation> Intake::Evaluate(const v1::SubmitMessageRequest& request,
                                            const Decision& decision, bool again) {
  const int64_t now_us = ledger_.clock().NowMicros();
  const auto book = ledger_.Book();
  const depot::Rules& rules = book->At(now_us);
  Evaluation e;
  v1::IntakeMessage& m = e.message;
  m.set_kind(request.kind());
  m.set_content_sha256(Sha256(request.content()));
  m.set_size_bytes(static_cast<int64_t>(request.content().size()));
  m.set_arrival_count(1);
  time::SetMicros(now_us, m.mutable_received_time());

  std::string_view text = request.content();
  exchange::Hl7Text converted;
  const v1::Sender* sender = FindSender(rules.settings(), request.sender());
  std::string message_id = request.sender_message_id();
  // Whose message it is, as it says itself: the same before and after the settings know the sender.
  std::string from = request.sender();
  if (request.kind() == v1::MESSAGE_KIND_HL7_V2) {
    const exchange::Hl7Header header = exchange::ReadHl7Header(text);
    if (request.sender().empty() && header.known) {
      sender = FindSystem(rules.settings(), header.msh.Get(3), header.msh.Get(4));
    }
    if (message_id.empty()) message_id = std::string(header.msh.Get(10));
    from = absl::StrCat(std::string(header.msh.Get(3)), "\n", std::string(header.msh.Get(4)));
    for (v1::Trouble& trouble : exchange::CheckHl7Header(header)) Add(std::move(trouble), &e);
    converted = exchange::ToUtf8(text, sender == nullptr ? "" : sender->character_set());
    for (v1::Trouble& trouble : converted.troubles) {
      if (header.known) Add(std::move(trouble), &e);
    }
    text = converted.utf8;
  }
  if (sender != nullptr) m.set_sender(sender->id());
  if (sender == nullptr && request.kind() != v1::MESSAGE_KIND_HL7_V2) {
    // Nobody answers for the message: the caller is told, who still has it.
    return absl::NotFoundError(absl::StrCat("the settings in force have no sender \"",
                                            request.sender(), "\"; check its id"));
  }
  if (sender == nullptr && m.troubles().empty()) Add(UnknownSender("MSH-3", ""), &e);
  if (m.troubles().empty()) {
    const exchange::ReadOptions options{sender, ZoneOfSender(*sender, rules)};
    e.reading = request.kind() == v1::MESSAGE_KIND_HL7_V2    ? exchange::ReadHl7(text, options)
                : request.kind() == v1::MESSAGE_KIND_FHIR_R4 ? exchange::ReadFhir(text, options)
                                                             : ReadCsvMessage(request, options);
    for (const v1::Trouble& trouble : e.reading.troubles) Add(trouble, &e);
    if (message_id.empty()) message_id = e.reading.message_id;
    if (e.reading.stated_us != 0) time::SetMicros(e.reading.stated_us, m.mutable_stated_time());
  }
  if (!fact::IsUtf8(message_id) || message_id.size() > 200) message_id.clear();
  m.set_sender_message_id(message_id);
  const std::string own = message_id.empty() ? HexDigest(request.content()) : message_id;
  m.set_name(MessageName(
      absl::StrCat("m-", HexDigest(absl::StrCat(from, "\n", own)).substr(0, kMessageDigits))));
  if (!again) {
    // The same id with other content is another message, and wrong.
    auto known = reader_.Find(MessageId(m.name()));
    if (!known.ok()) return known.status();
    if (known->has_value() && (*known)->content_sha256() != m.content_sha256()) {
      m.set_name(MessageName(absl::StrCat(
          "m-", HexDigest(absl::StrCat(from, "\n", own, "\n", HexDigest(request.content())))
                    .substr(0, kMessageDigits))));
      Add(TroubleAt(v1::TROUBLE_KIND_ID_REUSED,
                    request.kind() == v1::MESSAGE_KIND_HL7_V2 ? "MSH-10" : "sender_message_id",
                    "was used before for another message", "send it again under an id of its own"),
          &e);
    }
  }
  if (m.troubles().empty()) {
    absl::Status planned = PlanOrders(*sender, decision, &e);
    if (!planned.ok()) return planned;
  }
  if (m.troubles().empty() && !e.orders.empty()) MakeEntry(*sender, &e);
  if (!m.troubles().empty()) {
    m.set_state(StateOfTroubles(m));
    e.entry.Clear();
    e.numbers.clear();
  } else {
    m.set_state(e.entry.facts().empty() ? v1::MESSAGE_STATE_NOTHING_TO_DO
                                        : v1::MESSAGE_STATE_APPLIED);
    m.set_entry_id(e.entry.entry_id());
  }
  return e;
}

absl::Status Intake::PlanOrders(const v1::Sender& sender, const Decision& decision, Evaluation* e) {
  if (e->reading.orders.size() > kMostOrders) {
    Add(TroubleAt(v1::TROUBLE_KIND_TOO_LARGE, "",
                  absl::StrCat("has more than ", kMostOrders, " orders"),
                  "send the orders in several messages"),
        e);
    return absl::OkStatus();
  }
  if (e->reading.for_patient) return PlanForPatient(sender, e);
  for (OrderNews& news : e->reading.orders) {
    absl::Status planned = PlanOne(sender, decision, &news, e);
    if (!planned.ok()) return planned;
  }
  return absl::OkStatus();
}

absl::StatusOr<ledger::StatePtr> Intake::StateOf(const std::string& order) {
  auto state = ledger_.Get(fact::SubjectName(fact::SubjectKind::kOrder, order));
  if (absl::IsNotFound(state.status())) return ledger::StatePtr();
  return state;
}

// The depot's order that is meant; a trouble is added when a person must say.
absl::StatusOr<std::string> Intake::FindOrder(const v1::Sender& sender, const Decision& decision,
                                              const OrderNews& news, const std::string& patient,
                                              Evaluation* e) {
  if (!decision.same_as_order.empty()) return decision.same_as_order;
  const std::string issuer(exchange::IssuerOf(sender));
  auto known = reader_.OrderOfNumber(issuer, news.number);
  if (!known.ok() || !known->empty()) return known;
  const std::string derived = exchange::OrderIdOf(sender, news.number, HexDigest);
  const std::string key = exchange::ContentKey(patient, news.details);
  if (decision.new_order || key.empty() || news.control != OrderNews::Control::kOrder) {
    return derived;
  }
  auto alike = reader_.OrdersOfContent(key);
  if (!alike.ok()) return alike.status();
  std::vector<std::string> open;
  for (const std::string& order : *alike) {
    auto state = StateOf(order);
    if (!state.ok()) return state.status();
    if (*state != nullptr && IsOpen((*state)->order()) && order != derived) open.push_back(order);
  }
  if (open.empty()) return derived;
  if (open.size() == 1 && sender.match_by_content()) return open.front();
  Add(TroubleAt(
          v1::TROUBLE_KIND_POSSIBLE_REPEAT, "",
          absl::StrCat("has the patient, class, side and day of operation of order ", open.front()),
          "say whether it is the same order or one of its own", open.front()),
      e);
  return derived;
}

absl::Status Intake::PlanOne(const v1::Sender& sender, const Decision& decision, OrderNews* news,
                             Evaluation* e) {
  auto patient = PatientReference(sender, news->patient);
  if (!patient.ok()) return patient.status();
  auto order = FindOrder(sender, decision, *news, *patient, e);
  if (!order.ok()) return order.status();
  auto state = StateOf(*order);
  if (!state.ok()) return state.status();
  e->message.add_orders(*order);
  const v1::OrderState* taken = nullptr;
  if (*state != nullptr && (*state)->order().status() != v1::ORDER_STATUS_UNSPECIFIED) {
    taken = &(*state)->order();
    e->states.push_back(*state);
  }
  if (taken == nullptr && news->control != OrderNews::Control::kOrder) {
    e->message.set_waits_for(*order);
    Add(TroubleAt(v1::TROUBLE_KIND_WAITS_FOR_ORDER, "",
                  absl::StrCat("is about order ", *order, ", which has not come yet"),
                  "wait for the order: this is taken by itself then; or say which order it is"),
        e);
    return absl::OkStatus();
  }
  // By another number the same order was known already: what this source says is a change of it,
  // and its versions cannot be compared with the first one's.
  if (taken != nullptr && news->control == OrderNews::Control::kOrder &&
      taken->sender_reference() != news->number) {
    news->control = OrderNews::Control::kChange;
    news->version = 0;
    news->stated_us = std::max(news->stated_us, time::ToMicros(taken->taken().time()));
  }
  e->orders.push_back({news, *order, *patient, taken});
  e->numbers.push_back({std::string(exchange::IssuerOf(sender)), news->number, *order, *patient,
                        exchange::ContentKey(*patient, news->details)});
  return absl::OkStatus();
}

// A discharge or a moved operation: for the one order meant, or the orders of one operation.
absl::Status Intake::PlanForPatient(const v1::Sender& sender, Evaluation* e) {
  if (e->reading.orders.empty()) return absl::OkStatus();
  OrderNews& news = e->reading.orders.front();
  auto patient = PatientReference(sender, news.patient);
  if (!patient.ok()) return patient.status();
  std::vector<std::string> ids;
  if (!news.number.empty()) {
    auto known = reader_.OrderOfNumber(std::string(exchange::IssuerOf(sender)), news.number);
    if (!known.ok()) return known.status();
    if (!known->empty()) ids.push_back(*known);
  }
  if (ids.empty()) {
    auto all = reader_.OrdersOfPatient(*patient);
    if (!all.ok()) return all.status();
    ids = *std::move(all);
  }
  bool one_operation = true;
  for (const std::string& id : ids) {
    auto state = StateOf(id);
    if (!state.ok()) return state.status();
    if (*state == nullptr || !IsOpen((*state)->order())) continue;
    if (!e->states.empty()) {
      one_operation &= e->states.front()->order().details().surgery_date().SerializeAsString() ==
                       (*state)->order().details().surgery_date().SerializeAsString();
    }
    e->states.push_back(*state);
    e->orders.push_back({&news, id, "", &(*state)->order()});
    e->message.add_orders(id);
  }
  if (one_operation) return absl::OkStatus();
  Add(TroubleAt(v1::TROUBLE_KIND_NEEDS_DECISION, "PID-3",
                "the patient has open orders for several operations",
                "record the day on the order that is meant, then set this aside"),
      e);
  return absl::OkStatus();
}

void Intake::MakeEntry(const v1::Sender& sender, Evaluation* e) {
  const int64_t now_us = time::ToMicros(e->message.received_time());
  exchange::MessageFacts facts;
  facts.message = std::string(MessageId(e->message.name()));
  facts.entry_id = absl::StrCat("in-", facts.message);
  facts.actor = absl::StrCat("intake/", sender.id()).substr(0, 64);
  facts.sha256 = HexOf(e->message.content_sha256());
  facts.kind = e->message.kind();
  facts.sender = &sender;
  facts.settings_version = ledger_.Book()->At(now_us).settings().version();
  facts.now_us = now_us;
  e->entry = exchange::EntryOf(e->orders, facts);
  for (const fact::Violation& violation : fact::Validate(e->entry)) {
    Add(TroubleAt(v1::TROUBLE_KIND_REFUSED, violation.field, violation.description,
                  "ask the sender to correct it, or enter the order by hand"),
        e);
  }
}

absl::StatusOr<std::string> Intake::PatientReference(const v1::Sender& sender,
                                                     const std::string& number) {
  if (number.empty()) return std::string();
  std::lock_guard lock(secret_mutex_);
  if (secret_.empty()) {
    auto known = reader_.Secret();
    if (!known.ok()) return known.status();
    if (known->empty()) {
      const std::string salt = RandomBytes(32);
      std::vector<absl::StatusOr<v1::Receipt>> none;
      absl::Status written = WriteBeside(
          {}, "", [salt](store::Connection& c, const auto&) { return PutSecret(c, salt); }, &none);
      if (!written.ok()) return written;
      known = reader_.Secret();
      if (!known.ok()) return known.status();
    }
    secret_ = *std::move(known);
  }
  const std::string whole = absl::StrCat(std::string(exchange::IssuerOf(sender)), "\n", number);
  return absl::StrCat("p-", HexOf(Hmac(secret_, whole)).substr(0, kPatientDigits));
}

}  // namespace ferrule::intake
