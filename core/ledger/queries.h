// Every statement of the ledger, one text for both engines.
#pragma once

#include "core/store/connection.h"

namespace ferrule::ledger::sql {

inline constexpr store::Sql kHead{
    "head",
    "SELECT sequence, recorded_us, digest, next_subject_id, max_happened_us, epoch, label "
    "FROM ledger_head WHERE id = 1"};

inline constexpr store::Sql kPutHead{
    "put_head",
    "UPDATE ledger_head SET sequence = $1, recorded_us = $2, digest = $3, next_subject_id = $4, "
    "max_happened_us = $5 WHERE id = 1"};

inline constexpr store::Sql kPutLabel{"put_label",
                                      "UPDATE ledger_head SET label = $1 WHERE id = 1"};

// What an entry id was used for before: 0 with bytes, digest and receipt of an entry, or 1 with
// status and content digest of a refusal. The few entries that share a key (EntryKey) are told
// apart by their bytes.
inline constexpr store::Sql kEarlier{
    "earlier",
    "SELECT 0, bytes, digest, receipt FROM entries WHERE id_key = $1 UNION ALL "
    "SELECT 1, status, content_digest, NULL FROM refusals WHERE entry_id = $2"};

inline constexpr store::Sql kStateByName{"state_by_name",
                                         "SELECT id, state FROM states WHERE name = $1"};

inline constexpr store::Sql kEntryFacts{
    "facts_of_subject",
    "SELECT e.sequence, e.bytes, f.fact_index FROM fact_subjects f "
    "JOIN entries e ON e.sequence = f.sequence "
    "WHERE f.subject_id = $1 AND f.sequence <= $2 ORDER BY f.sequence, f.fact_index"};

inline constexpr store::Sql kAddEntry{
    "add_entry",
    "INSERT INTO entries (sequence, recorded_us, id_key, digest, bytes, receipt) "
    "VALUES ($1, $2, $3, $4, $5, $6)"};

inline constexpr store::Sql kAddFactSubject{
    "add_fact_subject",
    "INSERT INTO fact_subjects (subject_id, sequence, fact_index, kind) VALUES ($1, $2, $3, $4)"};

inline constexpr store::Sql kAddRefusal{
    "add_refusal",
    "INSERT INTO refusals (entry_id, entry_key, content_digest, recorded_us, status) "
    "VALUES ($1, $2, $3, $4, $5)"};

// A state whose columns have not changed: touches no index.
inline constexpr store::Sql kPutStateBytes{
    "put_state_bytes", "UPDATE states SET state = $1, last_sequence = $2 WHERE id = $3"};

// One whose columns have changed, but not its serial number: SQLite writes an index anew that has a
// column which the statement sets, to whatever value.
inline constexpr store::Sql kPutStateColumns{
    "put_state_columns",
    "UPDATE states SET last_sequence = $1, branch = $2, place = $3, model = $4, device_class = $5, "
    "partner = $6, custody = $7, hygiene = $8, condition = $9, commitment = $10, status = $11, "
    "due_day = $12, due_basis = $13, needed_day = $14, failed_pickups = $15, questions = $16, "
    "state = $17 WHERE id = $18"};

inline constexpr store::Sql kPutState{
    "put_state",
    "INSERT INTO states (id, name, kind, serial, last_sequence, branch, place, model, "
    "device_class, partner, custody, hygiene, condition, commitment, status, due_day, due_basis, "
    "needed_day, failed_pickups, questions, state) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, "
    "$10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20, $21) ON CONFLICT (id) DO UPDATE SET "
    "last_sequence = excluded.last_sequence, branch = excluded.branch, place = excluded.place, "
    "model = excluded.model, device_class = excluded.device_class, serial = excluded.serial, "
    "partner = excluded.partner, custody = excluded.custody, hygiene = excluded.hygiene, "
    "condition = excluded.condition, commitment = excluded.commitment, status = excluded.status, "
    "due_day = excluded.due_day, due_basis = excluded.due_basis, "
    "needed_day = excluded.needed_day, failed_pickups = excluded.failed_pickups, "
    "questions = excluded.questions, state = excluded.state"};

inline constexpr store::Sql kEntriesAfter{
    "entries_after",
    "SELECT sequence, recorded_us, bytes, digest, id_key FROM entries WHERE sequence > $1 "
    "ORDER BY sequence LIMIT $2"};

inline constexpr store::Sql kEntriesOfSubjectAfter{
    "entries_of_subject_after",
    "SELECT e.sequence, e.recorded_us, e.bytes, e.digest FROM entries e "
    "WHERE e.sequence IN (SELECT f.sequence FROM fact_subjects f JOIN states s "
    "ON s.id = f.subject_id WHERE s.name = $1 AND f.sequence > $2) ORDER BY e.sequence LIMIT $3"};

inline constexpr store::Sql kRecordedAt{"recorded_at",
                                        "SELECT recorded_us FROM entries WHERE sequence = $1"};

inline constexpr store::Sql kAllStates{
    "all_states",
    "SELECT id, name, state, branch, place, model, device_class, serial, partner, custody, "
    "hygiene, "
    "condition, commitment, status, due_day, due_basis, needed_day, failed_pickups, questions, "
    "last_sequence FROM states ORDER BY id"};

inline constexpr store::Sql kAllFactSubjects{
    "all_fact_subjects", "SELECT subject_id, sequence, fact_index, kind FROM fact_subjects"};

// Entries about the settings, found by their subject's row.
inline constexpr store::Sql kSettingsEntries{
    "settings_entries",
    "SELECT e.sequence, e.bytes FROM entries e WHERE e.sequence IN "
    "(SELECT f.sequence FROM fact_subjects f JOIN states s ON s.id = f.subject_id "
    "WHERE s.name = 'settings/depot') ORDER BY e.sequence"};

// Spans. One that lasts has the greatest integer for its end (core/fold/spans.h, kLasts). One to be
// changed is found by its subject, and its holder is compared as an expression, which no index
// serves: PostgreSQL, while it has no statistics of the table, would look among all that last at
// that holder.
inline constexpr store::Sql kAddSpan{
    "add_span",
    "INSERT INTO intervals (subject_id, kind, from_us, to_us, holder, detail, lot, fact, "
    "piece_count) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)"};

inline constexpr store::Sql kEndSpan{
    "end_span",
    "UPDATE intervals SET to_us = $1 WHERE subject_id = $2 AND from_us = $3 AND kind = $4 "
    "AND holder || '' = $5 AND detail = $6 AND to_us = 9223372036854775807"};

inline constexpr store::Sql kVoidSpan{
    "void_span",
    "DELETE FROM intervals WHERE subject_id = $1 AND from_us = $2 AND kind = $3 "
    "AND holder || '' = $4 AND detail = $5 AND to_us = 9223372036854775807"};

inline constexpr store::Sql kDropSpansOfSubject{"drop_spans_of_subject",
                                                "DELETE FROM intervals WHERE subject_id = $1"};

inline constexpr store::Sql kDropSpans{"drop_spans", "DELETE FROM intervals"};

inline constexpr store::Sql kAllSpans{
    "all_spans",
    "SELECT subject_id, kind, from_us, to_us, holder, detail, lot, fact, piece_count "
    "FROM intervals ORDER BY subject_id"};

// The one change of an entry's row: what it is filed under. The owner of the tables alone may.
inline constexpr store::Sql kPutEntryKey{"put_entry_key",
                                         "UPDATE entries SET id_key = $1 WHERE sequence = $2"};

inline constexpr store::Sql kDropStates{"drop_states", "DELETE FROM states"};

}  // namespace ferrule::ledger::sql
