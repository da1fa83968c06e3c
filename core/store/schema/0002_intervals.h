// Version 2: intervals, what was so from one instant until before another.
//
// They follow from the facts and are written anew by ferruled rebuild. One row is one span of
// core/fold/spans.h: subject_id is the subject's row in `states`, to_us the greatest integer while
// it lasts. Rows are found by their subject, by their holder among those that end after an instant,
// and by the lot of a part.
//
// An older store has the table empty until ferruled rebuild has run; verify says so.
#pragma once

namespace ferrule::store::schema {

inline constexpr char kIntervalsSqlite[] = R"sql(
CREATE TABLE intervals (
  subject_id INTEGER NOT NULL,
  kind INTEGER NOT NULL,
  from_us INTEGER NOT NULL,
  to_us INTEGER NOT NULL,
  holder TEXT NOT NULL,
  detail TEXT NOT NULL,
  lot TEXT NOT NULL,
  fact TEXT NOT NULL,
  piece_count INTEGER NOT NULL
) STRICT;
CREATE INDEX intervals_subject ON intervals (subject_id, from_us);
CREATE INDEX intervals_holder ON intervals (holder, to_us);
CREATE INDEX intervals_lot ON intervals (lot) WHERE lot <> '';
)sql";

inline constexpr char kIntervalsPostgresql[] = R"sql(
CREATE TABLE intervals (
  subject_id BIGINT NOT NULL,
  kind BIGINT NOT NULL,
  from_us BIGINT NOT NULL,
  to_us BIGINT NOT NULL,
  holder TEXT COLLATE "C" NOT NULL,
  detail TEXT COLLATE "C" NOT NULL,
  lot TEXT COLLATE "C" NOT NULL,
  fact TEXT COLLATE "C" NOT NULL,
  piece_count BIGINT NOT NULL
);
CREATE INDEX intervals_subject ON intervals (subject_id, from_us);
CREATE INDEX intervals_holder ON intervals (holder, to_us);
CREATE INDEX intervals_lot ON intervals (lot) WHERE lot <> '';
)sql";

}  // namespace ferrule::store::schema
