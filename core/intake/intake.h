// Messages of other systems taken in: kept as received, read, recorded as observed facts or queued
// with the reason and what would cure it. Every message is taken exactly once, whatever is sent
// again, in whatever order, and wherever a process was killed: message, facts and the number that
// the sender knows the order by are kept in one transaction, under ids made from the message.
#pragma once

#include <array>
#include <functional>
#include <memory>
#include <mutex>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"
#include "core/exchange/news.h"
#include "core/exchange/order_facts.h"
#include "core/intake/message_store.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/intake_service.pb.h"

namespace ferrule::intake {

using exchange::kMostMessageBytes;

// One message with what is decided about it before anything is written.
struct Evaluation {
  v1::IntakeMessage message;
  exchange::Reading reading;
  std::vector<exchange::PlannedOrder> orders;
  std::vector<ledger::StatePtr> states;  // that `orders` point into
  std::vector<NumberRow> numbers;
  v1::Entry entry;  // without facts when there is nothing to record
};

// What a person decided about a queued message.
struct Decision {
  std::string same_as_order;
  bool new_order = false;
};

// Thread-safe. Calls block until the store has committed.
class Intake {
 public:
  explicit Intake(ledger::Ledger* ledger);

  // Errors: InvalidArgument for a request that is no message at all; the store's. A message that
  // cannot be used is no error: its state says so.
  absl::StatusOr<v1::SubmitMessageResponse> Submit(const v1::SubmitMessageRequest& request,
                                                   const std::string& principal);
  absl::StatusOr<v1::CureMessageResponse> Cure(const v1::CureMessageRequest& request,
                                               const std::string& principal);
  absl::StatusOr<v1::ReplayMessagesResponse> Replay(const v1::ReplayMessagesRequest& request,
                                                    int64_t after, int64_t* next,
                                                    const std::string& principal);
  absl::StatusOr<v1::IntakeMessage> Erase(const v1::EraseMessageRequest& request);
  absl::StatusOr<v1::ImportRowsResponse> Import(const v1::ImportRowsRequest& request,
                                                const std::string& principal);
  absl::StatusOr<v1::GetImportResponse> ImportState(const v1::GetImportRequest& request);

  MessageReader& messages() { return reader_; }
  ledger::Ledger& ledger() { return ledger_; }

 private:
  using Locks = std::vector<std::unique_lock<std::mutex>>;
  // A message whose outcome is being written.
  struct Pending;

  absl::StatusOr<Evaluation> Evaluate(const v1::SubmitMessageRequest& request,
                                      const Decision& decision, bool again);
  absl::Status PlanOrders(const v1::Sender& sender, const Decision& decision, Evaluation* e);
  absl::Status PlanOne(const v1::Sender& sender, const Decision& decision,
                       exchange::OrderNews* news, Evaluation* e);
  absl::Status PlanForPatient(const v1::Sender& sender, Evaluation* e);
  absl::StatusOr<std::string> FindOrder(const v1::Sender& sender, const Decision& decision,
                                        const exchange::OrderNews& news, const std::string& patient,
                                        Evaluation* e);
  absl::StatusOr<std::string> PatientReference(const v1::Sender& sender, const std::string& number);
  absl::StatusOr<ledger::StatePtr> StateOf(const std::string& order);
  void MakeEntry(const v1::Sender& sender, Evaluation* e);

  // Writes an evaluated message; `is_new` adds its row, otherwise the row is put.
  std::shared_ptr<Pending> Begin(Evaluation e, std::string content, bool is_new,
                                 const std::string& principal);
  absl::StatusOr<v1::IntakeMessage> Finish(Pending& pending);
  absl::StatusOr<v1::IntakeMessage> Write(Evaluation e, std::string content, bool is_new,
                                          const std::string& principal);
  absl::Status CountArrival(v1::IntakeMessage* message);
  absl::Status TakeWaiting(const std::vector<std::string>& orders, const std::string& principal);
  absl::StatusOr<v1::IntakeMessage> TakeAgain(const v1::IntakeMessage& message,
                                              const Decision& decision, bool check_only,
                                              const std::string& principal,
                                              std::vector<v1::OrderChange>* changes);
  absl::StatusOr<std::vector<v1::OrderChange>> WouldChange(const Evaluation& e);
  absl::StatusOr<std::vector<v1::OrderChange>> Changed(const Evaluation& before);
  absl::Status WriteBeside(std::vector<v1::Entry> entries, const std::string& principal,
                           ledger::Ledger::BesideFn beside,
                           std::vector<absl::StatusOr<v1::Receipt>>* outcomes);

  absl::StatusOr<v1::ImportRowsResponse> ImportOrders(const v1::ImportRowsRequest& request,
                                                      const std::string& principal);
  absl::StatusOr<v1::ImportRowsResponse> ImportFacts(const v1::ImportRowsRequest& request,
                                                     const std::string& principal);

  struct OrderRows;
  absl::Status ImportOrder(const v1::SubmitMessageRequest& row, int64_t line, bool validate_only,
                           const std::string& principal, OrderRows* rows);
  absl::Status SettleRows(OrderRows* rows, const std::string& principal);

  // Messages about one order are decided one after the other.
  Locks LockFor(const std::vector<std::string>& keys);
  Locks LockAll();

  ledger::Ledger& ledger_;
  MessageReader reader_;
  std::array<std::mutex, 32> stripes_;  // the thread sanitizer follows 64 locks of a thread at most
  std::mutex secret_mutex_;
  std::string secret_;
};

// Lower-case hexadecimal of SHA-256.
std::string HexDigest(std::string_view bytes);

// Whether a trouble leaves the message in the queue; otherwise it is rejected.
bool IsCurable(v1::TroubleKind kind);

}  // namespace ferrule::intake
