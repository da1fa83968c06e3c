#include "core/intake/message_store.h"

#include <utility>

#include "core/intake/queries.h"

namespace ferrule::intake {
namespace {

using store::Value;

constexpr std::string_view kPrefix = "messages/";

bool ParseRecord(std::string_view bytes, v1::IntakeMessage* message) {
  return message->ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
}

absl::Status Unreadable() {
  return absl::DataLossError("a kept message's record cannot be read; restore a backup");
}

std::string Record(const v1::IntakeMessage& message) {
  v1::IntakeMessage bare = message;
  bare.clear_content();
  return bare.SerializeAsString();
}

}  // namespace

std::string MessageName(std::string_view id) { return std::string(kPrefix) + std::string(id); }

std::string_view MessageId(std::string_view name) {
  return name.starts_with(kPrefix) ? name.substr(kPrefix.size()) : std::string_view();
}

absl::StatusOr<std::optional<v1::IntakeMessage>> MessageReader::Find(std::string_view id) {
  std::optional<v1::IntakeMessage> out;
  bool readable = true;
  absl::Status status = ledger_.WithReader([&](store::Connection& connection) {
    const Value parameters[] = {Value::Text(id)};
    return connection.Run(sql::kMessageById, parameters, [&](const store::Row& row) {
      readable = ParseRecord(row.Bytes(0), &out.emplace());
    });
  });
  if (!status.ok()) return status;
  if (!readable) return Unreadable();
  return out;
}

absl::StatusOr<std::optional<std::string>> MessageReader::Content(std::string_view id) {
  std::optional<std::string> out;
  absl::Status status = ledger_.WithReader([&](store::Connection& connection) {
    const Value parameters[] = {Value::Text(id)};
    return connection.Run(sql::kMessageContent, parameters, [&](const store::Row& row) {
      if (!row.IsNull(0)) out = std::string(row.Bytes(0));
    });
  });
  if (!status.ok()) return status;
  return out;
}

absl::StatusOr<std::vector<v1::IntakeMessage>> MessageReader::Page(v1::MessageState state,
                                                                   const std::string& sender,
                                                                   int64_t after, int size,
                                                                   int64_t* next) {
  std::vector<v1::IntakeMessage> out;
  bool readable = true;
  *next = 0;
  absl::Status status = ledger_.WithReader([&](store::Connection& connection) {
    const Value parameters[] = {Value::Int(state), Value::Int(after), Value::Text(sender),
                                Value::Int(size + 1)};
    return connection.Run(sql::kMessagesAfter, parameters, [&](const store::Row& row) {
      if (static_cast<int>(out.size()) == size) {
        *next = after;
        return;
      }
      after = row.Int(0);
      readable &= ParseRecord(row.Bytes(1), &out.emplace_back());
    });
  });
  if (!status.ok()) return status;
  if (!readable) return Unreadable();
  return out;
}

absl::StatusOr<std::vector<v1::IntakeMessage>> MessageReader::WaitingFor(const std::string& order) {
  std::vector<v1::IntakeMessage> out;
  bool readable = true;
  absl::Status status = ledger_.WithReader([&](store::Connection& connection) {
    const Value parameters[] = {Value::Text(order)};
    return connection.Run(sql::kWaitingFor, parameters, [&](const store::Row& row) {
      readable &= ParseRecord(row.Bytes(0), &out.emplace_back());
    });
  });
  if (!status.ok()) return status;
  if (!readable) return Unreadable();
  return out;
}

absl::StatusOr<std::string> MessageReader::OrderOfNumber(const std::string& issuer,
                                                         const std::string& number) {
  std::string out;
  absl::Status status = ledger_.WithReader([&](store::Connection& connection) {
    const Value parameters[] = {Value::Text(issuer), Value::Text(number)};
    return connection.Run(sql::kOrderOfNumber, parameters,
                          [&](const store::Row& row) { out = std::string(row.Bytes(0)); });
  });
  if (!status.ok()) return status;
  return out;
}

absl::StatusOr<std::vector<std::string>> MessageReader::OrdersOfContent(const std::string& key) {
  std::vector<std::string> out;
  absl::Status status = ledger_.WithReader([&](store::Connection& connection) {
    const Value parameters[] = {Value::Text(key)};
    return connection.Run(sql::kOrdersOfContent, parameters,
                          [&](const store::Row& row) { out.emplace_back(row.Bytes(0)); });
  });
  if (!status.ok()) return status;
  return out;
}

absl::StatusOr<std::vector<std::string>> MessageReader::OrdersOfPatient(
    const std::string& patient) {
  std::vector<std::string> out;
  absl::Status status = ledger_.WithReader([&](store::Connection& connection) {
    const Value parameters[] = {Value::Text(patient)};
    return connection.Run(sql::kOrdersOfPatient, parameters,
                          [&](const store::Row& row) { out.emplace_back(row.Bytes(0)); });
  });
  if (!status.ok()) return status;
  return out;
}

absl::StatusOr<ImportRow> MessageReader::Import(const std::string& id) {
  ImportRow out;
  absl::Status status = ledger_.WithReader([&](store::Connection& connection) {
    const Value parameters[] = {Value::Text(id)};
    return connection.Run(sql::kImport, parameters, [&](const store::Row& row) {
      out.offset = row.Int(0);
      out.next_line = row.Int(1);
      out.totals.set_read_count(row.Int(2));
      out.totals.set_accepted_count(row.Int(3));
      out.totals.set_repeated_count(row.Int(4));
      out.totals.set_queued_count(row.Int(5));
      out.totals.set_rejected_count(row.Int(6));
      out.update_us = row.Int(7);
    });
  });
  if (!status.ok()) return status;
  return out;
}

absl::StatusOr<std::string> MessageReader::Secret() {
  std::string out;
  absl::Status status = ledger_.WithReader([&](store::Connection& connection) {
    return connection.Run(sql::kSecret, {},
                          [&](const store::Row& row) { out = std::string(row.Bytes(0)); });
  });
  if (!status.ok()) return status;
  return out;
}

absl::Status AddMessage(store::Connection& writer, const v1::IntakeMessage& message,
                        std::string_view content) {
  const std::string record = Record(message);
  const Value parameters[] = {Value::Text(MessageId(message.name())),
                              Value::Text(message.sender()),
                              Value::Int(message.state()),
                              Value::Text(message.waits_for()),
                              Value::Blob(message.content_sha256()),
                              Value::Blob(record),
                              Value::Blob(content)};
  return writer.Run(sql::kAddMessage, parameters);
}

absl::Status PutMessage(store::Connection& writer, const v1::IntakeMessage& message) {
  const std::string record = Record(message);
  const Value parameters[] = {Value::Int(message.state()), Value::Text(message.waits_for()),
                              Value::Blob(record), Value::Text(MessageId(message.name()))};
  return writer.Run(sql::kPutMessage, parameters);
}

absl::Status EraseContent(store::Connection& writer, const std::string& id) {
  const Value parameters[] = {Value::Text(id)};
  return writer.Run(sql::kEraseContent, parameters);
}

absl::Status PutNumber(store::Connection& writer, const NumberRow& row) {
  const Value parameters[] = {Value::Text(row.issuer), Value::Text(row.number),
                              Value::Text(row.order), Value::Text(row.patient),
                              Value::Text(row.content_key)};
  return writer.Run(sql::kPutOrder, parameters);
}

absl::Status PutImport(store::Connection& writer, const std::string& id, const ImportRow& row) {
  const Value parameters[] = {Value::Text(id),
                              Value::Int(row.offset),
                              Value::Int(row.next_line),
                              Value::Int(row.totals.read_count()),
                              Value::Int(row.totals.accepted_count()),
                              Value::Int(row.totals.repeated_count()),
                              Value::Int(row.totals.queued_count()),
                              Value::Int(row.totals.rejected_count()),
                              Value::Int(row.update_us)};
  return writer.Run(sql::kPutImport, parameters);
}

absl::Status PutSecret(store::Connection& writer, const std::string& salt) {
  const Value parameters[] = {Value::Blob(salt)};
  return writer.Run(sql::kPutSecret, parameters);
}

}  // namespace ferrule::intake
