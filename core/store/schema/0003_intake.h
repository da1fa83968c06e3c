// Messages of other systems and files. They are kept beside the ledger, because they hold patient
// particulars and must be erasable; the facts that came of them carry their digests. PostgreSQL's
// text columns compare by bytes, as in the first step.
//
//   messages       each message as received, and what became of it: `record` is an IntakeMessage
//                  without its content. `arrival` counts them.
//   intake_orders  which order a sender's number means, with the patient's reference and what the
//                  same order by another channel has in common with it.
//   imports        how far each file has come.
//   intake_secret  the salt of the patients' references; one row.
#pragma once

namespace ferrule::store::schema {

inline constexpr char kIntakeSqlite[] = R"sql(
CREATE TABLE messages (
  id TEXT NOT NULL PRIMARY KEY,
  arrival INTEGER NOT NULL,
  sender TEXT NOT NULL,
  state INTEGER NOT NULL,
  waits_for TEXT NOT NULL DEFAULT '',
  digest BLOB NOT NULL,
  record BLOB NOT NULL,
  content BLOB
) STRICT;
CREATE UNIQUE INDEX messages_arrival ON messages (arrival);
CREATE INDEX messages_state ON messages (state, arrival);
CREATE INDEX messages_waiting ON messages (waits_for, arrival) WHERE waits_for <> '';

CREATE TABLE intake_orders (
  issuer TEXT NOT NULL,
  number TEXT NOT NULL,
  order_id TEXT NOT NULL,
  patient TEXT NOT NULL,
  content_key TEXT NOT NULL,
  PRIMARY KEY (issuer, number)
) STRICT, WITHOUT ROWID;
CREATE INDEX intake_orders_patient ON intake_orders (patient) WHERE patient <> '';
CREATE INDEX intake_orders_content ON intake_orders (content_key) WHERE content_key <> '';

CREATE TABLE imports (
  id TEXT NOT NULL PRIMARY KEY,
  offset_bytes INTEGER NOT NULL,
  next_line INTEGER NOT NULL,
  read_count INTEGER NOT NULL,
  accepted_count INTEGER NOT NULL,
  repeated_count INTEGER NOT NULL,
  queued_count INTEGER NOT NULL,
  rejected_count INTEGER NOT NULL,
  update_us INTEGER NOT NULL
) STRICT;

CREATE TABLE intake_secret (
  id INTEGER PRIMARY KEY CHECK (id = 1),
  salt BLOB NOT NULL
) STRICT;
)sql";

inline constexpr char kIntakePostgresql[] = R"sql(
CREATE TABLE messages (
  id TEXT COLLATE "C" NOT NULL PRIMARY KEY,
  arrival BIGINT NOT NULL,
  sender TEXT COLLATE "C" NOT NULL,
  state BIGINT NOT NULL,
  waits_for TEXT COLLATE "C" NOT NULL DEFAULT '',
  digest BYTEA NOT NULL,
  record BYTEA NOT NULL,
  content BYTEA
);
CREATE UNIQUE INDEX messages_arrival ON messages (arrival);
CREATE INDEX messages_state ON messages (state, arrival);
CREATE INDEX messages_waiting ON messages (waits_for, arrival) WHERE waits_for <> '';

CREATE TABLE intake_orders (
  issuer TEXT COLLATE "C" NOT NULL,
  number TEXT COLLATE "C" NOT NULL,
  order_id TEXT COLLATE "C" NOT NULL,
  patient TEXT COLLATE "C" NOT NULL,
  content_key TEXT COLLATE "C" NOT NULL,
  PRIMARY KEY (issuer, number)
);
CREATE INDEX intake_orders_patient ON intake_orders (patient) WHERE patient <> '';
CREATE INDEX intake_orders_content ON intake_orders (content_key) WHERE content_key <> '';

CREATE TABLE imports (
  id TEXT COLLATE "C" NOT NULL PRIMARY KEY,
  offset_bytes BIGINT NOT NULL,
  next_line BIGINT NOT NULL,
  read_count BIGINT NOT NULL,
  accepted_count BIGINT NOT NULL,
  repeated_count BIGINT NOT NULL,
  queued_count BIGINT NOT NULL,
  rejected_count BIGINT NOT NULL,
  update_us BIGINT NOT NULL
);

CREATE TABLE intake_secret (
  id BIGINT PRIMARY KEY CHECK (id = 1),
  salt BYTEA NOT NULL
);
)sql";

}  // namespace ferrule::store::schema
