// ferrule: the depot's records and answers on the command line.
#include <unistd.h>

#include <algorithm>
#include <csignal>
#include <cstdio>
#include <memory>
#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "cli/catalog.h"
#include "cli/failure.h"
#include "cli/help.h"
#include "cli/line.h"
#include "cli/session.h"
#include "core/time/clock.h"

namespace ferrule::cli {
namespace {

Exit Fail(const absl::Status& status, Format format) {
  const std::string words = format == Format::kJson ? FailureJson(status) : FailureText(status);
  std::fwrite(words.data(), 1, words.size(), stderr);
  return ExitOf(status);
}

Exit Print(const std::string& text) {
  Output out;
  out.Write(text);
  return out.Flush() ? Exit::kDone : Exit::kUnavailable;
}

// A question that is about no branch uses the branch's clock alone, and would take any word for
// one.
absl::Status KnowClock(Session& session, const Line& line) {
  const Command& command = line.command();
  const auto is_branch = [](const Flag& flag) { return flag.name == "--branch"; };
  const bool own = std::any_of(command.flags.begin(), command.flags.end(), is_branch);
  if (command.kind != Kind::kReads || own || !line.Has("--branch")) return absl::OkStatus();
  return session.TypedZone().status();
}

// A report that was not even kept: what it would look up in the records has to be named.
absl::Status WithNothingKept(const absl::Status& status, const Session& session) {
  const Line& line = session.line();
  const bool report = line.command().kind == Kind::kRecords && !line.Has("--check");
  if (status.ok() || !report || !session.away() || ExitOf(status) != Exit::kUnavailable) {
    return status;
  }
  const std::string command(line.command().name);
  return absl::UnavailableError(absl::StrCat(std::string(status.message()),
                                             "\nNothing was kept in ", *session.OutboxPath(),
                                             ". While the server is away, name what this report "
                                             "would look up in the records, for instance "
                                             "--order or --model: ferrule help ",
                                             command, " lists its flags"));
}

Exit RunCommand(Session& session, const Line& line) {
  absl::Status status = KnowClock(session, line);
  if (status.ok()) status = WithNothingKept(line.command().run(session, line), session);
  if (!status.ok()) return Fail(status, session.format());
  if (session.out().Flush()) return Exit::kDone;
  return Fail(absl::UnavailableError("the answer could not be written out; what was reported is "
                                     "recorded all the same"),
              Format::kText);
}

Exit Run(std::vector<std::string> words) {
  for (std::string& word : words) {
    if (word == "-h") word = "--help";
  }
  if (words.empty()) {
    std::fputs(HelpForAll().c_str(), stderr);
    return Exit::kUsage;
  }
  if (words.size() == 1 && words[0] == "--help") return Print(HelpForAll());
  if (words.size() == 1 && words[0] == "--version") return Print("ferrule " FERRULE_VERSION "\n");
  const absl::StatusOr<Line> line = ParseLine(words);
  if (!line.ok()) return Fail(line.status(), Format::kText);
  if (line->help()) return Print(HelpFor(line->command()));
  auto session = std::make_unique<Session>(*line, time::SystemClock().NowMicros());
  const Exit code = RunCommand(*session, *line);
  // Closing the depot takes the write-ahead log into the file, so that the depot is one file again
  // after every report. An answer leaves nothing to take in: its threads need no farewell.
  if (line->command().kind == Kind::kReads) static_cast<void>(session.release());
  return code;
}

}  // namespace
}  // namespace ferrule::cli

#ifdef FERRULE_COVERAGE
extern "C" void __gcov_dump(void);  // libgcov's; written at exit() otherwise
#endif

int main(int argc, char** argv) {
  std::signal(SIGXFSZ, SIG_IGN);  // a file at its size limit is an error like any other
  const ferrule::cli::Exit code =
      ferrule::cli::Run(std::vector<std::string>(argv + 1, argv + argc));
  std::fflush(stderr);
#ifdef FERRULE_COVERAGE
  __gcov_dump();
#endif
  // Everything acknowledged is on disk and everything said is written: the threads need no
  // farewell.
  _exit(static_cast<int>(code));
}
