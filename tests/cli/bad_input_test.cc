// Files and disks that a depot cannot be kept on: a clear sentence and an exit code each, and
// nothing half done.
#include <sqlite3.h>
#include <unistd.h>

#include <chrono>
#include <filesystem>
#include <regex>
#include <thread>

#include "core/store/file_lock.h"
#include "gmock/gmock.h"
#include "tests/cli/program.h"

namespace ferrule::testing {
namespace {

using ::testing::ContainsRegex;
using ::testing::HasSubstr;
using ::testing::Not;

constexpr char kTypedReport[] = "add-unit K-9 knee-a north-dock --at '2026-03-02 08:00'";

class BadFile : public ProgramTest {
 protected:
  // Commands that read, that report and that make a depot leave the file as it is.
  void ExpectLeftAlone(const std::string& words) {
    const std::string before = ReadFile(depot());
    for (const std::string line : {"board", kTypedReport, "demo"}) {
      const Outcome outcome = Ferrule(line);
      EXPECT_EQ(outcome.exit, line == "demo" ? 2 : 4) << line << "\n" << outcome.err;
      EXPECT_EQ(outcome.out, "") << line;
      EXPECT_THAT(outcome.err, HasSubstr(line == "demo" ? "is there already" : words)) << line;
      EXPECT_THAT(outcome.err, Not(HasSubstr("--at"))) << "the time typed is not to blame";
    }
    const Outcome made = Ferrule("init");
    EXPECT_NE(made.exit, 0);
    const Outcome served = RunProgram(
        FERRULED_BIN, {"serve", "--depot", depot(), "--listen", "127.0.0.1:0"}, environment());
    EXPECT_EQ(served.exit, 1) << served.err;
    EXPECT_THAT(served.err, HasSubstr(words));
    EXPECT_EQ(ReadFile(depot()), before);
    EXPECT_FALSE(std::filesystem::exists(depot() + "-wal"));
    EXPECT_FALSE(std::filesystem::exists(depot() + ".lock"));
  }
};

TEST_F(BadFile, ANewerSchemaIsRefusedAndLeftAlone) {
  MakeDepot();
  sqlite3* database = nullptr;
  ASSERT_EQ(sqlite3_open(depot().c_str(), &database), SQLITE_OK);
  const char* later =
      "PRAGMA wal_checkpoint(TRUNCATE); INSERT INTO schema_migrations "
      "(version, applied_us, name) VALUES (99, 0, 'of a later release')";
  EXPECT_EQ(sqlite3_exec(database, later, nullptr, nullptr, nullptr), SQLITE_OK)
      << sqlite3_errmsg(database);
  sqlite3_close(database);
  ExpectLeftAlone("schema version 99");
}

TEST_F(BadFile, ATextFileIsNoDepotAndIsLeftAlone) {
  WriteFile(depot(), "unit,model\nK-1,knee-a\n" + std::string(5000, 'x'));
  ExpectLeftAlone("is some other kind of file, not a depot; it was left as it is");
}

TEST_F(BadFile, AnotherProgramsDatabaseIsLeftAlone) {
  sqlite3* database = nullptr;
  ASSERT_EQ(sqlite3_open(depot().c_str(), &database), SQLITE_OK);
  EXPECT_EQ(sqlite3_exec(database, "CREATE TABLE stamps (value)", nullptr, nullptr, nullptr),
            SQLITE_OK);
  sqlite3_close(database);
  ExpectLeftAlone("is another program's database, not a depot");
}

TEST_F(BadFile, AMissingDepotIsUnavailableHoweverTheTimeIsTyped) {
  for (const std::string at : {"'2026-03-02 08:00'", "2026-03-02T08:00:00Z"}) {
    const Outcome outcome = Ferrule("add-unit K-9 knee-a north-dock --at " + at);
    EXPECT_EQ(outcome.exit, 4) << outcome.err;
    EXPECT_THAT(outcome.err, HasSubstr("there is no depot file " + depot()));
  }
  EXPECT_FALSE(std::filesystem::exists(depot()));
}

TEST_F(BadFile, SettingsWithAnErrorLeaveTheOnesInForce) {
  MakeDepot();
  std::string text = ReadFile(FERRULE_SETTINGS);
  size_t at = 0;
  for (int line = 1; line < 40; ++line) at = text.find('\n', at) + 1;
  text.insert(at, "  sidded: true\n");
  WriteFile(Path("wrong.textproto"), text);
  const std::string before = Done("settings show");
  const Outcome outcome = Ferrule("settings apply " + Path("wrong.textproto"));
  EXPECT_EQ(outcome.exit, 2);
  EXPECT_THAT(outcome.err, HasSubstr("wrong.textproto:40:"));
  EXPECT_THAT(outcome.err, HasSubstr("sidded"));
  EXPECT_EQ(Done("settings show"), before);
  EXPECT_THAT(Done("info"), HasSubstr("entries  1"));
}

TEST_F(BadFile, AMisspeltBranchIsNoBranchWhateverIsAsked) {
  MakeDepot();
  for (const std::string line :
       {"due", "board", "complaints", "cleanings", "records-due", "info"}) {
    const Outcome outcome = Ferrule(line + " --branch nroth");
    EXPECT_NE(outcome.exit, 0) << line;
    EXPECT_EQ(outcome.out, "") << line;
    EXPECT_THAT(outcome.err, ContainsRegex("there is no branch '?nroth'?.*branches.*: north"))
        << line;
    EXPECT_EQ(Ferrule(line + " --branch north").exit, 0) << line;
  }
}

TEST_F(BadFile, ASecondProcessWaitsBrieflyAndSaysWhoOwnsIt) {
  MakeDepot();
  // This process has the file for itself, without a socket.
  const auto owner = store::FileLock::Acquire(depot() + ".lock", std::chrono::milliseconds(0));
  ASSERT_TRUE(owner.ok()) << owner.status();
  const std::string named = "in use by process " + std::to_string(getpid()) + " on ";
  const auto begun = std::chrono::steady_clock::now();
  const Outcome second = Ferrule(kTypedReport);
  const std::chrono::duration<double> waited = std::chrono::steady_clock::now() - begun;
  EXPECT_EQ(second.exit, 4) << second.err;
  EXPECT_THAT(second.err, HasSubstr(named));
  EXPECT_GT(waited.count(), 1.0);
  EXPECT_LT(waited.count(), 20.0);
  const Outcome server = RunProgram(
      FERRULED_BIN, {"serve", "--depot", depot(), "--listen", "127.0.0.1:0"}, environment());
  EXPECT_EQ(server.exit, 4) << server.err;
  EXPECT_THAT(server.err, HasSubstr(named));
}

TEST_F(BadFile, ASecondProcessGetsTheFileOnceItIsFree) {
  MakeDepot();
  auto owner = store::FileLock::Acquire(depot() + ".lock", std::chrono::milliseconds(0));
  ASSERT_TRUE(owner.ok()) << owner.status();
  std::thread ending([&owner] {
    std::this_thread::sleep_for(std::chrono::milliseconds(500));
    owner->reset();
  });
  Done(kTypedReport);
  ending.join();
  EXPECT_THAT(Done("info"), HasSubstr("entries  2"));
}

// How room runs out: a small disk of its own that is filled, or a limit on the size of files.
enum class Shortage { kSmallDisk, kSizeLimit };

std::vector<std::string> Unshare() {
  return geteuid() == 0 ? std::vector<std::string>{"-m"} : std::vector<std::string>{"-r", "-m"};
}

// A disk may only be mounted by root, or where users may have namespaces of their own.
std::vector<Shortage> Shortages() {
  std::vector<std::string> words = Unshare();
  words.insert(words.end(), {"sh", "-c", "mount -t tmpfs -o size=1m none /tmp"});
#ifdef __SANITIZE_THREAD__
  // The sanitizer writes a file before the program begins, which a small limit forbids.
  return {Shortage::kSmallDisk};
#endif
  if (RunProgram("unshare", words, {}).exit != 0) return {Shortage::kSizeLimit};
  return {Shortage::kSmallDisk, Shortage::kSizeLimit};
}

// Beginnings of the scripts, one for each shortage. `short_of N command...` runs a command with N
// KiB of room; `squeeze N pid` takes the room from a running one, and `room pid` gives it back.
constexpr char kSmallDisk[] = R"sh(
mkdir -p disk
mount -t tmpfs -o size=1m none disk
cd disk
squeeze() {
  rm -f fill
  free=$(df -k --output=avail . | tail -n 1)
  dd if=/dev/zero of=fill bs=1k count=$((free - $1)) status=none
}
short_of() { squeeze "$1"; shift; "$@"; }
room() { rm -f fill; }
)sh";
constexpr char kSizeLimit[] = R"sh(
squeeze() { prlimit --pid "$2" --fsize=$(($1 * 1024)):unlimited; }
short_of() { limit=$(($1 * 1024)); shift; prlimit --fsize=$limit:unlimited "$@"; }
room() { prlimit --pid "$1" --fsize=unlimited:unlimited || true; }
)sh";
// `add command...` reports a unit called $tag; its words are in $said, its exit code is in
// $code, and $acknowledged counts those that were recorded.
constexpr char kCommon[] = R"sh(
export FERRULE_DEPOT=d.ferrule
make() {
  "$FERRULE" init
  "$FERRULE" settings apply "$SETTINGS" --from 2026-01-01 --at '2026-01-01 08:00'
} > /dev/null
add() {
  code=0
  said=$("$@" add-unit "$tag" knee-a north-dock --entry-id "id-$tag" \
    --at 2026-03-02T08:00:00Z --note "$(head -c 1900 /dev/zero | tr '\0' x)" 2>&1) || code=$?
  [ $code != 0 ] || acknowledged=$((acknowledged + 1))
}
acknowledged=0
)sh";

class NoRoom : public ProgramTest, public ::testing::WithParamInterface<Shortage> {
 protected:
  Outcome Script(const std::string& script) {
    const bool disk = GetParam() == Shortage::kSmallDisk;
    const std::string text = "set -eu\ncd \"$FOLDER\"\nexec 2>&1\n" +
                             std::string(disk ? kSmallDisk : kSizeLimit) + kCommon + script;
    Environment environment = this->environment();
    environment["FOLDER"] = Path("");
    environment["TMPDIR"] = Path("");
    environment["LOG"] = Path("log");
    environment["FERRULE"] = FERRULE_BIN;
    environment["FERRULED"] = FERRULED_BIN;
    environment["SETTINGS"] = FERRULE_SETTINGS;
    if (!disk) return RunProgram("/bin/sh", {"-c", text}, environment);
    std::vector<std::string> words = Unshare();
    words.insert(words.end(), {"sh", "-c", text});
    return RunProgram("unshare", words, environment);
  }
};

// Every line of a refusal says that room is missing and what to do.
void ExpectClear(const std::string& out, int least) {
  static const std::regex refusal("exit ([0-9]+): (.*)\n");
  int refusals = 0;
  for (std::sregex_iterator it(out.begin(), out.end(), refusal), end; it != end; ++it) {
    if ((*it)[1] == "0") continue;
    ++refusals;
    EXPECT_EQ((*it)[1], "4") << it->str();
    EXPECT_THAT((*it)[2].str(), ContainsRegex("No space|File too large|full")) << it->str();
    EXPECT_THAT((*it)[2].str(), ContainsRegex("try again|before going on")) << it->str();
  }
  EXPECT_GE(refusals, least) << out;
}

// The records hold the settings and what was acknowledged, and nothing else.
void ExpectAcknowledgedKept(const std::string& out) {
  std::smatch count;
  ASSERT_TRUE(std::regex_search(out, count, std::regex("acknowledged: ([0-9]+)\n"))) << out;
  const int entries = 1 + std::stoi(count[1]);
  EXPECT_THAT(out, HasSubstr("ok: " + std::to_string(entries) + " entries, "));
}

TEST_P(NoRoom, AReportIsWholeOrNotThereAndLaterOnesAreRecorded) {
  const Outcome outcome = Script(R"sh(
make
for left in 0 4 8 16 24 32 40 64 200; do
  tag=K-$left
  add short_of $left "$FERRULE"
  echo "exit $code: $said"
done
rm -f fill
tag=K-last
add "$FERRULE"
echo "last: $code"
echo "acknowledged: $acknowledged"
"$FERRULED" verify
)sh");
  EXPECT_EQ(outcome.exit, 0) << outcome.out;
  ExpectClear(outcome.out, 3);
  EXPECT_THAT(outcome.out, HasSubstr("last: 0\n"));
  ExpectAcknowledgedKept(outcome.out);
}

TEST_P(NoRoom, ADepotBegunIsFinishedOnceThereIsRoom) {
  const Outcome outcome = Script(R"sh(
for left in 0 4 8 12 16 28 40 56 80; do
  code=0
  said=$(short_of $left "$FERRULE" init 2>&1) || code=$?
  echo "exit $code: $said"
  rm -f fill
  [ $code = 0 ] || "$FERRULE" init
  "$FERRULED" verify
  rm -f d.ferrule d.ferrule-*
done
)sh");
  EXPECT_EQ(outcome.exit, 0) << outcome.out;
  ExpectClear(outcome.out, 3);
  EXPECT_THAT(outcome.out, Not(HasSubstr("is a depot already")));
}

// Whether it went on reading or ended itself with a sentence, nothing acknowledged is lost.
TEST_P(NoRoom, AServerKeepsWhatItAcknowledgedAndRecordsOnceThereIsRoom) {
  const Outcome outcome = Script(R"sh(
make
serve() {
  "$FERRULED" serve --listen 127.0.0.1:0 > "$LOG" 2>&1 &
  server=$!
  for i in $(seq 200); do ! grep -q '^serving' "$LOG" || break; sleep 0.05; done
}
serve
tag=K-first
add "$FERRULE"
squeeze 44 $server
for n in $(seq 60); do
  tag=K-$n
  add "$FERRULE"
  [ $code = 0 ] || break
done
echo "refused: $code"
echo "$said"
sleep 0.2
if kill -0 $server 2> /dev/null; then
  "$FERRULE" show K-first > /dev/null && echo reads go on
else
  ended=0
  wait $server || ended=$?
  echo "server ended: $ended"
  cat "$LOG"
fi
room $server 2> /dev/null
kill -0 $server 2> /dev/null || serve
add "$FERRULE"
echo "again: $code"
kill $server
wait $server
echo "acknowledged: $acknowledged"
"$FERRULED" verify
)sh");
  EXPECT_EQ(outcome.exit, 0) << outcome.out;
  EXPECT_THAT(outcome.out, HasSubstr("refused: 4\n"));
  EXPECT_THAT(outcome.out, ContainsRegex("reads go on|server ended: 4\n"));
  EXPECT_THAT(outcome.out, ContainsRegex("No space|File too large|full"));
  EXPECT_THAT(outcome.out, HasSubstr("again: 0\n"));
  ExpectAcknowledgedKept(outcome.out);
}

INSTANTIATE_TEST_SUITE_P(Of, NoRoom, ::testing::ValuesIn(Shortages()),
                         [](const ::testing::TestParamInfo<Shortage>& one) {
                           return one.param == Shortage::kSmallDisk ? "SmallDisk" : "SizeLimit";
                         });

}  // namespace
}  // namespace ferrule::testing
