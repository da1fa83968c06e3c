#!/usr/bin/python3 -B
"""Breaks the program on purpose, one way after the other, and shows that the fault tests see it.

    mutants.py BUILD_FOLDER [--only NAME ...]

Each mutant changes a source file of this tree, which must be as it was committed, builds one test,
and runs it: the test has to fail. Before that it has to pass. Afterwards the file is as it was.
Exit code 0 only when every test was green without and red with its mutant.
"""

import argparse
import os
import signal
import subprocess
import sys
import time

SOURCE = os.path.abspath(os.path.join(os.path.dirname(os.path.abspath(__file__)), "../.."))

SIMULATION = ("ledger_simulation_test", "*Nothing*", {"FERRULE_SIMULATION_LIVES": "300"})

# Name, family of faults, file, what is replaced by what, and the test that must see it.
MUTANTS = [
    ("normal-sync", "power cut", "core/store/sqlite.cc",
     [("  PRAGMA synchronous = FULL;\n", "  PRAGMA synchronous = NORMAL;\n")], SIMULATION),
    ("failed-commit-is-done", "disk errors", "core/ledger/writer.cc",
     [("  status = connection_->Commit();\n",
       "  connection_->Commit().IgnoreError();\n  status = absl::OkStatus();\n")], SIMULATION),
    ("no-request-table", "repeats", "core/ledger/group.cc",
     [("bool Group::AnswerRepeat(Item& item) {\n",
       "bool Group::AnswerRepeat(Item& item) {\n  if (item.prepared != nullptr) return false;\n")],
     SIMULATION),
    ("half-an-entry", "atomicity", "core/ledger/group.cc",
     [("absl::Status Group::WriteSpans() {\n",
       "absl::Status Group::WriteSpans() {\n  if (head_.sequence % 2 == 0) return absl::OkStatus();\n")],
     SIMULATION),
    ("clock-falls", "clock", "core/ledger/group.cc",
     [("recorded_us_(std::max(now_us, head_.recorded_us))", "recorded_us_(now_us)")], SIMULATION),
    ("autocommit-migration", "migration", "core/store/migrate.cc",
     [("if (absl::Status status = writer.Begin(TransactionKind::kSchema); !status.ok()) return status;",
       ""),
      ("if (absl::Status status = writer.Commit(); !status.ok()) return status;", "")],
     ("ledger_simulation_test", "Migration*", {})),
    ("chain-without-anchor", "tampering", "core/ledger/chain_check.cc",
     [("  for (const Anchor& anchor : anchors_) {\n    if (anchor.sequence != sequence_",
       "  for (const Anchor& anchor : std::span<const Anchor>()) {\n    if (anchor.sequence != sequence_"),
      ("    if (anchor.sequence <= sequence_) continue;\n", "    continue;\n")],
     ("ledger_tamper_test", "*NotedElsewhere*", {})),
    ("no-digests", "tampering", "core/ledger/chain_check.cc",
     [("if (ChainDigest(digest_, entry.bytes) != entry.digest) {",
       "if (ChainDigest(digest_, entry.bytes).empty()) {")],
     ("ledger_tamper_test", "*FirstEntry*", {})),
    ("no-engine-check", "damage", "core/store/integrity.cc",
     [("if (text != \"ok\") add(text);", "")],
     ("ledger_damage_test", "LedgerDamage.*", {})),
    ("read-committed", "cluster", "core/store/postgres.cc",
     [("{\"BEGIN ISOLATION LEVEL SERIALIZABLE\",\n"
       "                                       \"LOCK TABLE ledger_head IN EXCLUSIVE MODE\"}",
       "{\"BEGIN ISOLATION LEVEL READ COMMITTED\"}")], ("cluster_test", None, {})),
    ("trust-own-memory", "cluster", "core/store/postgres.cc",
     [("bool exclusive() const override { return false; }",
       "bool exclusive() const override { return true; }")], ("cluster_test", None, {})),
    ("copied-file", "backup", "service/backup.cc",
     [("if (absl::Status copied = VacuumInto(source->get(), to); !copied.ok()) return copied;",
       "if (absl::Status copied = to.empty() ? VacuumInto(source->get(), to) : CopyFile(depot_file, to); !copied.ok()) return copied;")],
     ("backup_test", "*EveryBackup*", {})),
    ("writer-may-delete", "roles", "deploy/postgres-roles.sql",
     [("'GRANT INSERT ON ferrule.%I TO ferrule_writer'",
       "'GRANT INSERT, DELETE ON ferrule.%I TO ferrule_writer'")], ("deploy_roles_test", None, {})),
    ("writes-where-nobody-looks", "stray handles", "core/store/sqlite.cc",
     [("    if (!file->Moved()) continue;\n", "    if (file != nullptr) continue;\n")],
     ("elsewhere_test", None, {})),
    ("older-copy-unnoticed", "stale copy", "core/ledger/writer.cc",
     [("  if (head.sequence <= known.sequence) return StartAnew(head);\n",
       "  if (head.sequence <= known.sequence) return absl::OkStatus();\n")],
     ("database_test", None, {})),
    ("any-clock", "clock", "service/clock_check.cc",
     [("  if (ahead >= -kClockBehind && ahead <= kClockAhead) return absl::OkStatus();\n",
       "  if (ahead == ahead) return absl::OkStatus();\n")], ("clock_test", None, {})),
    ("checkpoint-goes-on", "disk errors", "core/store/sqlite_checkpoint.cc",
     [("  failed_ = status;\n  sqlite3_db_config(writer_, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, nullptr);\n",
       "")], ("store_checkpoint_test", "*FailedSync*", {})),
    ("log-anew-before-sync", "disk errors", "core/store/sqlite_checkpoint.cc",
     [("  if (result->code != SQLITE_OK) return Failed(result->code, result->message);\n", "")],
     ("store_checkpoint_test", "*FailedSync*", {})),
    ("log-told-before-written", "disk errors", "core/store/sqlite_log_file.cc",
     [("methods.xSync = Flushed<&sqlite3_io_methods::xSync>::Run;",
       "methods.xSync = [](sqlite3_file* file, int flags) {\n"
       "    return Log(file)->real()->pMethods->xSync(Log(file)->real(), flags);\n  };")],
     ("store_checkpoint_test", "*PowerCut*", {})),
    ("unfinished-is-done", "migration", "core/store/migrate.cc",
     [("  if (*found > 0) {\n", "  if (*found > last_version()) {\n")],
     ("small_disk_test", None, {})),
    ("any-key-is-right", "migration", "core/ledger/pages.cc",
     [("    if (key != row.key) page", "    if (key == 0 && key != row.key) page")],
     ("ledger_entry_key_test", "*WrongKey*", {})),
    ("filed-as-before", "migration", "core/ledger/verify.cc",
     [("FileAnew(**writer, refolded->misfiled)", "FileAnew(**writer, {})")],
     ("old_versions_test", None, {})),
    ("parts-without-bound", "bombs", "core/exchange/hl7.cc",
     [("  if (PartsIn(bytes, *delimiters) > kMaxHl7Parts) {\n",
       "  if (PartsIn(bytes, *delimiters) > bytes.size()) {\n")], ("frames_test", None, {})),
    ("sent-under-a-new-id", "reports kept", "cli/outbox.cc",
     [("  *request.mutable_entry() = *corrected;\n",
       "  *request.mutable_entry() = *corrected;\n"
       "  request.mutable_entry()->set_entry_id(absl::StrCat(entry_id, \"-\", Now()));\n")],
     ("cli_outbox_test", None, {})),
    ("kept-in-memory-alone", "reports kept", "cli/journal.cc",
     [("  if (absl::Status kept = Append(lines); !kept.ok()) return kept;\n  Put(entry);\n",
       "  Put(entry);\n")], ("cli_outbox_test", None, {})),
    ("any-ledger-is-the-same", "restored ledger", "deploy/clients/python/follow.py",
     [("            if mark_of(recorded) != self.last:\n", "            if self.last is None:\n")],
     ("restored_test", None, {})),
    ("any-ledger-is-the-same-to-node", "restored ledger", "deploy/clients/node/follow.js",
     [("      if (markOf(recorded) !== this.last) throw", "      if (this.last === '') throw")],
     ("restored_test", None, {})),
    ("restored-without-a-mark", "restored ledger", "service/backup.cc",
     [("  if (!epoch.empty()) {\n", "  if (epoch == \"none\") {\n")], ("restored_test", None, {})),
    ("held-message-erased", "holds", "service/intake_methods.cc",
     [("      !free.ok()) {\n    return free;\n", "      !free.ok()) {\n    free.IgnoreError();\n")],
     ("mllp_test", None, {})),
    ("held-patient-erased", "holds", "service/access_methods.cc",
     [("        if (!good.ok()) return good;\n        good = gate->patients().Erase(\n",
       "        good = gate->patients().Erase(\n")], ("secure_test", None, {})),
    ("half-a-file-is-whole", "imports", "core/intake/import_facts.cc",
     [("          if (!stored.ok()) failed_ = true;\n", "")],
     ("import_fault_test", "ImportFault.*", {})),
    ("commit-without-memory-is-undone", "memory", "core/store/sqlite.cc",
     [("  if (IsOutOfMemory(status)) {\n", "  if (status.ok() && IsOutOfMemory(status)) {\n")],
     ("ledger_memory_test", "LedgerMemory.*", {})),
    ("leftovers-stay", "backup", "service/file_work.cc",
     [("    if (leftover.ended) unlink(leftover.path.c_str());\n", "")],
     ("backup_test", "*Left*", {})),
    ("leftovers-of-the-living", "backup", "service/file_work.cc",
     [("    leftover.ended = leftover.of_here && !Runs(maker->process);\n",
       "    leftover.ended = leftover.of_here && Runs(getpid());\n")], ("backup_test", "*Left*", {})),
    ("room-for-anything", "migration", "service/migration_room.cc",
     [("  if (!free.has_value() || *free >= needed) return absl::OkStatus();\n",
       "  if (!free.has_value() || needed > 0) return absl::OkStatus();\n")],
     ("small_disk_test", None, {})),
]

# Tests that run the programs, and are no target of their own.
PROGRAM_TESTS = {"cluster_test", "deploy_roles_test", "elsewhere_test", "database_test", "clock_test",
                 "small_disk_test", "frames_test", "cli_outbox_test", "restored_test", "mllp_test",
                 "secure_test", "old_versions_test"}


def say(text):
    print(time.strftime("%H:%M:%S"), text, flush=True)


class Tree:
    def __init__(self, build):
        self.build = build
        self.changed = {}

    def change(self, path, replacements):
        full = os.path.join(SOURCE, path)
        with open(full, encoding="utf-8") as file:
            text = self.changed[full] = file.read()
        for old, new in replacements:
            if text.count(old) != 1:
                raise SystemExit(f"mutants.py: {path} has {text.count(old)} times: {old!r}")
            text = text.replace(old, new)
        with open(full, "w", encoding="utf-8") as file:
            file.write(text)

    def restore(self):
        for full, text in self.changed.items():
            with open(full, "w", encoding="utf-8") as file:
                file.write(text)
        self.changed = {}

    def make(self, test):
        program = test in PROGRAM_TESTS
        targets = ["ferrule", "ferruled"] if program else [test]
        done = subprocess.run(["cmake", "--build", self.build, "--target", *targets],
                              capture_output=True, text=True, check=False)
        if done.returncode != 0:
            raise SystemExit("mutants.py: it does not build\n" + done.stdout[-3000:])

    def green(self, test):
        name, cases, environment = test
        command = ["ctest", "--test-dir", self.build, "-R", f"^{name}$", "--no-tests=error"]
        extra = {"GTEST_FILTER": cases} if cases else {}
        done = subprocess.run(command, capture_output=True, text=True, check=False,
                              env={**os.environ, **environment, **extra})
        return done.returncode == 0


def main():
    parser = argparse.ArgumentParser(description="Mutants")
    parser.add_argument("build")
    parser.add_argument("--only", nargs="*", default=[name for name, *_ in MUTANTS])
    options = parser.parse_args()
    tree = Tree(os.path.abspath(options.build))
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))
    wrong = 0
    proved = set()
    for name, family, path, replacements, test in MUTANTS:
        if name not in options.only:
            continue
        if subprocess.run(["git", "-C", SOURCE, "diff", "--quiet", "HEAD", "--", path],
                          check=False).returncode != 0:
            raise SystemExit(f"mutants.py: {path} has changes; commit them first")
        key = (test[0], test[1])
        if key not in proved:
            tree.make(test[0])
            if not tree.green(test):
                say(f"{test[0]} is red without any mutant")
                wrong += 1
                continue
            proved.add(key)
        try:
            tree.change(path, replacements)
            tree.make(test[0])
            survived = tree.green(test)
        finally:
            tree.restore()
        say(f"{name} ({family}): {test[0]} is {'GREEN, it does not bite' if survived else 'red'}")
        wrong += survived
        tree.make(test[0])
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
