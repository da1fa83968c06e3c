#include "core/intake/intake.h"

#include <algorithm>
#include <future>
#include <set>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/exchange/hl7_text.h"
#include "core/fact/fact_view.h"
#include "core/fact/subject.h"
#include "core/fold/fold.h"
#include "core/intake/digest.h"
#include "core/ledger/prepared.h"
#include "core/time/civil.h"

namespace ferrule::intake {
namespace {

constexpr int kMostChanges = 500;
constexpr int kReplayPage = 500;
// A message whose order comes may let another one in, and so on.
constexpr int kMostRounds = 50;

std::string OrderName(const std::string& order) {
  return fact::SubjectName(fact::SubjectKind::kOrder, order);
}

v1::SubmitMessageRequest RequestOf(const v1::IntakeMessage& message, std::string content) {
  v1::SubmitMessageRequest request;
  request.set_kind(message.kind());
  request.set_sender(message.sender());
  request.set_sender_message_id(message.sender_message_id());
  request.set_content(std::move(content));
  return request;
}

absl::Status NotFound(std::string_view name) {
  return absl::NotFoundError(
      absl::StrCat("there is no message ", std::string(name), "; list the queue: ferrule queue"));
}

// Why a recorded entry did not come to be, for the message that it was to be.
void Refuse(const absl::Status& status, v1::IntakeMessage* message) {
  message->set_state(v1::MESSAGE_STATE_QUEUED);
  message->clear_entry_id();
  *message->add_troubles() = exchange::TroubleAt(
      v1::TROUBLE_KIND_REFUSED, "", std::string(status.message()),
      "look at the order's records, then replay, or enter the change by hand and set this aside");
}

}  // namespace

Intake::Intake(ledger::Ledger* ledger) : ledger_(*ledger), reader_(ledger) {}

struct Intake::Pending {
  Evaluation evaluation;
  std::string content;
  std::promise<absl::Status> promise;
  std::future<absl::Status> done = promise.get_future();
};

Intake::Locks Intake::LockFor(const std::vector<std::string>& keys) {
  std::set<size_t> wanted;
  for (const std::string& key : keys) {
    wanted.insert(std::hash<std::string>()(key) % stripes_.size());
  }
  Locks locks;
  for (const size_t i : wanted) locks.emplace_back(stripes_[i]);
  return locks;
}

Intake::Locks Intake::LockAll() {
  Locks locks;
  for (std::mutex& stripe : stripes_) locks.emplace_back(stripe);
  return locks;
}

absl::Status Intake::WriteBeside(std::vector<v1::Entry> entries, const std::string& principal,
                                 ledger::Ledger::BesideFn beside,
                                 std::vector<absl::StatusOr<v1::Receipt>>* outcomes) {
  std::promise<absl::Status> promise;
  ledger_.RecordBeside(
      std::move(entries), principal, std::move(beside),
      [&](const absl::Status& stored, std::vector<absl::StatusOr<v1::Receipt>> results) {
        *outcomes = std::move(results);
        promise.set_value(stored);
      });
  return promise.get_future().get();
}

std::shared_ptr<Intake::Pending> Intake::Begin(Evaluation e, std::string content, bool is_new,
                                               const std::string& principal) {
  auto pending = std::make_shared<Pending>();
  pending->evaluation = std::move(e);
  pending->content = std::move(content);
  std::vector<v1::Entry> entries;
  if (!pending->evaluation.entry.facts().empty()) entries.push_back(pending->evaluation.entry);
  // What the message is after the entry was decided is written beside it. The group may be tried
  // again, so each try begins from what was evaluated.
  auto outcome = std::make_shared<v1::IntakeMessage>(pending->evaluation.message);
  ledger_.RecordBeside(
      std::move(entries), principal,
      [pending, outcome, is_new](store::Connection& connection,
                                 const auto& results) -> absl::Status {
        *outcome = pending->evaluation.message;
        const bool refused = !results.empty() && !results[0].ok();
        if (refused) Refuse(results[0].status(), outcome.get());
        absl::Status status = is_new ? AddMessage(connection, *outcome, pending->content)
                                     : PutMessage(connection, *outcome);
        for (const NumberRow& row : pending->evaluation.numbers) {
          if (status.ok() && !refused) status = PutNumber(connection, row);
        }
        return status;
      },
      [pending, outcome](const absl::Status& stored, const auto&) {
        pending->evaluation.message = *outcome;
        pending->promise.set_value(stored);
      });
  return pending;
}

absl::StatusOr<v1::IntakeMessage> Intake::Finish(Pending& pending) {
  absl::Status status = pending.done.get();
  if (!status.ok()) return status;
  return pending.evaluation.message;
}

absl::StatusOr<v1::IntakeMessage> Intake::Write(Evaluation e, std::string content, bool is_new,
                                                const std::string& principal) {
  return Finish(*Begin(std::move(e), std::move(content), is_new, principal));
}

absl::Status Intake::CountArrival(v1::IntakeMessage* message) {
  message->set_arrival_count(message->arrival_count() + 1);
  std::vector<absl::StatusOr<v1::Receipt>> none;
  return WriteBeside(
      {}, "", [message](store::Connection& c, const auto&) { return PutMessage(c, *message); },
      &none);
}

absl::StatusOr<v1::SubmitMessageResponse> Intake::Submit(const v1::SubmitMessageRequest& request,
                                                         const std::string& principal) {
  // A first look says which orders are meant; the decision is made when no other message about
  // them is under way.
  auto look = Evaluate(request, {}, false);
  if (!look.ok()) return look.status();
  std::vector<std::string> keys(look->message.orders().begin(), look->message.orders().end());
  keys.push_back(look->message.name());
  for (const NumberRow& row : look->numbers) keys.push_back(row.content_key);
  v1::SubmitMessageResponse response;
  {
    const Locks locks = LockFor(keys);
    auto known = reader_.Find(MessageId(look->message.name()));
    if (!known.ok()) return known.status();
    if (known->has_value()) {
      *response.mutable_message() = **known;
      response.set_repeated(true);
      if (request.validate_only()) return response;
      absl::Status counted = CountArrival(response.mutable_message());
      if (!counted.ok()) return counted;
      if (response.message().state() != v1::MESSAGE_STATE_APPLIED) return response;
      // The process may have ended before what waited for the order was taken.
      absl::Status taken = TakeWaiting(
          {response.message().orders().begin(), response.message().orders().end()}, principal);
      if (!taken.ok()) return taken;
      return response;
    }
    auto evaluation = Evaluate(request, {}, false);
    if (!evaluation.ok()) return evaluation.status();
    if (request.validate_only()) {
      auto changes = WouldChange(*evaluation);
      if (!changes.ok()) return changes.status();
      for (v1::OrderChange& change : *changes) *response.add_changes() = std::move(change);
      *response.mutable_message() = std::move(evaluation->message);
      return response;
    }
    const Evaluation before = *evaluation;
    auto message = Write(*std::move(evaluation), request.content(), true, principal);
    if (!message.ok()) return message.status();
    *response.mutable_message() = *std::move(message);
    if (response.message().state() == v1::MESSAGE_STATE_APPLIED) {
      auto changes = Changed(before);
      if (!changes.ok()) return changes.status();
      for (v1::OrderChange& change : *changes) *response.add_changes() = std::move(change);
      absl::Status taken =
          TakeWaiting({before.message.orders().begin(), before.message.orders().end()}, principal);
      if (!taken.ok()) return taken;
    }
  }
  return response;
}

// Messages that waited for an order which has come. The caller holds the orders' locks.
absl::Status Intake::TakeWaiting(const std::vector<std::string>& orders,
                                 const std::string& principal) {
  for (const std::string& order : orders) {
    for (int round = 0; round < kMostRounds; ++round) {
      auto waiting = reader_.WaitingFor(order);
      if (!waiting.ok()) return waiting.status();
      bool any = false;
      for (const v1::IntakeMessage& message : *waiting) {
        auto taken = TakeAgain(message, {}, false, principal, nullptr);
        if (!taken.ok()) return taken.status();
        any |= taken->state() == v1::MESSAGE_STATE_APPLIED;
      }
      if (!any) break;
    }
  }
  return absl::OkStatus();
}

absl::StatusOr<v1::IntakeMessage> Intake::TakeAgain(const v1::IntakeMessage& message,
                                                    const Decision& decision, bool check_only,
                                                    const std::string& principal,
                                                    std::vector<v1::OrderChange>* changes) {
  auto content = reader_.Content(MessageId(message.name()));
  if (!content.ok()) return content.status();
  if (!content->has_value()) {
    return absl::FailedPreconditionError(
        absl::StrCat("the bytes of ", message.name(),
                     " were erased; ask the sender for it again, or set it aside"));
  }
  auto evaluation = Evaluate(RequestOf(message, **content), decision, true);
  if (!evaluation.ok()) return evaluation.status();
  // The message keeps its name and what is known of its coming.
  v1::IntakeMessage& m = evaluation->message;
  const std::string name = m.name();
  m.set_name(message.name());
  *m.mutable_received_time() = message.received_time();
  m.set_arrival_count(message.arrival_count());
  if (name != message.name() && !evaluation->entry.facts().empty()) {
    // The sender is known by now: the entry is made for the message as it is kept.
    const v1::Settings& settings = ledger_.Book()->At(ledger_.clock().NowMicros()).settings();
    for (const v1::Sender& sender : settings.senders()) {
      if (sender.id() == m.sender()) MakeEntry(sender, &*evaluation);
    }
    m.set_entry_id(evaluation->entry.entry_id());
  }
  if (check_only) {
    auto would = WouldChange(*evaluation);
    if (!would.ok()) return would.status();
    if (changes != nullptr) *changes = *std::move(would);
    return m;
  }
  const Evaluation before = *evaluation;
  auto written = Write(*std::move(evaluation), "", false, principal);
  if (!written.ok() || changes == nullptr) return written;
  if (written->state() == v1::MESSAGE_STATE_APPLIED) {
    auto changed = Changed(before);
    if (!changed.ok()) return changed.status();
    *changes = *std::move(changed);
  }
  return written;
}

absl::StatusOr<std::vector<v1::OrderChange>> Intake::Changed(const Evaluation& before) {
  std::vector<v1::OrderChange> out;
  const std::set<std::string> orders(before.message.orders().begin(),
                                     before.message.orders().end());
  for (const std::string& order : orders) {
    auto now = StateOf(order);
    if (!now.ok()) return now.status();
    if (*now == nullptr) continue;
    v1::OrderState old;
    for (const ledger::StatePtr& state : before.states) {
      if (state->order().order() == order) old = state->order();
    }
    for (v1::OrderChange& change : exchange::Differences(old, (*now)->order())) {
      if (out.size() < kMostChanges) out.push_back(std::move(change));
    }
  }
  return out;
}

// The orders folded with the facts that the message would become.
absl::StatusOr<std::vector<v1::OrderChange>> Intake::WouldChange(const Evaluation& e) {
  std::vector<v1::OrderChange> out;
  if (e.entry.facts().empty()) return out;
  const auto book = ledger_.Book();
  const std::set<std::string> orders(e.message.orders().begin(), e.message.orders().end());
  for (const std::string& order : orders) {
    const std::string name = OrderName(order);
    std::vector<std::unique_ptr<v1::LedgerEntry>> entries;
    absl::Status read = ledger_.Read(0, name, [&](const ledger::Recorded& recorded) {
      auto entry = std::make_unique<v1::LedgerEntry>();
      const bool parsed =
          entry->ParseFromArray(recorded.bytes.data(), static_cast<int>(recorded.bytes.size()));
      if (parsed) entries.push_back(std::move(entry));
      return parsed;
    });
    if (!read.ok()) return read;
    std::vector<fact::FactView> views;
    const auto add = [&](const v1::Entry& entry, int64_t recorded_us, int64_t sequence) {
      for (int i = 0; i < entry.facts_size(); ++i) {
        const std::vector<std::string> subjects = fact::SubjectsOf(entry.facts(i));
        if (std::find(subjects.begin(), subjects.end(), name) == subjects.end()) continue;
        views.push_back(ledger::ViewOf(entry, i, recorded_us, sequence));
      }
    };
    for (const auto& recorded : entries) {
      add(recorded->entry(), time::ToMicros(recorded->recorded_time()), recorded->sequence());
    }
    v1::OrderState before;
    if (!views.empty()) before = fold::Fold(name, views, *book).order();
    add(e.entry, ledger_.clock().NowMicros(), ledger_.head().sequence + 1);
    const v1::SubjectState after = fold::Fold(name, views, *book);
    for (v1::OrderChange& change : exchange::Differences(before, after.order())) {
      if (out.size() < kMostChanges) out.push_back(std::move(change));
    }
  }
  return out;
}

absl::StatusOr<v1::CureMessageResponse> Intake::Cure(const v1::CureMessageRequest& request,
                                                     const std::string& principal) {
  const Locks locks = LockAll();
  auto known = reader_.Find(MessageId(request.name()));
  if (!known.ok()) return known.status();
  if (!known->has_value()) return NotFound(request.name());
  v1::IntakeMessage message = **known;
  if (message.state() != v1::MESSAGE_STATE_QUEUED &&
      message.state() != v1::MESSAGE_STATE_REJECTED) {
    return absl::FailedPreconditionError(
        absl::StrCat(request.name(), " does not wait: it was ",
                     message.state() == v1::MESSAGE_STATE_APPLIED ? "applied" : "settled",
                     " already; nothing is left to do"));
  }
  v1::CureMessageResponse response;
  if (request.dismiss()) {
    message.set_state(v1::MESSAGE_STATE_DISMISSED);
    message.clear_waits_for();
    message.set_decided_by(request.actor());
    message.set_because(request.because());
    *response.mutable_message() = message;
    if (request.validate_only()) return response;
    std::vector<absl::StatusOr<v1::Receipt>> none;
    absl::Status put = WriteBeside(
        {}, principal, [&](store::Connection& c, const auto&) { return PutMessage(c, message); },
        &none);
    if (!put.ok()) return put;
    return response;
  }
  const Decision decision{request.same_as_order(), request.new_order()};
  if (!decision.same_as_order.empty()) {
    auto state = StateOf(decision.same_as_order);
    if (!state.ok()) return state.status();
    if (*state == nullptr) {
      return absl::NotFoundError(
          absl::StrCat("there is no order ", decision.same_as_order, "; check the number"));
    }
  }
  message.set_decided_by(request.actor());
  message.set_because(request.because());
  std::vector<v1::OrderChange> changes;
  auto taken = TakeAgain(message, decision, request.validate_only(), principal, &changes);
  if (!taken.ok()) return taken.status();
  *response.mutable_message() = *std::move(taken);
  for (v1::OrderChange& change : changes) *response.add_changes() = std::move(change);
  if (!request.validate_only() && response.message().state() == v1::MESSAGE_STATE_APPLIED) {
    absl::Status waited = TakeWaiting(
        {response.message().orders().begin(), response.message().orders().end()}, principal);
    if (!waited.ok()) return waited;
  }
  return response;
}

absl::StatusOr<v1::ReplayMessagesResponse> Intake::Replay(const v1::ReplayMessagesRequest& request,
                                                          int64_t after, int64_t* next,
                                                          const std::string& principal) {
  const Locks locks = LockAll();
  auto page = reader_.Page(v1::MESSAGE_STATE_QUEUED, request.sender(), after, kReplayPage, next);
  if (!page.ok()) return page.status();
  v1::ReplayMessagesResponse response;
  for (const v1::IntakeMessage& listed : *page) {
    // It may have been taken since, with the order that it waited for.
    auto message = reader_.Find(MessageId(listed.name()));
    if (!message.ok()) return message.status();
    if (!message->has_value() || (*message)->state() != v1::MESSAGE_STATE_QUEUED) continue;
    std::vector<v1::OrderChange> changes;
    auto taken = TakeAgain(**message, {}, request.validate_only(), principal, &changes);
    if (!taken.ok()) {
      if (absl::IsFailedPrecondition(taken.status())) continue;  // its bytes were erased
      return taken.status();
    }
    response.set_tried_count(response.tried_count() + 1);
    const bool applied = taken->state() == v1::MESSAGE_STATE_APPLIED;
    if (applied) response.set_applied_count(response.applied_count() + 1);
    if (taken->state() == v1::MESSAGE_STATE_QUEUED) {
      response.set_queued_count(response.queued_count() + 1);
    }
    for (v1::OrderChange& change : changes) {
      if (response.changes_size() < kMostChanges) *response.add_changes() = std::move(change);
    }
    if (!applied || request.validate_only()) continue;
    absl::Status waited = TakeWaiting({taken->orders().begin(), taken->orders().end()}, principal);
    if (!waited.ok()) return waited;
  }
  return response;
}

absl::StatusOr<v1::IntakeMessage> Intake::Erase(const v1::EraseMessageRequest& request) {
  const Locks locks = LockAll();
  auto known = reader_.Find(MessageId(request.name()));
  if (!known.ok()) return known.status();
  if (!known->has_value()) return NotFound(request.name());
  v1::IntakeMessage message = **known;
  message.set_erased(true);
  message.set_decided_by(request.actor());
  message.set_because(request.because());
  std::vector<absl::StatusOr<v1::Receipt>> none;
  absl::Status written = WriteBeside(
      {}, "",
      [&](store::Connection& c, const auto&) {
        absl::Status status = EraseContent(c, std::string(MessageId(message.name())));
        return status.ok() ? PutMessage(c, message) : status;
      },
      &none);
  if (!written.ok()) return written;
  return message;
}

}  // namespace ferrule::intake
