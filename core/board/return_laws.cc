#include "core/board/return_laws.h"

#include <set>
#include <utility>
#include <vector>

#include "absl/hash/hash.h"
#include "core/board/queries.h"
#include "core/board/rentals_seen.h"
#include "core/board/turns_seen.h"
#include "core/ledger/history.h"
#include "core/time/civil.h"

namespace ferrule::board {
namespace {

constexpr int64_t kMostRentals = 4'000;
constexpr int64_t kMostMoves = 200'000;
constexpr int64_t kTurnDays = 730;
constexpr int kUsualTurnaround = 2;

absl::Status ReadTurns(store::Connection& connection, const std::string& device_class,
                       int64_t since_us, const depot::Rules& rules,
                       std::vector<promise::TurnSeen>* turns) {
  const store::Value parameters[] = {store::Value::Text(device_class), store::Value::Int(since_us),
                                     store::Value::Int(kMostMoves)};
  int64_t unit = -1;
  std::vector<CustodySpan> spans;
  const auto follow = [&] {
    for (promise::TurnSeen& turn : TurnsOf(spans, rules)) turns->push_back(turn);
    spans.clear();
  };
  absl::Status status =
      connection.Run(sql::kCustodyOfClass, parameters, [&](const store::Row& row) {
        if (row.Int(0) != unit) follow();
        unit = row.Int(0);
        spans.push_back({row.Int(1), row.Int(2), std::string(row.Bytes(3))});
      });
  follow();
  return status;
}

std::set<int64_t> DaysOff(const depot::Rules& rules) {
  std::set<int64_t> days;
  for (const v1::Holiday& holiday : rules.settings().holidays()) {
    if (time::IsValid(holiday.date())) days.insert(time::DayNumber(time::ToDay(holiday.date())));
  }
  return days;
}

// The rental of one order; its facts are read only where the state does not tell all.
absl::StatusOr<std::optional<promise::RentalSeen>> Read(store::Connection& connection,
                                                        int64_t order_id, int64_t head,
                                                        const v1::OrderState& order,
                                                        const depot::SettingsBook& book) {
  if (!NeedsSaidEnds(order)) return RentalOf(order, book);
  ledger::History history;
  if (absl::Status status = history.Load(connection, order_id, head); !status.ok()) return status;
  const depot::Rules& rules = book.At(time::ToMicros(order.handed_over().time()));
  return RentalOf(order, book, SaidEndsOf(history.views(), rules.ZoneOf(order.details().branch())));
}

}  // namespace

// A rental is read again when its state has changed since the last time; most are over.
absl::Status ReturnLaws::ReadRentals(ledger::Ledger& ledger, const std::string& device_class,
                                     Learned* learned) {
  const store::Value parameters[] = {store::Value::Text(device_class),
                                     store::Value::Int(kMostRentals)};
  const int64_t head = ledger.head().sequence;
  Rentals now;
  struct Changed {
    int64_t id;
    size_t fingerprint;
    v1::SubjectState state;
  };
  std::vector<Changed> changed;
  bool readable = true;
  absl::Status status = ledger.WithReader([&](store::Connection& connection) {
    absl::Status read = connection.Run(sql::kLatestRentals, parameters, [&](const store::Row& row) {
      const std::string_view bytes = row.Bytes(0);
      const int64_t id = row.Int(1);
      const size_t fingerprint = absl::HashOf(bytes);
      const auto before = learned->rentals.find(id);
      if (before != learned->rentals.end() && before->second.fingerprint == fingerprint) {
        now.insert({id, std::move(before->second)});
        return;
      }
      changed.push_back({id, fingerprint, {}});
      readable &= changed.back().state.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
    });
    if (!read.ok()) return read;
    if (!readable) {
      return absl::DataLossError("a stored state cannot be read; run: ferruled rebuild");
    }
    for (const Changed& row : changed) {
      auto seen = Read(connection, row.id, head, row.state.order(), *learned->book);
      if (!seen.ok()) return seen.status();
      now[row.id] = {row.fingerprint, *std::move(seen)};
    }
    return absl::OkStatus();
  });
  learned->rentals = status.ok() ? std::move(now) : Rentals();
  return status;
}

absl::Status ReturnLaws::Learn(ledger::Ledger& ledger, const std::string& device_class,
                               int64_t today, Learned* learned) {
  const std::shared_ptr<const depot::SettingsBook> book = ledger.Book();
  if (learned->book != book) learned->rentals.clear();
  learned->book = book;
  const auto at_us = [](int64_t day) {
    return time::StartOfDayMicros(time::DayFromNumber(day), absl::UTCTimeZone());
  };
  const depot::Rules& rules = book->At(at_us(today));
  absl::Status status = ReadRentals(ledger, device_class, learned);
  if (!status.ok()) return status;
  std::vector<promise::TurnSeen> turns;
  status = ledger.WithReader([&](store::Connection& connection) {
    return ReadTurns(connection, device_class, at_us(today - kTurnDays), rules, &turns);
  });
  if (!status.ok()) return status;
  std::vector<promise::RentalSeen> rentals;
  for (const auto& [id, rental] : learned->rentals) {
    if (rental.seen) rentals.push_back(*rental.seen);
  }
  learned->day = today;
  learned->law = std::make_shared<const promise::ReturnLaw>(rentals, turns, today,
                                                            TurnaroundDays(rules), DaysOff(rules));
  return absl::OkStatus();
}

absl::StatusOr<std::shared_ptr<const promise::ReturnLaw>> ReturnLaws::Of(
    ledger::Ledger& ledger, const std::string& device_class, int64_t today) {
  // The lock is held while a law is learned: whoever asks meanwhile would only learn the same.
  absl::MutexLock lock(&mutex_);
  Learned& learned = learned_[device_class];
  if (learned.law != nullptr && learned.day == today) return learned.law;
  if (absl::Status status = Learn(ledger, device_class, today, &learned); !status.ok()) {
    return status;
  }
  return learned.law;
}

int TurnaroundDays(const depot::Rules& rules) {
  const int days = rules.settings().promise_policy().turnaround_days();
  return days > 0 ? days : kUsualTurnaround;
}

}  // namespace ferrule::board
