// A fresh depot for one test, on a SQLite file or in a PostgreSQL schema of its own, with a clock
// that stands still.
#pragma once

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <functional>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "core/ledger/whole.h"
#include "core/store/connection.h"
#include "core/time/clock.h"

namespace ferrule::testing {

// Runs each test on "sqlite" and on "postgresql". A run without a PostgreSQL fails.
class OnEveryEngine : public ::testing::TestWithParam<std::string> {};
#define FERRULE_ON_EVERY_ENGINE(suite)                    \
  INSTANTIATE_TEST_SUITE_P(                               \
      , suite, ::testing::Values("sqlite", "postgresql"), \
      [](const ::testing::TestParamInfo<std::string>& parameter) { return parameter.param; })

class LedgerDepot {
 public:
  explicit LedgerDepot(const std::string& engine);
  ~LedgerDepot();

  ledger::Ledger& ledger();
  time::ManualClock& clock() { return clock_; }
  // Closes the ledger and opens it again, as a restart does.
  void Reopen();
  // The same on what `around` makes of the store.
  void ReopenAround(
      const std::function<std::unique_ptr<store::Database>(std::unique_ptr<store::Database>)>&
          around);
  // The same as Reopen where it may be refused.
  absl::Status TryReopen();

  absl::StatusOr<v1::Receipt> Record(v1::Entry entry);
  absl::StatusOr<v1::Receipt> Check(v1::Entry entry);
  std::vector<absl::StatusOr<v1::Receipt>> RecordBatch(std::vector<v1::Entry> entries);
  v1::Receipt MustRecord(v1::Entry entry);

  // The ledger is closed for these and opened again by its next use.
  ledger::WholeReport MustVerify(std::span<const ledger::Anchor> anchors = {});
  int64_t MustRebuild();
  void Sql(const store::Sql& sql, const std::vector<store::Value>& parameters = {},
           const std::function<void(const store::Row&)>& on_row = nullptr);

  // The SQLite file; empty on PostgreSQL.
  const std::string& path() const { return path_; }

 private:
  std::unique_ptr<store::Database> OpenDatabase();

  const std::string engine_;
  std::string folder_;
  std::string path_;
  std::string schema_;
  std::string conninfo_;
  time::ManualClock clock_;
  std::unique_ptr<ledger::Ledger> ledger_;
};

}  // namespace ferrule::testing
