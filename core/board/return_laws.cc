#include "core/board/return_laws.h"

#include <utility>
#include <vector>

#include "core/board/queries.h"
#include "core/board/rentals_seen.h"
#include "core/time/civil.h"

namespace ferrule::board {
namespace {

constexpr int64_t kMostRows = 4'000;
constexpr int kUsualTurnaround = 2;

absl::Status EachState(store::Connection& connection, const store::Sql& sql,
                       const std::string& device_class,
                       absl::FunctionRef<void(const v1::SubjectState&)> use) {
  const store::Value parameters[] = {store::Value::Text(device_class),
                                     store::Value::Int(kMostRows)};
  bool readable = true;
  absl::Status status = connection.Run(sql, parameters, [&](const store::Row& row) {
    v1::SubjectState state;
    std::string_view bytes = row.Bytes(0);
    readable &= state.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
    use(state);
  });
  if (status.ok() && !readable) {
    return absl::DataLossError("a stored state cannot be read; run: ferruled rebuild");
  }
  return status;
}

absl::StatusOr<std::shared_ptr<const promise::ReturnLaw>> Learn(ledger::Ledger& ledger,
                                                                const std::string& device_class,
                                                                int64_t today) {
  const std::shared_ptr<const depot::SettingsBook> book = ledger.Book();
  const depot::Rules& rules =
      book->At(time::StartOfDayMicros(time::DayFromNumber(today), absl::UTCTimeZone()));
  std::vector<promise::RentalSeen> rentals;
  std::vector<promise::TurnSeen> turns;
  absl::Status status = ledger.WithReader([&](store::Connection& connection) {
    absl::Status read =
        EachState(connection, sql::kLatestRentals, device_class, [&](const v1::SubjectState& s) {
          if (auto rental = RentalOf(s.order(), *book)) rentals.push_back(*std::move(rental));
        });
    if (!read.ok()) return read;
    return EachState(connection, sql::kUnitsOfClass, device_class, [&](const v1::SubjectState& s) {
      if (auto turn = TurnOf(s.unit(), rules)) turns.push_back(*turn);
    });
  });
  if (!status.ok()) return status;
  return std::make_shared<const promise::ReturnLaw>(rentals, turns, today, TurnaroundDays(rules));
}

}  // namespace

absl::StatusOr<std::shared_ptr<const promise::ReturnLaw>> ReturnLaws::Of(
    ledger::Ledger& ledger, const std::string& device_class, int64_t today) {
  // The lock is held while a law is learned: whoever asks meanwhile would only learn the same.
  absl::MutexLock lock(&mutex_);
  Learned& learned = learned_[device_class];
  if (learned.law != nullptr && learned.day == today) return learned.law;
  auto law = Learn(ledger, device_class, today);
  if (!law.ok()) return law.status();
  learned = {today, *std::move(law)};
  return learned.law;
}

int TurnaroundDays(const depot::Rules& rules) {
  const int days = rules.settings().promise_policy().turnaround_days();
  return days > 0 ? days : kUsualTurnaround;
}

}  // namespace ferrule::board
