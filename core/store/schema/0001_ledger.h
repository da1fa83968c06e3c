// Version 1: the ledger and the states.
//
// One DDL text per engine, the same tables, columns and index names in both. SQLite's tables are
// STRICT, so that text cannot land in an integer column; its text columns compare by bytes, as
// PostgreSQL's do with COLLATE "C". Columns without a value are '' or 0, not NULL: it costs no more
// space and no statement must tell the two apart. Only times that may be absent are NULL, and the
// receipt of an entry.
//
// What the tables are for:
//   ledger_head    one row: where the ledger ends, and the latest true time in it (NULL while it is
//                  empty). Every writer locks it.
//   entries        the ledger: bytes as hashed. recorded_us never falls as sequence grows, so what
//                  was known at an instant is found by halving sequence. entry_key is a 64-bit hash
//                  of the entry's id, for finding a repeat; it is not unique by itself.
//   refusals       what was answered to entries that broke a rule.
//   fact_subjects  which facts each subject has.
//   states         one row per subject, its state as bytes and the columns lists are made from.
//
// The indexes of `states` hold no column that changes with every fact: a statement that sets only
// `state` and `last_sequence` touches none of them. A partial index serves a statement only when
// its WHERE says the index's condition word for word (serial <> '', kind = 1, due_day IS NOT NULL,
// questions > 0).
#pragma once

namespace ferrule::store::schema {

inline constexpr char kLedgerSqlite[] = R"sql(
CREATE TABLE schema_migrations (
  version INTEGER PRIMARY KEY,
  applied_us INTEGER NOT NULL,
  name TEXT NOT NULL
) STRICT;

CREATE TABLE ledger_head (
  id INTEGER PRIMARY KEY CHECK (id = 1),
  sequence INTEGER NOT NULL,
  recorded_us INTEGER NOT NULL,
  digest BLOB NOT NULL,
  next_subject_id INTEGER NOT NULL,
  max_happened_us INTEGER,
  epoch TEXT NOT NULL,
  label TEXT NOT NULL
) STRICT;
INSERT INTO ledger_head VALUES (1, 0, 0, x'', 1, NULL, '', '');

CREATE TABLE entries (
  sequence INTEGER PRIMARY KEY CHECK (sequence > 0),
  recorded_us INTEGER NOT NULL,
  entry_key INTEGER NOT NULL,
  digest BLOB NOT NULL,
  bytes BLOB NOT NULL,
  receipt BLOB
) STRICT;
CREATE INDEX entries_entry_key ON entries (entry_key);

CREATE TABLE refusals (
  entry_key INTEGER NOT NULL,
  entry_id TEXT NOT NULL PRIMARY KEY,
  content_digest BLOB NOT NULL,
  recorded_us INTEGER NOT NULL,
  status BLOB NOT NULL
) STRICT;

CREATE TABLE fact_subjects (
  subject_id INTEGER NOT NULL,
  sequence INTEGER NOT NULL,
  fact_index INTEGER NOT NULL,
  kind INTEGER NOT NULL,
  PRIMARY KEY (subject_id, sequence, fact_index)
) STRICT, WITHOUT ROWID;

CREATE TABLE states (
  id INTEGER PRIMARY KEY CHECK (id > 0),
  name TEXT NOT NULL,
  kind INTEGER NOT NULL,
  last_sequence INTEGER NOT NULL,
  branch TEXT NOT NULL DEFAULT '',
  place TEXT NOT NULL DEFAULT '',
  model TEXT NOT NULL DEFAULT '',
  device_class TEXT NOT NULL DEFAULT '',
  serial TEXT NOT NULL DEFAULT '',
  partner TEXT NOT NULL DEFAULT '',
  custody INTEGER NOT NULL DEFAULT 0,
  hygiene INTEGER NOT NULL DEFAULT 0,
  condition INTEGER NOT NULL DEFAULT 0,
  commitment INTEGER NOT NULL DEFAULT 0,
  status INTEGER NOT NULL DEFAULT 0,
  due_day INTEGER,
  due_basis INTEGER NOT NULL DEFAULT 0,
  needed_day INTEGER,
  failed_pickups INTEGER NOT NULL DEFAULT 0,
  questions INTEGER NOT NULL DEFAULT 0,
  state BLOB NOT NULL
) STRICT;
CREATE UNIQUE INDEX states_name ON states (name);
CREATE INDEX states_kind_name ON states (kind, name);
CREATE INDEX states_due ON states (due_day, branch, name, partner, device_class, due_basis,
                                   failed_pickups) WHERE due_day IS NOT NULL;
CREATE INDEX states_questions ON states (name) WHERE questions > 0;
CREATE INDEX states_serial ON states (serial) WHERE serial <> '';
CREATE INDEX states_place ON states (place, name) WHERE kind = 1;
)sql";

// Fill factor: room on the page for the new version of a row lets PostgreSQL change `state` without
// touching the indexes.
inline constexpr char kLedgerPostgresql[] = R"sql(
CREATE TABLE schema_migrations (
  version BIGINT PRIMARY KEY,
  applied_us BIGINT NOT NULL,
  name TEXT COLLATE "C" NOT NULL
);

CREATE TABLE ledger_head (
  id BIGINT PRIMARY KEY CHECK (id = 1),
  sequence BIGINT NOT NULL,
  recorded_us BIGINT NOT NULL,
  digest BYTEA NOT NULL,
  next_subject_id BIGINT NOT NULL,
  max_happened_us BIGINT,
  epoch TEXT COLLATE "C" NOT NULL,
  label TEXT COLLATE "C" NOT NULL
) WITH (fillfactor = 10);
INSERT INTO ledger_head VALUES (1, 0, 0, '', 1, NULL, '', '');

CREATE TABLE entries (
  sequence BIGINT PRIMARY KEY CHECK (sequence > 0),
  recorded_us BIGINT NOT NULL,
  entry_key BIGINT NOT NULL,
  digest BYTEA NOT NULL,
  bytes BYTEA NOT NULL,
  receipt BYTEA
);
CREATE INDEX entries_entry_key ON entries (entry_key);

CREATE TABLE refusals (
  entry_key BIGINT NOT NULL,
  entry_id TEXT COLLATE "C" NOT NULL PRIMARY KEY,
  content_digest BYTEA NOT NULL,
  recorded_us BIGINT NOT NULL,
  status BYTEA NOT NULL
);

CREATE TABLE fact_subjects (
  subject_id BIGINT NOT NULL,
  sequence BIGINT NOT NULL,
  fact_index BIGINT NOT NULL,
  kind BIGINT NOT NULL,
  PRIMARY KEY (subject_id, sequence, fact_index)
);

CREATE TABLE states (
  id BIGINT PRIMARY KEY CHECK (id > 0),
  name TEXT COLLATE "C" NOT NULL,
  kind BIGINT NOT NULL,
  last_sequence BIGINT NOT NULL,
  branch TEXT COLLATE "C" NOT NULL DEFAULT '',
  place TEXT COLLATE "C" NOT NULL DEFAULT '',
  model TEXT COLLATE "C" NOT NULL DEFAULT '',
  device_class TEXT COLLATE "C" NOT NULL DEFAULT '',
  serial TEXT COLLATE "C" NOT NULL DEFAULT '',
  partner TEXT COLLATE "C" NOT NULL DEFAULT '',
  custody BIGINT NOT NULL DEFAULT 0,
  hygiene BIGINT NOT NULL DEFAULT 0,
  condition BIGINT NOT NULL DEFAULT 0,
  commitment BIGINT NOT NULL DEFAULT 0,
  status BIGINT NOT NULL DEFAULT 0,
  due_day BIGINT,
  due_basis BIGINT NOT NULL DEFAULT 0,
  needed_day BIGINT,
  failed_pickups BIGINT NOT NULL DEFAULT 0,
  questions BIGINT NOT NULL DEFAULT 0,
  state BYTEA NOT NULL
) WITH (fillfactor = 80);
CREATE UNIQUE INDEX states_name ON states (name);
CREATE INDEX states_kind_name ON states (kind, name);
CREATE INDEX states_due ON states (due_day, branch, name, partner, device_class, due_basis,
                                   failed_pickups) WHERE due_day IS NOT NULL;
CREATE INDEX states_questions ON states (name) WHERE questions > 0;
CREATE INDEX states_serial ON states (serial) WHERE serial <> '';
CREATE INDEX states_place ON states (place, name) WHERE kind = 1;
)sql";

}  // namespace ferrule::store::schema
