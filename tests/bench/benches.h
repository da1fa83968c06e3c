// The sub-benches. Each puts its figures into the report beside their floors; a floor that several
// need is measured once.
#pragma once

#include "tests/bench/measure.h"

namespace ferrule::bench {

// An empty call to a server that does nothing: 1, 8 and 64 in flight.
void Echo(const Options& options, Report* report);
// The server of that floor, run as a process of its own until it is told to end.
int EchoServe(int port);

// Entries recorded over gRPC with 1, 8 and 64 callers against the rows alone, written in groups
// of 1, 8 and 64 by the engine's own interface. Needs Echo.
void RecordOnSqlite(const Options& options, Report* report);
void RecordOnPostgres(const Options& options, Report* report);

// What a caller of Record waits when entries come at half the rate that 64 callers reach.
void RecordAtHalfLoad(const Options& options, Report* report);
// How far 100 followers of the feed lag behind 1,000 entries a second.
void Feed(const Options& options, Report* report);

// Entries in groups of 64 in process, without calls: wall and CPU time against the rows alone.
void LedgerAlone(const Options& options, Report* report);

// What an entry costs at 10,000 facts, at ten times as many and so on up to --growth of them, for a
// fleet that grows with its history (ten facts a unit) where any unit moves or one of the newest
// thousand, and for `units` units with long histories, against the rows alone in a file that grows
// the same way. Entry ids say when they were made, or do not (--ids foreign).
void Growth(const Options& options, Report* report);

// One unit's state over gRPC with 1, 8 and 64 callers. Needs Echo.
void GetUnit(const Options& options, Report* report);
// The same by callers who are known by their tokens.
void GetUnitByToken(const Options& options, Report* report);

// What is due on the large depot, in process and over gRPC, against the bare SQL.
void DueReport(const Options& options, Report* report);
// Every state written anew from the facts, against reading and writing the same rows; bytes a fact.
void Rebuild(const Options& options, Report* report);
// A file of meter readings taken in, against the rows alone written in groups of 64.
void ImportRows(const Options& options, Report* report);
// The command line from its start to its end on the large depot, against the sqlite3 shell.
void ColdCall(const Options& options, Report* report);
// A recall's worklist on the large depot with a lot of parts fitted into it, against the rows that
// any answer must read; equal to a replay of the whole ledger, or the bench ends.
void RecallDrill(const Options& options, Report* report);

// Answers about promises at a branch of 250 units with 60 open orders, against reading its states.
void Promise(const Options& options, Report* report);
// Told odds against what happened on the synthetic depot, one run for each repeat.
void PromiseCalibration(const Options& options, Report* report);
// As many attempts as `facts` by 16 callers to promise the same units, on each engine; it gives up
// when a day of a unit was promised twice.
void PromiseRace(const Options& options, Report* report);

// The day ledgers of 100,000 rentals in memory, against copying the answers that they give.
void DayLedgers(const Options& options, Report* report);

}  // namespace ferrule::bench
