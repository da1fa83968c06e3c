// How the station sends: through its queue on disk, in order, again after the server was away.
#pragma once

#include <string>

#include "cli/journal.h"
#include "cli/session.h"
#include "ferrule/v1/facts.pb.h"

namespace ferrule::cli {

class StationSender {
 public:
  StationSender(Session& session, Journal& journal) : session_(session), journal_(journal) {}

  // Whether the server could not be reached the last time.
  bool away() const { return away_; }
  void set_away() { away_ = true; }

  // Keeps an entry and sends it; says in a line what came of it. True when the depot has it or will
  // get it. While the server is away it is kept as observed: what has been done by then is not
  // refused later, but asked about.
  bool Send(v1::Entry entry, std::string* words);
  // Sends what waits; a line for each entry that was answered.
  std::string Drain();

 private:
  // Asks the depot to record the oldest entry. False when it could not be asked.
  bool SendOldest(std::string* words);

  Session& session_;
  Journal& journal_;
  bool away_ = false;
  bool recorded_ = false;  // what became of the entry that was answered last
};

}  // namespace ferrule::cli
