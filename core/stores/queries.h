// Every statement of the stores' answers, one text for both engines.
#pragma once

#include "core/store/connection.h"

namespace ferrule::stores::sql {

// Lots (3), items that are only counted (50), transfers (51), stocktakes (52).
inline constexpr store::Sql kStatesOfKind{
    "stores_states_of_kind",
    "SELECT name, state FROM states WHERE kind = $1 AND name > $2 ORDER BY name"};

inline constexpr store::Sql kUnitsAtPlace{
    "stores_units_at_place",
    "SELECT name, state FROM states WHERE kind = 1 AND place = $1 AND custody = 1 ORDER BY name"};

inline constexpr store::Sql kStateByName{"stores_state_by_name",
                                         "SELECT state FROM states WHERE name = $1"};

// Pieces that went to patients since an instant, with the branch that served them.
inline constexpr store::Sql kUsesSince{
    "stores_uses_since",
    "SELECT i.detail, o.branch, i.from_us, i.piece_count FROM intervals i "
    "JOIN states o ON o.name = i.holder WHERE i.kind = 4 AND i.from_us >= $1"};

// Units that stood at a place at an instant, and those that came or went between two instants.
inline constexpr store::Sql kCustodyAtPlace{
    "stores_custody_at_place",
    "SELECT s.name, i.from_us, i.to_us FROM intervals i JOIN states s ON s.id = i.subject_id "
    "WHERE i.holder = $1 AND i.kind = 1 AND i.to_us > $2 AND i.from_us <= $3 "
    "ORDER BY i.from_us, s.name"};

inline constexpr store::Sql kCustodyAfter{
    "stores_custody_after",
    "SELECT i.holder, i.from_us, i.to_us FROM intervals i JOIN states s ON s.id = i.subject_id "
    "WHERE s.name = $1 AND i.kind = 1 AND i.to_us > $2 ORDER BY i.from_us"};

inline constexpr store::Sql kGoodsAtPlace{
    "stores_goods_at_place",
    "SELECT DISTINCT s.name FROM intervals i JOIN states s ON s.id = i.subject_id "
    "WHERE i.holder = $1 AND i.kind = 5 AND i.to_us > $2 AND i.from_us <= $3 ORDER BY s.name"};

inline constexpr store::Sql kSubjectId{"stores_subject_id",
                                       "SELECT id FROM states WHERE name = $1"};

}  // namespace ferrule::stores::sql
