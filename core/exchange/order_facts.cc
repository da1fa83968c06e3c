#include "core/exchange/order_facts.h"

#include <algorithm>

#include "core/exchange/text.h"
#include "core/fact/subject.h"
#include "core/time/civil.h"
#include "google/protobuf/descriptor.h"
#include "google/protobuf/message.h"

namespace ferrule::exchange {
namespace {

using google::protobuf::FieldDescriptor;
using google::protobuf::Message;

constexpr size_t kHashDigits = 20;

void AddSource(const PlannedOrder& planned, const MessageFacts& message, v1::Fact* fact) {
  v1::OrderMessageReceived& f = *fact->mutable_order_message_received();
  const OrderNews& news = *planned.news;
  f.set_order(planned.order);
  f.set_sender(message.sender->id());
  f.set_sender_reference(news.number);
  f.set_sender_version(news.version);
  f.set_kind(message.kind);
  f.set_message(message.message);
  f.set_message_sha256(message.sha256);
  if (news.stated_us != 0) time::SetMicros(news.stated_us, f.mutable_stated_time());
  for (const std::string& path : news.cleared) f.add_cleared(path);
  f.set_settings_version(message.settings_version);
  f.set_device_class(news.details.device_class());
  f.set_side(news.details.side());
  f.set_patient(planned.patient);
  if (news.details.has_surgery_date()) *f.mutable_surgery_date() = news.details.surgery_date();
}

void SayWhatChanges(const PlannedOrder& planned, v1::Fact* fact) {
  const OrderNews& news = *planned.news;
  v1::OrderDetails details = news.details;
  if (!planned.patient.empty()) details.set_patient(planned.patient);
  switch (news.control) {
    case OrderNews::Control::kOrder: {
      v1::OrderTaken& f = *fact->mutable_order_taken();
      f.set_order(planned.order);
      *f.mutable_details() = std::move(details);
      f.set_sender_reference(news.number);
      f.set_sender_version(news.version);
      return;
    }
    case OrderNews::Control::kChange: {
      v1::OrderChanged& f = *fact->mutable_order_changed();
      f.set_order(planned.order);
      *f.mutable_details() = std::move(details);
      f.set_sender_version(news.version);
      return;
    }
    case OrderNews::Control::kCancel: {
      v1::OrderCancelled& f = *fact->mutable_order_cancelled();
      f.set_order(planned.order);
      f.set_reason(news.reason.substr(0, 500));
      f.set_sender_version(news.version);
      return;
    }
  }
}

std::string ValueText(const Message& message, const FieldDescriptor& field) {
  const auto& r = *message.GetReflection();
  switch (field.cpp_type()) {
    case FieldDescriptor::CPPTYPE_STRING:
      return r.GetString(message, &field);
    case FieldDescriptor::CPPTYPE_INT32:
      return Cat(r.GetInt32(message, &field));
    case FieldDescriptor::CPPTYPE_INT64:
      return Cat(r.GetInt64(message, &field));
    case FieldDescriptor::CPPTYPE_DOUBLE:
      return Cat(r.GetDouble(message, &field));
    case FieldDescriptor::CPPTYPE_BOOL:
      return r.GetBool(message, &field) ? "true" : "false";
    case FieldDescriptor::CPPTYPE_ENUM:
      return r.GetEnum(message, &field)->name();
    default:
      return "";
  }
}

bool Shown(const Message& message, const FieldDescriptor& field) {
  if (field.is_repeated()) return false;
  if (field.has_presence()) return message.GetReflection()->HasField(message, &field);
  const std::string text = ValueText(message, field);
  return !text.empty() && text != "0" && text != "false" &&
         !(field.cpp_type() == FieldDescriptor::CPPTYPE_ENUM &&
           message.GetReflection()->GetEnumValue(message, &field) == 0);
}

// Leaves by their paths.
void Flatten(const Message& message, const std::string& above,
             std::vector<std::pair<std::string, std::string>>* out) {
  const auto* type = message.GetDescriptor();
  for (int i = 0; i < type->field_count(); ++i) {
    const FieldDescriptor& field = *type->field(i);
    if (!Shown(message, field)) continue;
    const std::string path = Cat(above, field.name());
    if (field.cpp_type() != FieldDescriptor::CPPTYPE_MESSAGE) {
      out->emplace_back(path, ValueText(message, field));
      continue;
    }
    const Message& inner = message.GetReflection()->GetMessage(message, &field);
    if (field.message_type() == google::type::Date::descriptor()) {
      const auto& day = static_cast<const google::type::Date&>(inner);
      if (time::IsValid(day)) out->emplace_back(path, time::FormatDay(time::ToDay(day)));
    } else if (field.message_type() == google::protobuf::Timestamp::descriptor()) {
      out->emplace_back(
          path,
          time::FormatUtc(time::ToMicros(static_cast<const google::protobuf::Timestamp&>(inner))));
    } else if (field.message_type() != v1::Stamp::descriptor()) {
      Flatten(inner, path + ".", out);
    }
  }
}

}  // namespace

std::string_view IssuerOf(const v1::Sender& sender) {
  return sender.issuer().empty() ? sender.id() : sender.issuer();
}

std::string OrderIdOf(const v1::Sender& sender, std::string_view number,
                      const std::function<std::string(std::string_view)>& hash) {
  std::string id = Cat(sender.order_prefix(), std::string(number));
  if (fact::IsValidId(id)) return id;
  const std::string whole = Cat(std::string(IssuerOf(sender)), "\n", std::string(number));
  return Cat(sender.order_prefix(), "x", hash(whole).substr(0, kHashDigits));
}

std::string ContentKey(const std::string& patient, const v1::OrderDetails& details) {
  if (patient.empty() || details.device_class().empty() || !time::IsValid(details.surgery_date())) {
    return "";
  }
  return Cat(patient, "|", details.device_class(), "|", static_cast<int>(details.side()), "|",
             time::FormatDay(time::ToDay(details.surgery_date())));
}

int64_t TrueTime(const v1::OrderState* order, int64_t version, int64_t stated_us, int64_t now_us) {
  int64_t us = stated_us == 0 ? now_us : std::min(stated_us, now_us);
  if (order == nullptr || version == 0) return us;
  int64_t after = INT64_MIN;
  int64_t before = INT64_MAX;
  for (const v1::OrderSource& source : order->sources()) {
    if (source.sender_version() == 0) continue;
    const int64_t at = time::ToMicros(source.received().time());
    if (source.sender_version() < version) after = std::max(after, at);
    if (source.sender_version() > version) before = std::min(before, at);
  }
  return std::min(std::max(us, after), before);
}

v1::Entry EntryOf(const std::vector<PlannedOrder>& orders, const MessageFacts& message) {
  v1::Entry entry;
  entry.set_entry_id(message.entry_id);
  entry.set_actor(message.actor);
  entry.set_channel("intake");
  entry.set_mode(v1::ENTRY_MODE_OBSERVED);
  for (const PlannedOrder& planned : orders) {
    const OrderNews& news = *planned.news;
    entry.set_order_number(std::max(entry.order_number(), news.version));
    const int64_t us = TrueTime(planned.state, news.version, news.stated_us, message.now_us);
    v1::Fact* what = entry.add_facts();
    time::SetMicros(us, what->mutable_happened_time());
    SayWhatChanges(planned, what);
    v1::Fact* source = entry.add_facts();
    time::SetMicros(us, source->mutable_happened_time());
    AddSource(planned, message, source);
    const bool held = planned.state != nullptr && planned.state->status() == v1::ORDER_STATUS_HELD;
    if (news.control != OrderNews::Control::kCancel || !held || planned.state->unit().empty())
      continue;
    v1::Fact* release = entry.add_facts();
    time::SetMicros(us, release->mutable_happened_time());
    release->mutable_order_hold_released()->set_unit(planned.state->unit());
    release->mutable_order_hold_released()->set_order(planned.order);
    release->mutable_order_hold_released()->set_reason("the order was cancelled by its sender");
  }
  return entry;
}

std::vector<v1::OrderChange> Differences(const v1::OrderState& before,
                                         const v1::OrderState& after) {
  std::vector<std::pair<std::string, std::string>> a;
  std::vector<std::pair<std::string, std::string>> b;
  Flatten(before, "", &a);
  Flatten(after, "", &b);
  std::vector<v1::OrderChange> out;
  const auto find = [](const auto& list, const std::string& path) -> const std::string* {
    for (const auto& [name, value] : list) {
      if (name == path) return &value;
    }
    return nullptr;
  };
  const auto add = [&](const std::string& path, std::string_view old, std::string_view now) {
    if (path == "order" || path == "sender_version") return;
    v1::OrderChange& change = out.emplace_back();
    change.set_order(after.order());
    change.set_field(path);
    change.set_before(std::string(old));
    change.set_after(std::string(now));
  };
  for (const auto& [path, value] : b) {
    const std::string* old = find(a, path);
    if (old == nullptr || *old != value) add(path, old == nullptr ? "" : *old, value);
  }
  for (const auto& [path, value] : a) {
    if (find(b, path) == nullptr) add(path, value, "");
  }
  return out;
}

}  // namespace ferrule::exchange
