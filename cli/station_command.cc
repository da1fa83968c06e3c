// ferrule station: lines of a scanner or a keyboard in, answers out.
#include <unistd.h>

#include <cstdio>
#include <iostream>

#include "absl/strings/str_cat.h"
#include "cli/catalog.h"
#include "cli/station.h"
#include "core/fact/counted.h"
#include "core/time/clock.h"

namespace ferrule::cli {
namespace {

constexpr char kQueueFile[] = "ferrule-station.queue";

// What is answered is seen at once; false when nobody takes it any more.
bool Say(const std::string& text) {
  return std::fwrite(text.data(), 1, text.size(), stdout) == text.size() &&
         std::fflush(stdout) == 0;
}

absl::Status Left(const Journal& journal) {
  if (journal.waiting().empty()) return absl::OkStatus();
  return absl::UnavailableError(absl::StrCat(
      fact::Counted(static_cast<int64_t>(journal.waiting().size()), "report waits in ",
                    "reports wait in "),
      journal.path(),
      " for the server; start ferrule station with the same --queue again to send what waits"));
}

absl::Status RunStation(Session& session, const Line& line) {
  if (session.format() != Format::kText) {
    return absl::InvalidArgumentError(
        "the station answers people, in text alone; for programs "
        "there is ferrule scan and the service itself");
  }
  const Target& target = session.target();
  const auto journal = Journal::Open(line.GetOrEnv("--queue", "FERRULE_QUEUE").value_or(kQueueFile),
                                     target.server.value_or(target.depot.value_or("")));
  if (!journal.ok()) return journal.status();
  const time::SystemClock clock;
  Station station(session, **journal, clock, line.GetOrEnv("--as", "FERRULE_ACTOR").value_or(""));
  const bool terminal = isatty(STDIN_FILENO) == 1;
  bool heard = Say(station.Begin());
  std::string text;
  while (heard && !station.ended()) {
    if (terminal) heard = Say(station.Prompt());
    if (!heard || !std::getline(std::cin, text)) break;
    heard = Say(station.Handle(text));
  }
  return Left(**journal);
}

}  // namespace

void AddStationCommands(Catalog* catalog) {
  catalog->push_back(
      {"station",
       Group::kBench,
       Kind::kWorks,
       "work by scans: unit, cards, bottle, readings, place; says what is next",
       {},
       {{"--as", "ACTOR", "who works, until a person's card is scanned (or FERRULE_ACTOR)"},
        {"--queue", "FILE",
         "where scans are kept until the server has them (or FERRULE_QUEUE); default "
         "ferrule-station.queue in the present folder"}},
       "ferrule station --as tech-ada",
       RunStation});
}

}  // namespace ferrule::cli
