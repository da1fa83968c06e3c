// The synthetic depot: a new depot file filled by the simulator, recorded through the service like
// any client's entries, with the ledger's clock at the simulated time.
#include <unistd.h>

#include <algorithm>
#include <cstdint>
#include <filesystem>
#include <map>
#include <memory>
#include <string>
#include <utility>

#include "absl/strings/escaping.h"
#include "absl/strings/str_cat.h"
#include "cli/catalog.h"
#include "cli/session.h"
#include "cli/values.h"
#include "core/demo/simulator.h"
#include "core/fact/counted.h"
#include "core/fact/words.h"
#include "core/time/civil.h"
#include "core/time/clock.h"
#include "ferrule/v1/ledger_service.grpc.pb.h"
#include "service/depot_host.h"

namespace ferrule::cli {
namespace {

// Shows how far it is, where somebody looks on.
class Progress {
 public:
  Progress() : shown_(isatty(STDERR_FILENO) != 0) {}
  ~Progress() {
    if (shown_) Write("\r\x1b[K");
  }
  void Show(int64_t recorded_us, int64_t facts) {
    if (!shown_ || facts - last_ < 2'000) return;
    last_ = facts;
    Write(absl::StrCat("\r", time::FormatDay(time::LocalDay(recorded_us, absl::UTCTimeZone())),
                       "  ", facts, " facts"));
  }

 private:
  static void Write(const std::string& text) {
    [[maybe_unused]] const ssize_t written = write(STDERR_FILENO, text.data(), text.size());
  }
  bool shown_;
  int64_t last_ = 0;
};

struct Counts {
  std::map<std::string, int64_t> by_kind;
  int64_t entries = 0;
  int64_t facts = 0;
  int64_t questions = 0;
  int64_t refusals = 0;
  std::string first_refusal;
};

void Count(const v1::RecordBatchRequest& request, const v1::RecordBatchResponse& response,
           Counts* counts) {
  for (int i = 0; i < response.results_size(); ++i) {
    const v1::RecordResult& result = response.results(i);
    const v1::Entry& entry = request.entries(i);
    if (result.has_failure()) {
      if (counts->refusals++ == 0) {
        counts->first_refusal = absl::StrCat(entry.entry_id(), ": ", result.failure().message());
      }
      continue;
    }
    ++counts->entries;
    counts->facts += entry.facts_size();
    counts->questions += result.receipt().questions_size();
    for (const v1::Fact& fact : entry.facts())
      ++counts->by_kind[std::string(fact::KindWords(fact))];
  }
}

absl::Status Fill(v1::LedgerService::StubInterface& ledger, demo::Simulator& simulator,
                  time::ManualClock& clock, int64_t* end_us, Counts* counts) {
  Progress progress;
  demo::Batch batch;
  while (simulator.Next(&batch)) {
    clock.Set(batch.recorded_us);
    v1::RecordBatchRequest request;
    for (v1::Entry& entry : batch.entries) *request.add_entries() = std::move(entry);
    v1::RecordBatchResponse response;
    grpc::ClientContext context;
    const grpc::Status status = ledger.RecordBatch(&context, request, &response);
    if (!status.ok()) return FromGrpc(status);
    Count(request, response, counts);
    *end_us = batch.recorded_us;
    progress.Show(batch.recorded_us, counts->facts);
  }
  return absl::OkStatus();
}

std::string Text(const std::string& file, const Counts& counts,
                 const v1::GetServerInfoResponse& info, int64_t end_us) {
  std::string text;
  for (const auto& [kind, count] : counts.by_kind) {
    absl::StrAppend(
        &text,
        absl::StrCat(std::string(10 - std::min<size_t>(9, std::to_string(count).size()), ' '),
                     count, "  ", kind, "\n"));
  }
  absl::StrAppend(&text, "\n", file, ": a synthetic depot of ",
                  fact::Counted(counts.entries, "entry", "entries"), " with ",
                  fact::Counted(counts.facts, "fact", "facts"), "; ",
                  fact::Counted(counts.questions, "question", "questions"), " opened, ",
                  counts.refusals, " refused\n", "head ", info.head_sequence(), " ",
                  absl::BytesToHexString(info.head_digest()), "\n", "It stands at ",
                  time::FormatUtc(end_us), ": ask with --known-at ", time::FormatUtc(end_us), "\n");
  return text;
}

// A number from a flag, within bounds; the given one when the flag is not there.
absl::StatusOr<int64_t> Bounded(const Line& line, std::string_view flag, int64_t otherwise,
                                int64_t least, int64_t most) {
  const std::optional<std::string> text = line.Get(flag);
  if (!text.has_value()) return otherwise;
  const absl::StatusOr<int64_t> value = ParseWhole(*text);
  if (value.ok() && *value >= least && *value <= most) return value;
  return absl::InvalidArgumentError(absl::StrCat(
      std::string(flag), " is ", *text, ": give a whole number from ", least, " to ", most));
}

absl::StatusOr<demo::Options> OptionsOf(const Line& line) {
  demo::Options options;
  constexpr int64_t kMost = 1'000'000'000;
  const auto seed = Bounded(line, "--seed", 1, 0, kMost);
  const auto years = Bounded(line, "--years", options.years, 1, 20);
  const auto units = Bounded(line, "--units", options.units, 20, 200'000);
  const auto facts = Bounded(line, "--facts", 0, 1, kMost);
  for (const auto* value : {&seed, &years, &units, &facts}) {
    if (!value->ok()) return value->status();
  }
  options.seed = static_cast<uint64_t>(*seed);
  options.years = static_cast<int>(*years);
  options.units = static_cast<int>(*units);
  options.fact_limit = *facts;
  if (const std::optional<std::string> through = line.Get("--through")) {
    const absl::StatusOr<absl::CivilDay> last = time::ParseDay(*through);
    if (!last.ok() || last->year() < 1995 || last->year() > 2100) {
      return absl::InvalidArgumentError(
          absl::StrCat("--through is ", *through,
                       ": give the last day of the run as YYYY-MM-DD, in the years 1995 to 2100"));
    }
    options.start_day = demo::StartDayFor(*last, options.years);
  }
  return options;
}

absl::Status Demo(Session& session, const Line& line) {
  const absl::StatusOr<demo::Options> options = OptionsOf(line);
  if (!options.ok()) return options.status();
  std::string file = line.Arg("FILE");
  if (file.empty()) file = session.target().depot.value_or("");
  if (file.empty()) {
    return absl::InvalidArgumentError("say where: ferrule demo synthetic.ferrule");
  }
  if (std::filesystem::exists(file)) {
    return absl::InvalidArgumentError(absl::StrCat(
        file, " is there already; name a new file, the synthetic depot never goes into another"));
  }
  demo::Simulator simulator(*options);
  time::ManualClock clock(0);
  service::HostOptions host_options;
  host_options.sqlite_path = file;
  host_options.create = true;
  host_options.clock = &clock;
  host_options.label = std::string(demo::kLabel);
  host_options.lanes = 1;
  host_options.workers = 0;
  auto host = service::OpenDepot(host_options);
  if (!host.ok()) return CannotReach(host.status());
  const auto ledger = v1::LedgerService::NewStub((*host)->InProcess());
  Counts counts;
  int64_t end_us = 0;
  const absl::Status filled = Fill(*ledger, simulator, clock, &end_us, &counts);
  if (!filled.ok()) return filled;
  v1::GetServerInfoResponse info;
  grpc::ClientContext context;
  const grpc::Status asked = ledger->GetServerInfo(&context, v1::GetServerInfoRequest(), &info);
  if (!asked.ok()) return FromGrpc(asked);
  Table table({{"kind"}, {"facts"}});
  for (const auto& [kind, count] : counts.by_kind) table.Add({kind, std::to_string(count)});
  session.Show(info, table, Text(file, counts, info, end_us));
  if (counts.refusals == 0) return absl::OkStatus();
  return absl::InternalError(
      absl::StrCat("the simulator broke a rule; please report it with the "
                   "seed. First: ",
                   counts.first_refusal));
}

}  // namespace

void AddDemoCommands(Catalog* catalog) {
  catalog->push_back({"demo",
                      Group::kKeep,
                      Kind::kLocal,
                      "make a depot file filled with synthetic data",
                      {{"FILE", "the file to make; default --depot", Arity::kOptional}},
                      {{"--seed", "N", "the same seed and days give the same depot; default 1"},
                       {"--years", "N", "years to run, 1 to 20; default 2"},
                       {"--through", "DAY",
                        "last day of the run, for instance yesterday; default: whole years from "
                        "2024-01-01 on"},
                       {"--units", "N", "units in the fleet, 20 to 200000; default 250"},
                       {"--facts", "N", "stop after so many facts; default: run all the years"}},
                      "ferrule demo synthetic.ferrule --seed 7",
                      Demo});
}

}  // namespace ferrule::cli
