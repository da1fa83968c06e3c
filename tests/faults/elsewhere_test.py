"""A depot file that others lay hands on: moved or replaced under the server that writes it, written by
another program between two servings, read by one that is in no hurry. And which files a server has
open."""

import os
import re
import shutil
import subprocess
import tempfile
import unittest

import grpc

import depot_servers
from caller import Caller, anomalies, settings, unit
from depot_servers import FERRULE, ferruled

O_CLOEXEC = 0o2000000


class Elsewhere(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = folder.name
        self.depot = os.path.join(self.folder, "depot.ferrule")
        self.log = os.path.join(self.folder, "log")

    def serve(self, **more):
        server = depot_servers.Server(["--depot", self.depot, "--create"], self.log, **more)
        server.start()
        self.addCleanup(server.end)
        caller = Caller(server.address)
        self.addCleanup(caller.close)
        return server, caller

    # A file that is no longer there.

    def gone_under_the_server(self, take_away):
        server, caller = self.serve()
        acknowledged = {f"e-{number}": caller.record(unit(number)).sequence for number in range(5)}
        take_away()
        with self.assertRaises(grpc.RpcError) as failed:
            caller.record(unit(5))
        self.assertEqual(failed.exception.code(), grpc.StatusCode.UNAVAILABLE)
        self.assertIn("was moved, deleted or replaced", failed.exception.details())
        self.assertEqual(caller.info().head_sequence, 5)
        return server, caller, acknowledged

    def test_a_file_moved_away_is_told_and_work_goes_on_once_it_is_back(self):
        away = self.depot + ".away"
        server, caller, acknowledged = self.gone_under_the_server(
            lambda: os.rename(self.depot, away))
        os.rename(away, self.depot)
        for number in range(8):
            acknowledged[f"e-{number}"] = caller.settle(unit(number)).sequence
        self.assertEqual(anomalies(caller.ledger(), acknowledged), [])
        self.assertEqual(server.end(), 0)
        self.assertRegex(ferruled("verify", "--depot", self.depot).stdout, "^ok: 8 entries")

    def test_nothing_is_acknowledged_into_a_deleted_file(self):
        self.gone_under_the_server(lambda: os.remove(self.depot))

    def test_nothing_is_acknowledged_when_a_backup_was_put_in_its_place(self):
        self.serve()[0].end()
        ferruled("backup", "--depot", self.depot, self.depot + ".backup")
        self.gone_under_the_server(lambda: os.replace(self.depot + ".backup", self.depot))

    def test_nothing_is_acknowledged_into_a_deleted_log(self):
        # What is in the file is there; the log alone would be lost with the process.
        self.gone_under_the_server(lambda: os.remove(self.depot + "-wal"))

    # Written elsewhere between two servings.

    def test_a_backup_after_work_by_another_program_is_whole(self):
        server, caller = self.serve()
        acknowledged = {"settings": caller.record(settings()).sequence}
        for number in range(20):
            acknowledged[f"e-{number}"] = caller.record(unit(number)).sequence
        ferruled("backup", "--depot", self.depot, os.path.join(self.folder, "first.ferrule"))
        self.assertEqual(server.end(), 0)
        for number in range(20, 25):  # the counter's program, on the file itself
            done = subprocess.run([FERRULE, "add-unit", f"K-{number}", "knee-a", "north-dock",
                                   "--side", "left", "--observed", "--as", "tech", "--entry-id",
                                   f"e-{number}"],
                                  check=False, capture_output=True, text=True,
                                  env={**os.environ, "FERRULE_DEPOT": self.depot})
            self.assertEqual(done.returncode, 0, done.stderr)
            acknowledged[f"e-{number}"] = number + 2
        server, caller = self.serve()
        for number in range(25, 40):
            acknowledged[f"e-{number}"] = caller.record(unit(number)).sequence
        second = os.path.join(self.folder, "second.ferrule")
        ferruled("backup", "--depot", self.depot, second)
        info = caller.info()
        self.assertEqual(server.end(), 0)
        restored = os.path.join(self.folder, "restored.ferrule")
        ferruled("restore", second, "--depot", restored)
        self.assertRegex(ferruled("head", "--depot", restored).stdout,
                         f"^{info.head_sequence}:{info.head_digest.hex()} ")
        self.depot = restored
        server, caller = self.serve()
        self.assertEqual(anomalies(caller.ledger(), acknowledged), [])
        self.assertEqual(len(acknowledged), info.head_sequence)

    def test_a_depot_put_beside_the_log_of_another_is_told_or_whole(self):
        # Whoever restores by copying over a file leaves the old log lying there.
        server, caller = self.serve()
        for number in range(10):
            caller.record(unit(number))
        ferruled("backup", "--depot", self.depot, os.path.join(self.folder, "old.ferrule"))
        for number in range(10, 20):
            caller.record(unit(number))
        server.kill()
        self.assertTrue(os.path.exists(self.depot + "-wal"))
        done = ferruled("restore", os.path.join(self.folder, "old.ferrule"), "--depot", self.depot,
                        check=False)
        self.assertEqual(done.returncode, 1)
        self.assertIn("exists and is not overwritten", done.stderr)
        os.remove(self.depot)
        done = ferruled("restore", os.path.join(self.folder, "old.ferrule"), "--depot", self.depot,
                        check=False)
        self.assertEqual(done.returncode, 1)
        self.assertIn("-wal exists and is not overwritten", done.stderr)
        shutil.copy(os.path.join(self.folder, "old.ferrule"), self.depot)
        done = ferruled("verify", "--depot", self.depot, check=False)
        if done.returncode == 0:
            self.assertRegex(done.stdout, "^ok: (10|20) entries")
        else:
            self.assertRegex(done.stdout + done.stderr, "BROKEN|DAMAGED|damaged|do not fit")

    # Stray handles.

    def test_a_server_opens_its_depot_once_and_gives_no_handle_to_others(self):
        trace = os.path.join(self.folder, "trace")
        server, caller = self.serve(wrapper=[
            "strace", "-f", "-qq", "-o", trace, "-e", "signal=none",
            # The leak check of a sanitizer cannot work under strace.
            "-E", f"ASAN_OPTIONS={os.environ.get('ASAN_OPTIONS', '')}:detect_leaks=0", "-e",
            "trace=open,openat,close,fork,vfork,clone,clone3,execve,dup,dup2,dup3"])
        caller.record(settings())
        for number in range(30):
            caller.record(unit(number))
            caller.unit(number)
        caller.ledger()
        ferruled("backup", "--depot", self.depot, os.path.join(self.folder, "copy.ferrule"))
        folder = f"/proc/{server.program()}"
        handles = 0
        for name in os.listdir(folder + "/fd"):
            if not os.readlink(f"{folder}/fd/{name}").startswith(self.depot):
                continue
            handles += 1
            with open(f"{folder}/fdinfo/{name}", encoding="ascii") as info:
                flags = int(re.search(r"flags:\s+(\d+)", info.read()).group(1), 8)
            self.assertTrue(flags & O_CLOEXEC, os.readlink(f"{folder}/fd/{name}"))
        self.assertGreater(handles, 2)
        self.assertEqual(server.end(), 0)
        self.check_trace(trace)

    def check_trace(self, trace):
        """A handle on the depot that somebody else than SQLite opens and closes would take SQLite's
        locks with it: after SQLite has opened the file nobody opens it to read only, and no program
        is started that could inherit one."""
        by_sqlite = False
        with open(trace, encoding="utf-8", errors="replace") as file:
            for line in file:
                if "execve(" in line and "ferruled" not in line:
                    self.fail("a program is started: " + line)
                if re.search(r"\b(fork|vfork)\(", line) or (
                        re.search(r"\bclone3?\(", line) and "CLONE_VM" not in line and
                        "resumed" not in line):
                    self.fail("a process is made: " + line)
                if not re.search(r"open(at)?\(.*" + re.escape(self.depot) + '"', line):
                    continue
                if "O_RDWR" in line:
                    by_sqlite = True
                elif by_sqlite:
                    self.fail("the depot is opened beside SQLite: " + line)
        self.assertTrue(by_sqlite, "the trace has nothing of the depot")


if __name__ == "__main__":
    unittest.main()
