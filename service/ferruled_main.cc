// ferruled: serves a depot, and does the work on its files.
//
// Exit codes: 0 done, 1 refused or a check failed, 2 wrong usage, 3 not found, 4 unavailable.
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <functional>
#include <iostream>
#include <new>
#include <sstream>
#include <string>
#include <thread>
#include <vector>

#include "CLI/CLI.hpp"
#include "absl/strings/str_cat.h"
#include "absl/time/clock.h"
#include "absl/time/time.h"
#include "core/fact/counted.h"
#include "core/ledger/anchor.h"
#include "core/ledger/whole.h"
#include "core/store/migrate.h"
#include "core/time/civil.h"
#include "google/protobuf/stubs/logging.h"
#include "service/backup.h"
#include "service/depot_host.h"
#include "service/file_work.h"
#include "service/log.h"
#include "service/migration_room.h"
#include "service/version.h"

namespace ferrule::service {
namespace {

enum Exit { kDone = 0, kRefused = 1, kUsage = 2, kNotFound = 3, kUnavailable = 4 };

constexpr int64_t kProgressEvery = 100'000;  // entries

struct Arguments {
  std::string depot;
  std::string postgres;
  std::vector<std::string> listen = {"127.0.0.1:7443"};
  std::string socket;
  std::string hl7_listen;
  TlsFiles tls;
  bool plaintext = false;
  bool require_identity = false;
  int64_t disk_floor_mib = kDiskFloorBytes >> 20;
  std::string metrics_listen;
  std::string log_format = "text";
  std::string anchors;  // verify's file of anchors; "-" for standard input
  bool create = false;
  bool clock_is_right = false;
  bool backed_up = false;
  bool quiet = false;
  std::string file;  // backup's target, restore's source
};

Exit ExitOf(const absl::Status& status) {
  switch (status.code()) {
    case absl::StatusCode::kOk:
      return kDone;
    case absl::StatusCode::kInvalidArgument:
      return kUsage;
    case absl::StatusCode::kNotFound:
      return kNotFound;
    case absl::StatusCode::kUnavailable:
    case absl::StatusCode::kDeadlineExceeded:
    case absl::StatusCode::kAborted:
    case absl::StatusCode::kResourceExhausted:
      return kUnavailable;
    default:
      return kRefused;
  }
}

Exit Fail(const absl::Status& status) {
  std::fprintf(stderr, "ferruled: %s\n", std::string(status.message()).c_str());
  return ExitOf(status);
}

HostOptions OptionsOf(const Arguments& arguments) {
  HostOptions options;
  options.sqlite_path = arguments.depot;
  options.postgres = arguments.postgres;
  options.create = arguments.create;
  return options;
}

ProgressFn ProgressOf(const Arguments& arguments) {
  if (arguments.quiet || isatty(STDERR_FILENO) == 0) return [](int64_t) {};
  return [next = kProgressEvery](int64_t entries) mutable {
    if (entries < next) return;
    next = entries + kProgressEvery;
    std::fprintf(stderr, "ferruled: %lld entries\n", static_cast<long long>(entries));
  };
}

std::string Entries(int64_t count) { return fact::Counted(count, "entry", "entries"); }
std::string Facts(int64_t count) { return fact::Counted(count, "fact", "facts"); }

// Which restore made this ledger what it is; nothing for one that never was restored.
std::string EpochWords(const std::string& epoch) {
  return epoch.empty() ? "" : absl::StrCat(", epoch ", epoch);
}

// A name that a copy made before a migration gets: sorted by time, never taken twice in a second.
std::string CopyName(const std::string& depot, int version) {
  return absl::StrCat(depot, ".backup-", version, "-",
                      absl::FormatTime("%Y%m%dT%H%M%SZ", absl::Now(), absl::UTCTimeZone()));
}

sigset_t EndingSignals() {
  sigset_t signals;
  sigemptyset(&signals);
  sigaddset(&signals, SIGTERM);
  sigaddset(&signals, SIGINT);
  return signals;
}

// Says in the log how far the ledger is, so that whoever keeps the log elsewhere keeps anchors for
// ferruled verify.
void LogHead(const Log& log, DepotHost& host) {
  const ledger::Head head = host.ledger().head();
  if (head.sequence == 0) return;
  log.Line("head", "",
           {{"anchor", ledger::AnchorText(head.sequence, head.digest)}, {"epoch", host.epoch()}});
}

// Waits for the signal to end, and from then on lets a second one end the process at once. Calls
// `hourly` meanwhile.
void WaitForEnd(const sigset_t& signals, const std::function<void()>& hourly) {
  const timespec hour{3600, 0};
  while (sigtimedwait(&signals, nullptr, &hour) < 0) {
    if (errno == EAGAIN) hourly();
  }
  std::thread([signals] {
    int second = 0;
    sigwait(&signals, &second);
    _exit(kUnavailable);
  }).detach();
}

// A commit whose outcome nobody knows: the process ends, and callers who send their entries again
// learn from the next one what became of them.
void EndAtOnce(const Log& log, const absl::Status& status) {
  log.Line("commit-unknown",
           absl::StrCat("a commit failed so that its outcome is not known (",
                        std::string(status.message()),
                        "); ending. Check the disk, start again, and let callers repeat"));
  _exit(kUnavailable);
}

// The next start takes the log in from its beginning.
void EndWithTheLog(const Log& log, const absl::Status& status) {
  log.Line("checkpoint-failed",
           absl::StrCat("the disk failed while the log was moved into the depot file (",
                        std::string(status.message()),
                        "); ending. All that was answered is in the log: keep both files together, "
                        "check the disk, and start again"));
  _exit(kUnavailable);
}

// The store is no longer the one that was served. Whoever starts anew, the followers of the feed
// included, learns where its ledger ends.
void EndReplaced(const Log& log, const absl::Status& status) {
  log.Line("replaced",
           absl::StrCat(std::string(status.message()),
                        "; ending, so that nothing is answered from memory. If a backup was put "
                        "back on purpose, start again; if not, find the database that has it"));
  _exit(kUnavailable);
}

// Lanes beyond the first pay only where cores are left over for them: two that share a few cores
// wake each other for every event, which costs a call more than its work.
int LanesHere() {
  constexpr unsigned kCoresOfALane = 4;
  return static_cast<int>(std::max(1u, std::thread::hardware_concurrency() / kCoresOfALane));
}

std::string Addresses(const Arguments& arguments, const DepotHost& host) {
  std::string out;
  for (size_t i = 0; i < arguments.listen.size(); ++i) {
    const std::string& address = arguments.listen[i];
    absl::StrAppend(&out, i > 0 ? ", " : "", address.substr(0, address.rfind(':')), ":",
                    host.ports()[i]);
  }
  if (host.hl7_port() != 0) {
    absl::StrAppend(&out, out.empty() ? "" : ", ", "HL7 on port ", host.hl7_port());
  }
  if (host.metrics_port() != 0) {
    absl::StrAppend(&out, out.empty() ? "" : ", ", "metrics on port ", host.metrics_port());
  }
  if (!host.socket_path().empty()) {
    absl::StrAppend(&out, out.empty() ? "" : ", ", host.socket_path());
  }
  return out;
}

Exit Serve(const Arguments& arguments) {
  const absl::StatusOr<LogFormat> format = ParseLogFormat(arguments.log_format);
  if (!format.ok()) return Fail(format.status());
  static const Log log(*format);
  const sigset_t signals = EndingSignals();
  pthread_sigmask(SIG_BLOCK, &signals, nullptr);  // before any thread starts
  const time::SystemClock clock;
  HostOptions options = OptionsOf(arguments);
  options.listen = arguments.listen;
  options.hl7_listen = arguments.hl7_listen;
  options.tls = arguments.tls;
  options.plaintext = arguments.plaintext;
  options.require_identity = arguments.require_identity;
  options.disk_floor_bytes = arguments.disk_floor_mib << 20;
  options.socket = !arguments.depot.empty();
  options.socket_path = arguments.socket;
  options.clock = &clock;
  options.check_clock = !arguments.clock_is_right;
  options.metrics_listen = arguments.metrics_listen;
  options.log = [](const std::string& line) { log.Line("incident", line); };
  options.on_commit_unknown = [](const absl::Status& status) { EndAtOnce(log, status); };
  options.on_checkpoint_failed = [](const absl::Status& status) { EndWithTheLog(log, status); };
  options.on_replaced = [](const absl::Status& status) { EndReplaced(log, status); };
  options.lanes = LanesHere();
  const auto host = OpenDepot(std::move(options));
  if (!host.ok()) return Fail(host.status());
  std::printf("serving %s (%s, %s%s) on %s\n",
              arguments.depot.empty() ? "the database" : arguments.depot.c_str(),
              (*host)->ledger().engine().c_str(),
              Entries((*host)->ledger().head().sequence).c_str(),
              EpochWords((*host)->epoch()).c_str(), Addresses(arguments, **host).c_str());
  std::fflush(stdout);
  WaitForEnd(signals, [&host] { LogHead(log, **host); });
  (*host)->Shutdown();
  LogHead(log, **host);
  std::printf("ended after entry %lld\n",
              static_cast<long long>((*host)->ledger().head().sequence));
  std::fflush(stdout);
  return kDone;
}

Exit Migrate(const Arguments& arguments) {
  const auto database = OpenStore(OptionsOf(arguments));
  if (!database.ok()) return Fail(database.status());
  auto writer = (*database)->OpenWriter();
  if (!writer.ok()) return Fail(writer.status());
  const absl::StatusOr<int> version = store::SchemaVersion(**writer);
  if (!version.ok()) return Fail(version.status());
  const absl::StatusOr<bool> unfinished = store::MustRebuild(**writer);
  if (!unfinished.ok()) return Fail(unfinished.status());
  const int target = store::ProgramSchemaVersion();
  if (*version == target && !*unfinished) {
    std::printf("the depot has schema version %d already; nothing to do\n", target);
    return kDone;
  }
  if (*version > 0 && *version < target && arguments.depot.empty() && !arguments.backed_up) {
    return Fail(absl::FailedPreconditionError(
        "a migration cannot be taken back: first run  pg_dump --format=custom --file=depot.dump "
        "--dbname='CONNINFO'  and then  ferruled migrate --backed-up"));
  }
  const bool copies = *version > 0 && *version < target && !arguments.depot.empty();
  if (*version > 0 && !arguments.depot.empty()) {
    RemoveLeftovers(arguments.depot);
    const absl::Status room = RoomToMigrate(arguments.depot, *version, copies);
    if (!room.ok()) return Fail(room);
  }
  if (copies) {
    const std::string copy = CopyName(arguments.depot, *version);
    writer->reset();  // the copy is taken of a closed file
    if (absl::Status made = PlainCopy(arguments.depot, copy); !made.ok()) return Fail(made);
    std::printf("backed up to %s\n", copy.c_str());
    writer = (*database)->OpenWriter();
    if (!writer.ok()) return Fail(writer.status());
  }
  if (absl::Status moved = store::Migrate(**writer); !moved.ok()) return Fail(moved);
  if (*version < target) {
    std::printf("migrated from schema version %d to %d\n", *version, target);
  } else {
    std::printf("a migration to schema version %d was cut off; finishing it\n", target);
  }
  if (*version == 0) return kDone;
  // A new table may hold what follows from the facts.
  writer->reset();
  const auto facts = ledger::Rebuild(**database, ProgressOf(arguments));
  if (!facts.ok()) return Fail(facts.status());
  std::printf("wrote everything that follows from %s anew\n", Facts(*facts).c_str());
  return kDone;
}

absl::StatusOr<std::vector<ledger::Anchor>> AnchorsOf(const Arguments& arguments) {
  if (arguments.anchors.empty()) return std::vector<ledger::Anchor>();
  std::ostringstream text;
  if (arguments.anchors == "-") {
    text << std::cin.rdbuf();
  } else {
    std::ifstream file(arguments.anchors, std::ios::binary);
    if (!file) {
      return absl::NotFoundError(
          absl::StrCat("cannot read the anchors ", arguments.anchors, "; check the path"));
    }
    text << file.rdbuf();
  }
  return ledger::AnchorsIn(text.str());
}

Exit HeadCommand(const Arguments& arguments) {
  const auto database = OpenStore(OptionsOf(arguments));
  if (!database.ok()) return Fail(database.status());
  const auto head = ledger::StoredHead(**database);
  if (!head.ok()) return Fail(head.status());
  if (head->sequence == 0) {
    return Fail(absl::FailedPreconditionError("nothing is recorded yet, so there is no head"));
  }
  const auto epoch = ledger::StoredEpoch(**database);
  if (!epoch.ok()) return Fail(epoch.status());
  std::printf("%s %s%s\n", ledger::AnchorText(head->sequence, head->digest).c_str(),
              time::FormatUtc(head->recorded_us).c_str(), EpochWords(*epoch).c_str());
  return kDone;
}

Exit Verify(const Arguments& arguments) {
  const auto anchors = AnchorsOf(arguments);
  if (!anchors.ok()) return Fail(anchors.status());
  const auto database = OpenStore(OptionsOf(arguments));
  if (!database.ok()) return Fail(database.status());
  const auto report = ledger::CheckWhole(**database, ProgressOf(arguments), *anchors);
  if (!report.ok()) return Fail(report.status());
  for (const std::string& fault : report->engine_faults) {
    std::printf("DAMAGED: %s\n", fault.c_str());
  }
  if (report->first_broken_sequence != 0) {
    std::printf("BROKEN at entry %lld: %s\n", static_cast<long long>(report->first_broken_sequence),
                report->broken.c_str());
  }
  for (const std::string& what : report->differing_states) {
    std::printf("DIFFERS: %s\n", what.c_str());
  }
  if (report->first_broken_sequence != 0) {
    return Fail(absl::DataLossError(
        "the ledger does not verify; stop writing to it and restore the last good backup: "
        "ferruled restore FROM --depot NEWFILE"));
  }
  if (!report->engine_faults.empty()) {
    return Fail(absl::DataLossError(
        "the facts are whole, but the store is damaged; check the disk, stop writing and restore "
        "the last good backup: ferruled restore FROM --depot NEWFILE"));
  }
  if (!report->ok()) {
    return Fail(absl::DataLossError(
        "the facts are whole, some of what follows from them is not; run: ferruled rebuild"));
  }
  std::printf("ok: %s, %s, %s", Entries(report->entries).c_str(), Facts(report->facts).c_str(),
              fact::Counted(report->states, "state", "states").c_str());
  if (report->anchors > 0) {
    std::printf(", %s", fact::Counted(report->anchors, "anchor holds", "anchors hold").c_str());
  }
  const auto epoch = ledger::StoredEpoch(**database);
  if (!epoch.ok()) return Fail(epoch.status());
  std::printf("%s\n", EpochWords(*epoch).c_str());
  return kDone;
}

Exit Rebuild(const Arguments& arguments) {
  const auto database = OpenStore(OptionsOf(arguments));
  if (!database.ok()) return Fail(database.status());
  const auto facts = ledger::Rebuild(**database, ProgressOf(arguments));
  if (!facts.ok()) return Fail(facts.status());
  std::printf("rebuilt every state from %s\n", Facts(*facts).c_str());
  return kDone;
}

Exit ReportBackup(const char* done, const absl::StatusOr<BackupReport>& report) {
  if (!report.ok()) return Fail(report.status());
  std::printf("%s %s: %s, schema version %d, %lld bytes%s\n", done, report->path.c_str(),
              Entries(report->head_sequence).c_str(), report->schema_version,
              static_cast<long long>(report->bytes), EpochWords(report->epoch).c_str());
  for (const std::string& path : report->left_alone) {
    std::fprintf(
        stderr,
        "ferruled: left alone: %s was made on another machine; delete it when no backup or "
        "restore runs there\n",
        path.c_str());
  }
  return kDone;
}

Exit BackupCommand(const Arguments& arguments) {
  if (!arguments.postgres.empty()) {
    return Fail(absl::InvalidArgumentError(
        absl::StrCat("a database is backed up with its own tool:  pg_dump --format=custom --file=",
                     arguments.file, " --dbname='CONNINFO'")));
  }
  return ReportBackup("backed up to",
                      Backup(arguments.depot, arguments.file, absl::ToUnixMicros(absl::Now()),
                             ProgressOf(arguments)));
}

Exit RestoreCommand(const Arguments& arguments) {
  if (!arguments.postgres.empty()) {
    return Fail(absl::InvalidArgumentError(absl::StrCat(
        "a database is restored with its own tool, into an empty database:  pg_restore "
        "--exit-on-error --dbname='CONNINFO' ",
        arguments.file)));
  }
  return ReportBackup("restored to",
                      Restore(arguments.file, arguments.depot, ProgressOf(arguments)));
}

// What was typed beats what the environment says. The parser's own reading of it would not do: it
// reads it for the commands that were not typed as well, and all of them fill the same arguments.
void TakeStoreFromEnvironment(Arguments* arguments) {
  if (!arguments->depot.empty() || !arguments->postgres.empty()) return;
  if (const char* depot = std::getenv("FERRULE_DEPOT")) arguments->depot = depot;
  if (const char* postgres = std::getenv("FERRULE_POSTGRES")) arguments->postgres = postgres;
}

void AddStore(CLI::App* command, Arguments* arguments) {
  command->add_option("--depot", arguments->depot, "The depot file (or FERRULE_DEPOT)")
      ->type_name("FILE");
  command
      ->add_option("--postgres", arguments->postgres,
                   "The PostgreSQL database, as a libpq connection string (or FERRULE_POSTGRES). "
                   "Keep the password in a password file (PGPASSFILE)")
      ->type_name("CONNINFO");
  command->callback([command, arguments] {
    TakeStoreFromEnvironment(arguments);
    if (arguments->depot.empty() != arguments->postgres.empty()) return;
    if (!arguments->depot.empty()) {
      throw CLI::ValidationError("depot",
                                 "give either --depot (FERRULE_DEPOT) or --postgres "
                                 "(FERRULE_POSTGRES), not both");
    }
    throw CLI::ValidationError(
        "depot", absl::StrCat("give --depot FILE or --postgres CONNINFO; see ferruled ",
                              command->get_name(), " --help"));
  });
}

// What was acknowledged is on disk. A server that went on after memory ran out would lack threads
// and answers that nobody knows of: one was seen that answered no more and would not end.
void EndWithoutMemory() {
  static constexpr char kWords[] =
      "ferruled: no memory left; ending, everything acknowledged is kept\n";
  if (write(STDERR_FILENO, kWords, sizeof kWords - 1) < 0) _exit(kUnavailable);
  _exit(kUnavailable);
}

int Run(int argc, char** argv) {
  std::set_new_handler(EndWithoutMemory);
  Arguments arguments;
  CLI::App app{"Serves a depot's records, and does the work on its files.", "ferruled"};
  app.set_version_flag("--version", std::string("ferruled ") + kVersion);
  app.require_subcommand(1);
  app.footer(
      "Exit codes: 0 done, 1 refused or a check failed, 2 wrong usage, 3 not found, "
      "4 unavailable.");
  Exit (*chosen)(const Arguments&) = nullptr;
  const auto add = [&](const char* name, const char* what, Exit (*run)(const Arguments&)) {
    CLI::App* command = app.add_subcommand(name, what);
    AddStore(command, &arguments);
    command->preparse_callback([&chosen, run](size_t) { chosen = run; });
    return command;
  };
  CLI::App* serve = add("serve", "Serve a depot to others", &Serve);
  serve->add_option("--listen", arguments.listen, "Addresses of this machine to listen on")
      ->type_name("HOST:PORT")
      ->capture_default_str();
  serve
      ->add_option("--hl7", arguments.hl7_listen,
                   "Address of this machine for HL7 v2 messages over MLLP")
      ->type_name("HOST:PORT");
  serve
      ->add_option("--socket", arguments.socket,
                   "Socket on which its owner alone may connect, and may do all: ferrule --server "
                   "unix:FILE. A depot file has one beside it")
      ->type_name("FILE");
  serve
      ->add_option("--tls-certificate", arguments.tls.certificate,
                   "The server's certificate, with those that it was issued under")
      ->type_name("FILE")
      ->envname("FERRULED_TLS_CERTIFICATE");
  serve->add_option("--tls-key", arguments.tls.key, "Its key, which others may not read")
      ->type_name("FILE")
      ->envname("FERRULED_TLS_KEY");
  serve
      ->add_option("--tls-client-ca", arguments.tls.client_ca,
                   "Ask callers for certificates issued under these; the name in them, a URI "
                   "ferrule:NAME or the common name, is who they are")
      ->type_name("FILE")
      ->envname("FERRULED_TLS_CLIENT_CA");
  serve->add_flag("--plaintext", arguments.plaintext,
                  "Let other machines connect without TLS: a proxy speaks it");
  serve->add_flag("--require-identity", arguments.require_identity,
                  "Ask who calls even when no token was ever issued");
  serve
      ->add_option(
          "--disk-floor", arguments.disk_floor_mib,
          "Room on the depot's disk, MiB, below which it says on the log and as the health "
          "of ferrule.v1.Write that it cannot write for long")
      ->type_name("MIB")
      ->check(CLI::Range(0, 1 << 30))
      ->capture_default_str();
  serve
      ->add_option("--metrics", arguments.metrics_listen,
                   "Address of this machine for figures in Prometheus' form, at /metrics")
      ->type_name("HOST:PORT");
  serve->add_option("--log", arguments.log_format, "How the log is written: text or json")
      ->type_name("FORMAT")
      ->capture_default_str();
  serve->add_flag("--create", arguments.create, "Make the depot when there is none");
  serve->add_flag("--clock-is-right", arguments.clock_is_right,
                  "Record although the last entry lies days after this machine's clock, or years "
                  "before it");
  CLI::App* migrate =
      add("migrate", "Bring a depot to this release's schema, after a copy", &Migrate);
  migrate->add_flag("--backed-up", arguments.backed_up,
                    "A database was backed up with its own tool");
  CLI::App* verify = add("verify", "Check every entry and every state against the facts", &Verify);
  verify
      ->add_option("--anchors", arguments.anchors,
                   "Positions noted elsewhere that the ledger must still have: what ferruled head "
                   "printed, log lines that hold it, or a backup's manifest; - reads them from "
                   "standard input")
      ->type_name("FILE");
  add("head", "Print position and digest of the last entry, to be kept elsewhere", &HeadCommand);
  for (CLI::App* command :
       {verify, add("rebuild", "Write every state anew from the facts", &Rebuild)}) {
    command->add_flag("--quiet", arguments.quiet, "Say only what came out");
  }
  add("backup", "Copy a depot file, also while it is served", &BackupCommand)
      ->add_option("to", arguments.file, "Name of the copy; must be free")
      ->type_name("TO")
      ->required();
  add("restore", "Put a backup in place under a free name", &RestoreCommand)
      ->add_option("from", arguments.file, "Name of the backup, with its manifest beside it")
      ->type_name("FROM")
      ->required();
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& e) {
    const int code = app.exit(e);
    return code == 0 ? kDone : kUsage;
  }
  return chosen(arguments);
}

}  // namespace
}  // namespace ferrule::service

int main(int argc, char** argv) {
  // What callers send wrong is answered, not written to the operator's terminal.
  google::protobuf::SetLogHandler(nullptr);
  setenv("GRPC_VERBOSITY", "NONE", 0);
  std::signal(SIGPIPE, SIG_IGN);
  std::signal(SIGXFSZ, SIG_IGN);  // a file at its size limit is an error like any other
  return ferrule::service::Run(argc, argv);
}
