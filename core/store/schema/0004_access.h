// Who may call, who has read what, and particulars of patients. They stand beside the ledger:
// tokens end, and particulars must be erasable while every entry stays as it was chained.
//
//   access_rules   versions of the access rules; the latest from_us that has come rules.
//   tokens         by their digest alone; revoke_us 0 while a token is not revoked.
//   patient_reads  one row a read about a patient, never what was read.
//   patients       particulars by the opaque reference of the orders: a PatientParticulars.
#pragma once

namespace ferrule::store::schema {

inline constexpr char kAccessSqlite[] = R"sql(
CREATE TABLE access_rules (
  number INTEGER NOT NULL PRIMARY KEY,
  from_us INTEGER NOT NULL,
  put_us INTEGER NOT NULL,
  principal TEXT NOT NULL,
  rules BLOB NOT NULL
) STRICT;

CREATE TABLE tokens (
  id TEXT NOT NULL PRIMARY KEY,
  principal TEXT NOT NULL,
  digest BLOB NOT NULL,
  create_us INTEGER NOT NULL,
  expire_us INTEGER NOT NULL,
  revoke_us INTEGER NOT NULL,
  note TEXT NOT NULL,
  issuer TEXT NOT NULL
) STRICT;

CREATE TABLE patient_reads (
  number INTEGER NOT NULL PRIMARY KEY,
  read_us INTEGER NOT NULL,
  principal TEXT NOT NULL,
  method TEXT NOT NULL,
  resource TEXT NOT NULL,
  because TEXT NOT NULL
) STRICT;
CREATE INDEX patient_reads_resource ON patient_reads (resource, number);

CREATE TABLE patients (
  reference TEXT NOT NULL PRIMARY KEY,
  particulars BLOB NOT NULL
) STRICT;
)sql";

inline constexpr char kAccessPostgresql[] = R"sql(
CREATE TABLE access_rules (
  number BIGINT NOT NULL PRIMARY KEY,
  from_us BIGINT NOT NULL,
  put_us BIGINT NOT NULL,
  principal TEXT COLLATE "C" NOT NULL,
  rules BYTEA NOT NULL
);

CREATE TABLE tokens (
  id TEXT COLLATE "C" NOT NULL PRIMARY KEY,
  principal TEXT COLLATE "C" NOT NULL,
  digest BYTEA NOT NULL,
  create_us BIGINT NOT NULL,
  expire_us BIGINT NOT NULL,
  revoke_us BIGINT NOT NULL,
  note TEXT COLLATE "C" NOT NULL,
  issuer TEXT COLLATE "C" NOT NULL
);

CREATE TABLE patient_reads (
  number BIGINT NOT NULL PRIMARY KEY,
  read_us BIGINT NOT NULL,
  principal TEXT COLLATE "C" NOT NULL,
  method TEXT COLLATE "C" NOT NULL,
  resource TEXT COLLATE "C" NOT NULL,
  because TEXT COLLATE "C" NOT NULL
);
CREATE INDEX patient_reads_resource ON patient_reads (resource, number);

CREATE TABLE patients (
  reference TEXT COLLATE "C" NOT NULL PRIMARY KEY,
  particulars BYTEA NOT NULL
);
)sql";

}  // namespace ferrule::store::schema
