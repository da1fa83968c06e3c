#include "core/intake/answer.h"

#include <algorithm>

#include "absl/strings/str_cat.h"
#include "core/exchange/order_facts.h"
#include "core/exchange/status_out.h"
#include "core/fact/subject.h"
#include "core/intake/digest.h"

namespace ferrule::intake {
namespace {

constexpr size_t kControlDigits = 18;  // MSH-10 holds 20 characters in every version

const v1::Sender* SenderOf(const v1::Settings& settings, const std::string& id) {
  for (const v1::Sender& sender : settings.senders()) {
    if (sender.id() == id) return &sender;
  }
  return nullptr;
}

}  // namespace

std::string Acknowledge(Intake& intake, std::string_view message_bytes,
                        const v1::IntakeMessage& message, exchange::Hl7Answer::Mode mode,
                        int64_t now_us) {
  const exchange::Hl7Header header = exchange::ReadHl7Header(message_bytes);
  const auto book = intake.ledger().Book();
  const v1::Sender* sender = SenderOf(book->At(now_us).settings(), message.sender());
  exchange::Hl7Answer answer;
  answer.mode = mode;
  answer.state = message.state();
  answer.troubles.assign(message.troubles().begin(), message.troubles().end());
  // The same message gets the same answer, under the same id.
  answer.control_id = absl::StrCat(mode == exchange::Hl7Answer::Mode::kAccept ? "C" : "A",
                                   HexDigest(message.name()).substr(0, kControlDigits));
  answer.now_us = now_us;
  answer.order_response = sender != nullptr && sender->order_responses();
  if (!answer.order_response) return exchange::ComposeAnswer(header, answer);
  const auto parsed = exchange::ParseHl7(message_bytes);
  int next = 0;
  for (size_t i = 0; parsed.ok() && i < parsed->segments.size(); ++i) {
    if (parsed->segments[i].name() != "ORC") continue;
    const std::string order = next < message.orders_size() ? message.orders(next) : "";
    answer.orders.emplace_back(std::string(parsed->segments[i].Get(2)), order);
    ++next;
  }
  return exchange::ComposeAnswer(header, answer);
}

absl::StatusOr<v1::ExportOrderResponse> ExportOrder(Intake& intake, const v1::OrderState& order,
                                                    const v1::ExportOrderRequest& request,
                                                    int64_t now_us) {
  const auto book = intake.ledger().Book();
  const depot::Rules& rules = book->At(now_us);
  const v1::Sender* referrer = SenderOf(rules.settings(), request.referrer());
  // What the referrer itself sent of it: that alone may be told by its numbers.
  const v1::OrderSource* own = nullptr;
  for (const v1::OrderSource& source : order.sources()) {
    const v1::Sender* sender = SenderOf(rules.settings(), source.sender());
    if (referrer == nullptr || sender == nullptr) continue;
    if (exchange::IssuerOf(*sender) == exchange::IssuerOf(*referrer)) own = &source;
  }
  if (own == nullptr) {
    return absl::NotFoundError(absl::StrCat("nothing is recorded about ", request.name(),
                                            "; check the number, or list what there is"));
  }
  exchange::StatusInput input;
  input.order = &order;
  input.source = own;
  input.referrer = referrer;
  input.now_us = now_us;
  input.zone = rules.ZoneOf(order.details().branch());
  ledger::StatePtr unit;
  if (!order.unit().empty()) {
    auto state = intake.ledger().Get(fact::SubjectName(fact::SubjectKind::kUnit, order.unit()));
    if (state.ok()) {
      unit = *state;
      input.unit = &unit->unit();
    }
  }
  v1::ExportOrderResponse response;
  if (request.format() == v1::EXPORT_FORMAT_HL7_V2) {
    response.set_content(exchange::StatusAsHl7(input));
    response.set_media_type("x-application/hl7-v2+er7");
  } else {
    response.set_content(exchange::StatusAsFhir(input));
    response.set_media_type("application/fhir+json");
  }
  return response;
}

}  // namespace ferrule::intake
