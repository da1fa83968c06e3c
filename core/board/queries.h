// Every statement of the answers, one text for both engines.
#pragma once

#include "core/store/connection.h"

namespace ferrule::board::sql {

inline constexpr store::Sql kUnitColumns{
    "unit_columns",
    "SELECT name, branch, device_class, custody, hygiene, condition, commitment FROM states "
    "WHERE kind = 1 AND custody <> 4"};

// The only units whose readiness needs a closer look.
inline constexpr store::Sql kReadyCandidates{
    "ready_candidates",
    "SELECT state, branch, device_class FROM states WHERE kind = 1 AND custody = 1 "
    "AND hygiene = 3 AND condition = 2 AND commitment = 1"};

inline constexpr store::Sql kWaitingOrders{
    "waiting_orders",
    "SELECT branch, device_class, needed_day FROM states WHERE kind = 4 AND status = 1 "
    "AND needed_day IS NOT NULL"};

inline constexpr store::Sql kDue{
    "due",
    "SELECT branch, name, partner, device_class, due_day, due_basis, failed_pickups FROM states "
    "WHERE due_day IS NOT NULL AND due_day <= $1"};

inline constexpr store::Sql kListUnits{
    "list_units",
    "SELECT name, model, branch, custody, place, hygiene, condition, commitment, partner, "
    "questions "
    "FROM states WHERE kind = 1 AND name > $1 AND ($2 = '' OR branch = $2) "
    "AND ($3 = '' OR model = $3) AND ($4 = 0 OR custody = $4) AND ($5 = 0 OR commitment = $5) "
    "AND ($6 = '' OR serial = $6) AND ($7 = '' OR place = $7) ORDER BY name LIMIT $8"};

// The same list, to be looked up by a serial number or a place: an index serves only a statement
// that asks outright, never "no filter, or equal". All three give the same columns. (The sums keep
// SQLite, which does not know how rare a serial number is, from going by the name.)
inline constexpr store::Sql kListUnitsBySerial{
    "list_units_by_serial",
    "SELECT name, model, branch, custody, place, hygiene, condition, commitment, partner, "
    "questions "
    "FROM states WHERE kind + 0 = 1 AND name || '' > $1 AND ($2 = '' OR branch = $2) "
    "AND ($3 = '' OR model = $3) AND ($4 = 0 OR custody = $4) AND ($5 = 0 OR commitment = $5) "
    "AND serial <> '' AND serial = $6 AND ($7 = '' OR place = $7) ORDER BY name LIMIT $8"};

inline constexpr store::Sql kListUnitsAtPlace{
    "list_units_at_place",
    "SELECT name, model, branch, custody, place, hygiene, condition, commitment, partner, "
    "questions "
    "FROM states WHERE kind = 1 AND name > $1 AND ($2 = '' OR branch = $2) "
    "AND ($3 = '' OR model = $3) AND ($4 = 0 OR custody = $4) AND ($5 = 0 OR commitment = $5) "
    "AND ($6 = '' OR serial = $6) AND place = $7 ORDER BY name LIMIT $8"};

inline constexpr store::Sql kListOrders{
    "list_orders",
    "SELECT name, branch, device_class, status, partner, due_day, due_basis, needed_day "
    "FROM states WHERE kind = 4 AND name > $1 AND ($2 = '' OR branch = $2) "
    "AND ($3 = 0 OR status = $3) ORDER BY name LIMIT $4"};

inline constexpr store::Sql kWithQuestions{
    "with_questions",
    "SELECT name, state FROM states WHERE questions > 0 AND name > $1 ORDER BY name LIMIT $2"};

// Units and orders with what decides to which pool they belong.
inline constexpr store::Sql kPoolMembers{
    "pool_members",
    "SELECT name, kind, branch, device_class, custody, status FROM states "
    "WHERE kind = 1 OR kind = 4"};

// The latest orders of a class, for the law of returns.
inline constexpr store::Sql kLatestRentals{
    "latest_rentals",
    "SELECT state, id FROM states WHERE kind = 4 AND device_class = $1 AND status IN (3, 4) "
    "ORDER BY id DESC LIMIT $2"};
// Who had the units of a class since an instant, unit by unit. Kind 1 is SPAN_KIND_CUSTODY.
inline constexpr store::Sql kCustodyOfClass{
    "custody_of_class",
    "SELECT i.subject_id, i.from_us, i.to_us, i.holder FROM states s "
    "JOIN intervals i ON i.subject_id = s.id "
    "WHERE s.kind = 1 AND s.device_class = $1 AND i.kind = 1 AND i.from_us >= $2 "
    "ORDER BY i.subject_id, i.from_us LIMIT $3"};

// Orders of a branch that are not over: open, held, on rent.
inline constexpr store::Sql kOrdersOfBranch{
    "orders_of_branch",
    "SELECT state FROM states WHERE kind = 4 AND branch = $1 AND status IN (1, 2, 3)"};

// Orders with a rental, running or over.
inline constexpr store::Sql kRentalStates{
    "rental_states",
    "SELECT state FROM states WHERE kind = 4 AND status IN (3, 4) AND ($1 = '' OR branch = $1) "
    "ORDER BY name"};

inline constexpr store::Sql kRentalStatesWithId{
    "rental_states_with_id",
    "SELECT state, id FROM states WHERE kind = 4 AND ($1 = '' OR branch = $1) ORDER BY name"};

inline constexpr store::Sql kUnitStates{"unit_states", "SELECT state FROM states WHERE kind = 1"};

inline constexpr store::Sql kUnitsOfSerial{
    "units_of_serial",
    "SELECT name FROM states WHERE serial = $1 AND serial <> '' AND kind = 1 "
    "ORDER BY name LIMIT 20"};

inline constexpr store::Sql kSubjectId{"subject_id", "SELECT id FROM states WHERE name = $1"};

}  // namespace ferrule::board::sql
