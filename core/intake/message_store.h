// Messages as the store has them, and what is known of senders' numbers. Writing happens inside the
// ledger's transaction (ledger::Ledger::RecordBeside), reading on its reading connections.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/intake.pb.h"

namespace ferrule::intake {

// What a sender's number means.
struct NumberRow {
  std::string issuer;
  std::string number;
  std::string order;
  std::string patient;
  std::string content_key;
};

struct ImportRow {
  int64_t offset = 0;
  int64_t next_line = 0;
  v1::ImportTotals totals;
  int64_t update_us = 0;
};

// "messages/m-..." and back: "" when it is no name of a message.
std::string MessageName(std::string_view id);
std::string_view MessageId(std::string_view name);

class MessageReader {
 public:
  explicit MessageReader(ledger::Ledger* ledger) : ledger_(*ledger) {}

  // Nothing when there is none.
  absl::StatusOr<std::optional<v1::IntakeMessage>> Find(std::string_view id);
  // The bytes as received; nothing when they were erased.
  absl::StatusOr<std::optional<std::string>> Content(std::string_view id);
  // A page in order of arrival; `next` becomes the last arrival, 0 when there are no more.
  absl::StatusOr<std::vector<v1::IntakeMessage>> Page(v1::MessageState state,
                                                      const std::string& sender, int64_t after,
                                                      int size, int64_t* next);
  absl::StatusOr<std::vector<v1::IntakeMessage>> WaitingFor(const std::string& order);

  absl::StatusOr<std::string> OrderOfNumber(const std::string& issuer, const std::string& number);
  absl::StatusOr<std::vector<std::string>> OrdersOfContent(const std::string& key);
  absl::StatusOr<std::vector<std::string>> OrdersOfPatient(const std::string& patient);
  absl::StatusOr<ImportRow> Import(const std::string& id);
  // Empty when none was made yet.
  absl::StatusOr<std::string> Secret();

 private:
  ledger::Ledger& ledger_;
};

absl::Status AddMessage(store::Connection& writer, const v1::IntakeMessage& message,
                        std::string_view content);
absl::Status PutMessage(store::Connection& writer, const v1::IntakeMessage& message);
absl::Status EraseContent(store::Connection& writer, const std::string& id);
absl::Status PutNumber(store::Connection& writer, const NumberRow& row);
absl::Status PutImport(store::Connection& writer, const std::string& id, const ImportRow& row);
absl::Status PutSecret(store::Connection& writer, const std::string& salt);

}  // namespace ferrule::intake
