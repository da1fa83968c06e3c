#include "core/exchange/status_out.h"

#include "core/exchange/fhir_check.h"
#include "core/exchange/hl7.h"
#include "core/exchange/text.h"
#include "core/fact/subject.h"
#include "core/time/civil.h"

namespace ferrule::exchange {
namespace {

using Ordered = nlohmann::ordered_json;

// How far an order is, in the words of each standard. Our own mapping: no standard has a word for a
// device that is held, lent or to be fetched.
struct StatusRow {
  v1::OrderStatus status;
  const char* hl7;      // table 0038
  const char* request;  // request-status
  const char* task;     // task-status
};
constexpr StatusRow kStatuses[] = {
    {v1::ORDER_STATUS_OPEN, "SC", "active", "received"},
    {v1::ORDER_STATUS_HELD, "SC", "active", "accepted"},
    {v1::ORDER_STATUS_ON_RENT, "IP", "active", "in-progress"},
    {v1::ORDER_STATUS_CLOSED, "CM", "completed", "completed"},
    {v1::ORDER_STATUS_CANCELLED, "CA", "revoked", "cancelled"},
};

const StatusRow& RowOf(v1::OrderStatus status) {
  for (const StatusRow& row : kStatuses) {
    if (row.status == status) return row;
  }
  return kStatuses[0];
}

std::string Hl7Time(int64_t us) {
  return absl::FormatTime("%Y%m%d%H%M%S+0000", absl::FromUnixMicros(us), absl::UTCTimeZone());
}

std::string DayText(const google::type::Date& date) {
  return time::IsValid(date) ? time::FormatDay(time::ToDay(date)) : "";
}

Ordered Identifier(const std::string& value, const char* type) {
  return {{"type",
           {{"coding", Ordered::array({{{"system", "http://terminology.hl7.org/CodeSystem/v2-0203"},
                                        {"code", type}}})}}},
          {"value", value}};
}

class FhirStatus {
 public:
  explicit FhirStatus(const StatusInput& in) : in_(in), row_(RowOf(in.order->status())) {}

  std::string Compose() {
    Add("DeviceRequest", Request());
    Add("Task", Task());
    if (in_.unit != nullptr) {
      Add("Device", Device());
      if (in_.order->has_handed_over()) {
        Add("SupplyDelivery", Delivery());
        Add("DeviceUseStatement", Use());
      }
    }
    const Ordered bundle = {{"resourceType", "Bundle"},
                            {"type", "collection"},
                            {"timestamp", time::FormatUtc(in_.now_us)},
                            {"entry", entries_}};
    return bundle.dump(-1, ' ', false, Ordered::error_handler_t::replace);
  }

 private:
  static std::string Url(const char* type, const std::string& id) { return Cat(type, "/", id); }

  void Add(const char* type, Ordered resource) {
    Ordered whole = {{"resourceType", type}};
    whole.update(resource);
    entries_.push_back({{"resource", whole}});
  }

  // An id of FHIR has no underscore.
  static std::string FhirId(std::string id) {
    for (char& c : id) {
      if (c == '_') c = '-';
    }
    return id;
  }
  std::string OrderId() const { return FhirId(in_.order->order()); }

  Ordered Subject() const {
    return {{"type", "Patient"},
            {"identifier",
             {{"value", in_.source->patient().empty() ? "unknown" : in_.source->patient()}}}};
  }

  Ordered Request() const {
    Ordered r = {{"id", OrderId()},
                 {"identifier", Ordered::array({Identifier(in_.source->sender_reference(), "PLAC"),
                                                Identifier(in_.order->order(), "FILL")})},
                 {"status", row_.request},
                 {"intent", "order"}};
    r["codeCodeableConcept"] = {{"text", in_.order->details().device_class().empty()
                                             ? "device"
                                             : in_.order->details().device_class()}};
    r["subject"] = Subject();
    const std::string needed = DayText(in_.order->details().needed_date());
    if (!needed.empty()) r["occurrenceDateTime"] = needed;
    return r;
  }

  Ordered Task() const {
    Ordered t = {{"id", Cat("task-", OrderId()).substr(0, 64)},
                 {"status", row_.task},
                 {"intent", "order"},
                 {"focus", {{"reference", Url("DeviceRequest", OrderId())}}}};
    if (in_.order->status() == v1::ORDER_STATUS_CANCELLED) {
      t["statusReason"] = {{"text", "the order was cancelled"}};
    }
    if (in_.order->status_since().has_time()) {
      t["lastModified"] = time::FormatUtc(time::ToMicros(in_.order->status_since().time()));
    }
    return t;
  }

  std::string DeviceId() const { return FhirId(in_.unit->unit()); }

  Ordered Device() const {
    Ordered d = {{"id", DeviceId()}};
    Ordered tag = {{"value", in_.unit->unit()}};
    d["identifier"] = Ordered::array({tag});
    if (!in_.unit->udi().empty()) {
      // As printed on the label: the text form; the device identifier when it is GS1's (01).
      Ordered carrier = Ordered::object();
      if (Begins(in_.unit->udi(), "(01)") && in_.unit->udi().size() >= 18) {
        carrier["deviceIdentifier"] = in_.unit->udi().substr(4, 14);
        carrier["issuer"] = "http://hl7.org/fhir/NamingSystem/gs1-di";
      }
      carrier["carrierHRF"] = in_.unit->udi();
      d["udiCarrier"] = Ordered::array({carrier});
    }
    const bool lost = in_.unit->custody() == v1::CUSTODY_UNACCOUNTED ||
                      in_.unit->custody() == v1::CUSTODY_LEFT_FLEET;
    d["status"] = lost ? "inactive" : "active";
    if (!in_.unit->serial().empty()) d["serialNumber"] = in_.unit->serial();
    if (!in_.unit->model().empty()) d["modelNumber"] = in_.unit->model();
    return d;
  }

  Ordered Delivery() const {
    Ordered s = {{"id", Cat("delivery-", OrderId()).substr(0, 64)},
                 {"status", "completed"},
                 {"patient", Subject()}};
    s["type"] = {{"coding", Ordered::array({{{"system",
                                              "http://terminology.hl7.org/CodeSystem/"
                                              "supply-item-type"},
                                             {"code", "device"}}})}};
    s["suppliedItem"] = {{"quantity", {{"value", 1}}},
                         {"itemReference", {{"reference", Url("Device", DeviceId())}}}};
    s["occurrenceDateTime"] = time::FormatUtc(time::ToMicros(in_.order->handed_over().time()));
    return s;
  }

  Ordered Use() const {
    const bool over = in_.order->status() == v1::ORDER_STATUS_CLOSED;
    Ordered u = {{"id", Cat("use-", OrderId()).substr(0, 64)},
                 {"status", over ? "completed" : "active"},
                 {"subject", Subject()}};
    Ordered period = {{"start", time::FormatUtc(time::ToMicros(in_.order->handed_over().time()))}};
    if (over && in_.order->status_since().has_time()) {
      period["end"] = time::FormatUtc(time::ToMicros(in_.order->status_since().time()));
    }
    u["timingPeriod"] = period;
    u["device"] = {{"reference", Url("Device", DeviceId())}};
    const v1::Side side = in_.order->details().side();
    if (side == v1::SIDE_LEFT || side == v1::SIDE_RIGHT) {
      u["bodySite"] = {{"text", side == v1::SIDE_LEFT ? "left" : "right"}};
    }
    return u;
  }

  const StatusInput& in_;
  const StatusRow& row_;
  Ordered entries_ = Ordered::array();
};

}  // namespace

std::string StatusAsHl7(const StatusInput& in) {
  const StatusRow& row = RowOf(in.order->status());
  Hl7Message out;
  Hl7Segment msh("MSH", {});
  msh.Set(1, "|");
  msh.Set(2, out.delimiters.Encoding());
  msh.Set(3, "FERRULE");
  if (!in.referrer->hl7_application().empty()) msh.Set(5, in.referrer->hl7_application());
  if (!in.referrer->hl7_facility().empty()) msh.Set(6, in.referrer->hl7_facility());
  msh.Set(7, Hl7Time(in.now_us));
  msh.Set(9, "ORR", 1);
  msh.Set(9, "O02", 2);
  msh.Set(9, "ORR_O02", 3);
  msh.Set(10, Cat("S", in.now_us));
  msh.Set(11, "P");
  msh.Set(12, "2.5.1");
  msh.Set(18, "UNICODE UTF-8");
  out.segments.push_back(std::move(msh));
  Hl7Segment msa("MSA", {});
  msa.Set(1, "AA");
  msa.Set(2, in.source->message());
  out.segments.push_back(std::move(msa));
  Hl7Segment orc("ORC", {});
  const bool unable = in.order->status() == v1::ORDER_STATUS_CANCELLED;
  orc.Set(1, unable ? "CR" : "SC");  // cancelled as requested, or the status changed
  orc.Set(2, in.source->sender_reference());
  orc.Set(3, in.order->order());
  orc.Set(5, row.hl7);
  if (in.order->status_since().has_time()) {
    orc.Set(9, Hl7Time(time::ToMicros(in.order->status_since().time())));
  }
  out.segments.push_back(std::move(orc));
  return ComposeHl7(out);
}

std::string StatusAsFhir(const StatusInput& in) { return FhirStatus(in).Compose(); }

}  // namespace ferrule::exchange
