// Version 5: entries whose ids carry a time have keys in the order of their times (EntryKey in
// core/ledger/chain.h); before, every key was a hash.
//
// No statement can compute the keys: ledger::Rebuild, which every migration ends with, files these
// entries anew. The column gets another name, entries.id_key, so that a program before this one
// that still serves the database fails to record instead of filing entries where they are not
// found. Its index keeps the name entries_entry_key. refusals.entry_key is read by nobody: refusals
// are found by the id itself.
#pragma once

namespace ferrule::store::schema {

inline constexpr char kEntryKeysSqlite[] = R"sql(
ALTER TABLE entries RENAME COLUMN entry_key TO id_key;
)sql";

inline constexpr char kEntryKeysPostgresql[] = R"sql(
ALTER TABLE entries RENAME COLUMN entry_key TO id_key;
)sql";

}  // namespace ferrule::store::schema
