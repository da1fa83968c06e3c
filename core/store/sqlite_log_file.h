// Writes the write-ahead log in large pieces. Inside core/store only.
//
// SQLite gives a commit's log to the file page by page, and before each page its 24 bytes of
// header: some 300 calls of the system for a group of 32 entries. Here what follows on directly is
// gathered and goes to the file when SQLite asks for the disk, or reads, or the piece is full.
//
// For connections with synchronous FULL alone: there every commit is synced before any other
// connection is told of its pages. A write that the disk refuses is told of by the sync then, or by
// the call that needed it done; pieces go in order, so that the commit mark is never there without
// what comes before it.
#pragma once

namespace ferrule::store {

// The name of the SQLite file system (VFS) that does so and leaves all else to the one which is the
// default at the first call. Empty, which means the default itself, when SQLite has no memory left.
const char* LogGatheringVfs();

}  // namespace ferrule::store
