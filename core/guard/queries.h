// Every statement of the guard, one text for both engines.
#pragma once

#include "core/store/connection.h"

namespace ferrule::guard::sql {

inline constexpr store::Sql kAllRules{
    "all_access_rules",
    "SELECT from_us, put_us, principal, rules FROM access_rules ORDER BY from_us, number"};
inline constexpr store::Sql kAddRules{
    "add_access_rules",
    "INSERT INTO access_rules (number, from_us, put_us, principal, rules) "
    "SELECT COALESCE(MAX(number), 0) + 1, $1, $2, $3, $4 FROM access_rules"};

inline constexpr store::Sql kAllTokens{
    "all_tokens",
    "SELECT id, principal, digest, create_us, expire_us, revoke_us, note, issuer FROM tokens "
    "ORDER BY create_us DESC, id"};
inline constexpr store::Sql kAddToken{
    "add_token",
    "INSERT INTO tokens (id, principal, digest, create_us, expire_us, revoke_us, note, issuer) "
    "VALUES ($1, $2, $3, $4, $5, 0, $6, $7)"};
inline constexpr store::Sql kRevokeToken{
    "revoke_token", "UPDATE tokens SET revoke_us = $1 WHERE id = $2 AND revoke_us = 0"};
inline constexpr store::Sql kGoodTokens{
    "good_tokens",
    "SELECT COUNT(*) FROM tokens WHERE principal = $1 AND revoke_us = 0 AND expire_us > $2"};

// Numbers are given in the writing transaction, of which there is one at a time.
inline constexpr store::Sql kAddRead{
    "add_read",
    "INSERT INTO patient_reads (number, read_us, principal, method, resource, because) "
    "SELECT COALESCE(MAX(number), 0) + 1, $1, $2, $3, $4, $5 FROM patient_reads"};
inline constexpr store::Sql kReadsAfter{
    "reads_after",
    "SELECT number, read_us, principal, method, resource, because FROM patient_reads "
    "WHERE number > $1 AND ($2 = '' OR principal = $2) AND ($3 = '' OR resource = $3) "
    "ORDER BY number LIMIT $4"};

inline constexpr store::Sql kPatient{"patient",
                                     "SELECT particulars FROM patients WHERE reference = $1"};
inline constexpr store::Sql kPutPatient{
    "put_patient",
    "INSERT INTO patients (reference, particulars) VALUES ($1, $2) "
    "ON CONFLICT (reference) DO UPDATE SET particulars = excluded.particulars"};
inline constexpr store::Sql kErasePatient{"erase_patient",
                                          "DELETE FROM patients WHERE reference = $1"};

}  // namespace ferrule::guard::sql
