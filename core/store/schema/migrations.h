// The numbered steps of the schema. To add one: write schema/NNNN_subject.h beside the others and
// name it here, in the one list. A step that was released is never changed.
#pragma once

#include <array>

#include "core/store/schema/0001_ledger.h"
#include "core/store/schema/0002_intervals.h"
#include "core/store/schema/0003_intake.h"
#include "core/store/schema/0004_access.h"
#include "core/store/schema/0005_entry_keys.h"
#include "core/store/schema/steps.h"

namespace ferrule::store::schema {

// The first one makes version 1, the second one version 2, and so on.
inline constexpr std::array kMigrations = {
    Migration{"ledger", kLedgerSqlite, kLedgerPostgresql},
    Migration{"intervals", kIntervalsSqlite, kIntervalsPostgresql},
    Migration{"intake", kIntakeSqlite, kIntakePostgresql},
    Migration{"access", kAccessSqlite, kAccessPostgresql},
    Migration{"entry_keys", kEntryKeysSqlite, kEntryKeysPostgresql},
};

}  // namespace ferrule::store::schema
