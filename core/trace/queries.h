// Every statement of the traces, one text for both engines. `to_us` of a span that lasts is the
// greatest integer (core/fold/spans.h).
#pragma once

#include "core/store/connection.h"

namespace ferrule::trace::sql {

inline constexpr store::Sql kSubjectId{"trace_subject_id", "SELECT id FROM states WHERE name = $1"};

inline constexpr store::Sql kStateByName{"trace_state",
                                         "SELECT id, state FROM states WHERE name = $1"};

inline constexpr store::Sql kSpansOfSubject{
    "spans_of_subject",
    "SELECT kind, from_us, to_us, holder, detail, lot, fact, piece_count FROM intervals "
    "WHERE subject_id = $1 AND from_us < $2 AND to_us > $3"};

inline constexpr store::Sql kSpansOfHolder{
    "spans_of_holder",
    "SELECT i.kind, i.from_us, i.to_us, i.holder, i.detail, i.lot, i.fact, i.piece_count, s.name "
    "FROM intervals i JOIN states s ON s.id = i.subject_id "
    "WHERE i.holder = $1 AND i.to_us > $2 AND i.from_us < $3 AND i.from_us >= $4 "
    "ORDER BY i.from_us, s.name, i.kind, i.detail, i.fact LIMIT $5"};

// The parts of one lot in their units, and who had the units meanwhile.
inline constexpr store::Sql kPathOfLot{
    "path_of_lot",
    "SELECT sp.name, p.lot, p.holder, p.detail, c.holder, p.from_us, p.to_us, c.from_us, c.to_us "
    "FROM intervals p JOIN states sp ON sp.id = p.subject_id JOIN states su ON su.name = p.holder "
    "JOIN intervals c ON c.subject_id = su.id AND c.kind = 1 AND c.from_us < p.to_us "
    "AND c.to_us > p.from_us WHERE p.lot = $1 AND p.lot <> '' AND p.kind = 2 "
    "ORDER BY sp.name, p.from_us, c.from_us LIMIT $2"};

inline constexpr store::Sql kPathOfPart{
    "path_of_part",
    "SELECT sp.name, p.lot, p.holder, p.detail, c.holder, p.from_us, p.to_us, c.from_us, c.to_us "
    "FROM states sp JOIN intervals p ON p.subject_id = sp.id AND p.kind = 2 "
    "JOIN states su ON su.name = p.holder "
    "JOIN intervals c ON c.subject_id = su.id AND c.kind = 1 AND c.from_us < p.to_us "
    "AND c.to_us > p.from_us WHERE sp.name = $1 ORDER BY sp.name, p.from_us, c.from_us LIMIT $2"};

// Where the parts of a lot, or one part, ever were.
inline constexpr store::Sql kPartsOfLot{
    "parts_of_lot",
    "SELECT s.name, p.holder, p.detail, p.from_us, p.to_us FROM intervals p "
    "JOIN states s ON s.id = p.subject_id WHERE p.lot = $1 AND p.lot <> '' AND p.kind = 2"};

inline constexpr store::Sql kUnitsOfPart{
    "units_of_part",
    "SELECT s.name, p.holder, p.detail, p.from_us, p.to_us FROM states s "
    "JOIN intervals p ON p.subject_id = s.id AND p.kind = 2 WHERE s.name = $1"};

inline constexpr store::Sql kUnitsOfModel{"units_of_model",
                                          "SELECT name FROM states WHERE kind = 1 AND model = $1"};

inline constexpr store::Sql kUnitSerials{
    "unit_serials", "SELECT name, serial, model FROM states WHERE kind = 1 AND serial <> ''"};

// Units that went out between two instants.
inline constexpr store::Sql kUnitsIssued{
    "units_issued",
    "SELECT DISTINCT s.id, s.name FROM intervals i JOIN states s ON s.id = i.subject_id "
    "WHERE i.kind = 1 AND i.from_us >= $1 AND i.from_us < $2 AND i.holder >= 'orders/' "
    "AND i.holder < 'orders0' ORDER BY s.name"};

inline constexpr store::Sql kStatesOfKind{
    "states_of_kind", "SELECT name, state FROM states WHERE kind = $1 AND name > $2 ORDER BY name"};

// What the audit looks for in the intervals: subject, other, detail, from_us.
inline constexpr store::Sql kCustodyOverlaps{
    "custody_overlaps",
    "SELECT s.name, b.holder, a.holder, b.from_us FROM intervals a "
    "JOIN intervals b ON b.subject_id = a.subject_id AND b.kind = 1 AND b.from_us > a.from_us "
    "AND b.from_us < a.to_us JOIN states s ON s.id = a.subject_id WHERE a.kind = 1 "
    "ORDER BY s.name, b.from_us"};

inline constexpr store::Sql kCustodyGaps{
    "custody_gaps",
    "SELECT s.name, a.holder, '', a.to_us FROM intervals a JOIN states s ON s.id = a.subject_id "
    "WHERE a.kind = 1 AND a.to_us < 9223372036854775807 AND NOT EXISTS "
    "(SELECT 1 FROM intervals b WHERE b.subject_id = a.subject_id AND b.kind = 1 "
    "AND b.from_us = a.to_us) ORDER BY s.name, a.to_us"};

inline constexpr store::Sql kIssuedWhileHeld{
    "issued_while_held",
    "SELECT s.name, c.holder, h.detail, c.from_us FROM intervals h "
    "JOIN intervals c ON c.subject_id = h.subject_id AND c.kind = 1 AND c.from_us > h.from_us "
    "AND c.from_us < h.to_us AND c.holder >= 'orders/' AND c.holder < 'orders0' "
    "JOIN states s ON s.id = h.subject_id WHERE h.kind = 3 ORDER BY s.name, c.from_us"};

// Rentals begun between two instants, for a draw by chance.
inline constexpr store::Sql kOrdersIssued{
    "orders_issued",
    "SELECT holder, min(from_us) FROM intervals WHERE kind = 1 AND holder >= 'orders/' "
    "AND holder < 'orders0' GROUP BY holder HAVING min(from_us) >= $1 AND min(from_us) < $2 "
    "ORDER BY holder"};

// What is kept beside the ledger and can be erased.
inline constexpr store::Sql kPatientReferences{"trace_patient_references",
                                               "SELECT reference FROM patients ORDER BY reference"};
inline constexpr store::Sql kMessagesKept{
    "trace_messages_kept", "SELECT record FROM messages WHERE content IS NOT NULL ORDER BY id"};

inline constexpr store::Sql kOpenHolds{
    "open_holds",
    "SELECT i.kind, i.from_us, i.to_us, i.holder, i.detail, i.lot, i.fact, i.piece_count, s.name "
    "FROM intervals i JOIN states s ON s.id = i.subject_id "
    "WHERE i.kind = 3 AND i.to_us = 9223372036854775807 ORDER BY s.name, i.from_us"};

}  // namespace ferrule::trace::sql
