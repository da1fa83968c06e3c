"""Reports made where the server cannot be reached: kept on disk before anything is said to be done,
recorded once, with a clock that was wrong put right, and with what came of each to be seen."""

import datetime
import json
import os
import random
import re
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
import unittest

import environments

SOURCE = os.environ["FERRULE_SOURCE_DIR"]
sys.path.insert(0, os.path.join(SOURCE, "tests/faults"))
import depot_servers  # noqa: E402 pylint: disable=wrong-import-position
import wrong_clock  # noqa: E402 pylint: disable=wrong-import-position
from depot_servers import FERRULE, ferruled  # noqa: E402 pylint: disable=wrong-import-position

SETTINGS = os.path.join(SOURCE, "tests/data/settings.textproto")
RECORD = b"/ferrule.v1.LedgerService/Record"


class SwallowsAnswers:
    """A line to the server. While `swallows`, what the server says to a Record is lost."""

    def __init__(self, port):
        self._to = port
        self.swallows = False
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = self._listener.getsockname()[1]
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self):
        while True:
            try:
                near, _ = self._listener.accept()
                far = socket.create_connection(("127.0.0.1", self._to))
            except OSError:
                return
            lost = threading.Event()
            threading.Thread(target=self._carry, args=(near, far, lost, True), daemon=True).start()
            threading.Thread(target=self._carry, args=(far, near, lost, False), daemon=True).start()

    def _carry(self, source, target, lost, to_server):
        while True:
            try:
                data = source.recv(65536)
                if to_server and self.swallows and RECORD in data:
                    lost.set()
                if data and (to_server or not lost.is_set()):
                    target.sendall(data)
                    continue
            except OSError:
                data = b""
            # The end of the line: the server has done what it was asked.
            time.sleep(0.3 if data else 0)
            for end in (source, target):
                try:
                    end.shutdown(socket.SHUT_RDWR)
                except OSError:
                    pass
            return

    def end(self):
        self._listener.close()


class Outbox(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = folder.name
        self.depot = self.path("depot.ferrule")
        self.outbox = self.path("field.outbox")
        self.server = depot_servers.Server(["--depot", self.depot, "--create"], self.path("log"))
        self.addCleanup(self.server.end)
        self.address = self.server.address
        self.server.start()
        self.ferrule("settings", "apply", SETTINGS, "--from", "2026-03-01", outbox=None)
        for unit in ("K-1", "K-2"):
            self.ferrule("add-unit", unit, "knee-a", "north-dock", "--at", "2026-03-02 08:00",
                         outbox=None)

    def path(self, name):
        return os.path.join(self.folder, name)

    def environment(self, outbox, more):
        out = {**environments.bare(), "FERRULE_SERVER": self.address,
               "FERRULE_ACTOR": "rep-bo", "FERRULE_BRANCH": "north", **more}
        if outbox is not None:
            out["FERRULE_OUTBOX"] = outbox
        return out

    def ferrule(self, *words, code=0, outbox="", more=None):
        done = subprocess.run(
            [FERRULE, *words], capture_output=True, text=True, timeout=60, check=False,
            env=self.environment(self.outbox if outbox == "" else outbox, more or {}))
        self.assertEqual(done.returncode, code, done.stdout + done.stderr)
        return done.stdout + done.stderr

    def waiting(self):
        """Entry ids in the outbox."""
        text = self.ferrule("outbox", "--format", "json")
        return [json.loads(line)["entryId"] for line in text.splitlines()]

    def ledger(self):
        """What the depot has: {entry id: entry}; no id twice."""
        text = self.ferrule("feed", "--format", "json", outbox=None)
        entries = [one["entry"] for one in json.loads(text)["entries"]]
        out = {entry["entryId"]: entry for entry in entries}
        self.assertEqual(len(out), len(entries))
        return out

    def away(self):
        self.server.end()

    def back(self):
        self.server.start()

    @staticmethod
    def entry_of(text):
        return re.search(r"^entry (\S+)$", text, re.M).group(1)

    def test_what_is_kept_while_the_server_is_away_is_recorded_once_as_observed(self):
        self.away()
        kept = []
        for unit in ("K-1", "K-2"):
            said = self.ferrule("move", unit, "north-bay")
            self.assertIn(f"kept in {self.outbox}, not recorded yet: moved {unit} to north-bay",
                          said)
            self.assertIn("the server is away", said)
            kept.append(self.entry_of(said))
        self.assertIn("2 reports wait", said)
        self.assertIn(f"holds reports for {self.address}; say so with --server",
                      self.ferrule("outbox", code=1, more={"FERRULE_SERVER": ""}))
        self.assertEqual(self.waiting(), kept)
        self.assertIn("2 reports still in", self.ferrule("outbox", "send", code=4))
        self.assertEqual(self.waiting(), kept)
        self.back()
        before = shutil.copyfile(self.outbox, self.path("before"))
        said = self.ferrule("outbox", "send")
        self.assertEqual(said.count("recorded as no."), 2)
        self.assertIn("2 reports recorded, 0 left", said)
        ledger = self.ledger()
        for entry_id in kept:
            self.assertEqual(ledger[entry_id]["mode"], "ENTRY_MODE_OBSERVED")
        # The note that they were answered is lost: sent again, they are not recorded again.
        shutil.copyfile(before, self.outbox)
        said = self.ferrule("outbox", "send")
        self.assertEqual(said.count("had been recorded as no."), 2)
        self.assertEqual(self.ledger(), ledger)
        self.assertIn("nothing waits", self.ferrule("outbox"))

    def test_the_next_report_takes_along_what_waited(self):
        self.away()
        first = self.entry_of(self.ferrule("move", "K-1", "north-bay"))
        self.back()
        said = self.ferrule("move", "K-1", "north-bench")
        self.assertIn("from the outbox:\nferrule: recorded as no. 4: moved K-1 to north-bay", said)
        self.assertIn("recorded as no. 5: moved K-1 to north-bench", said)
        self.assertEqual(self.waiting(), [])
        entry = self.ledger()[first]
        self.assertEqual(entry["mode"], "ENTRY_MODE_OBSERVED")
        # At the counter the rules are asked, and what they refuse has not happened.
        self.assertIn("refused", self.ferrule("hand-over", "K-1", "R-9", code=3))
        self.assertEqual(self.waiting(), [])

    def test_whatever_was_said_to_be_kept_is_there_after_a_kill(self):
        self.away()
        begun = time.monotonic()
        said = [self.entry_of(self.ferrule("move", "K-1", "north-bench"))]
        longest = time.monotonic() - begun  # so long takes one that is not killed, or less
        chance = random.Random(5)
        killed = 0
        for number in range(40):
            process = subprocess.Popen(
                [FERRULE, "move", "K-1", "north-bay", "--entry-id", f"e-{number}"],
                stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
                env=self.environment(self.outbox, {}))
            time.sleep(chance.random() * longest)
            if process.poll() is None:
                os.kill(process.pid, signal.SIGKILL)
                killed += 1
                longest *= 1.2
            else:
                longest *= 0.8  # whatever the machine does besides, half of them are killed
            out = process.communicate()[0]
            if "kept in" in out:
                said.append(f"e-{number}")
        self.assertGreater(killed, 5)
        said.append(self.entry_of(self.ferrule("move", "K-1", "north-dock")))
        waiting = self.waiting()
        self.assertEqual([entry for entry in waiting if entry in said], said)
        self.back()
        self.ferrule("outbox", "send")
        ledger = self.ledger()
        self.assertEqual([entry for entry in waiting if entry not in ledger], [])

    def test_one_whose_answer_was_lost_stays_as_it_was_sent_and_is_settled_later(self):
        line = SwallowsAnswers(self.server.port)
        self.addCleanup(line.end)
        self.address = f"127.0.0.1:{line.port}"
        line.swallows = True
        said = self.ferrule("move", "K-1", "north-bay")
        self.assertIn("whether it was recorded is not known", said)
        entry_id = self.entry_of(said)
        self.assertEqual(self.waiting(), [entry_id])
        line.swallows = False
        self.assertIn("had been recorded as no. 4", self.ferrule("outbox", "send"))
        self.assertEqual(self.ledger()[entry_id]["mode"], "ENTRY_MODE_ENFORCED")
        self.assertEqual(self.waiting(), [])

    def test_in_the_field_nothing_has_to_be_looked_up(self):
        self.away()
        said = self.ferrule("hand-over", "K-1", "R-1", "--signed-by", "patient", code=4)
        self.assertIn(f"Nothing was kept in {self.outbox}", said)
        self.assertIn("ferrule help hand-over", said)
        self.assertEqual(self.waiting(), [])
        self.ferrule("hand-over", "K-1", "R-1", "--signed-by", "patient", "--model", "knee-a")
        self.ferrule("pick-up", "K-1", "north-van-dirty", code=4)
        self.ferrule("pick-up", "K-1", "north-van-dirty", "--order", "R-1")
        self.assertEqual(len(self.waiting()), 2)

    def test_two_who_close_one_pick_up_both_see_the_other(self):
        self.ferrule("take-order", "R-1", "--branch", "north", "--class", "knee", "--side", "left",
                     "--patient", "P-1", "--prescriber", "D-7", "--at", "2026-03-02 11:00")
        self.ferrule("hand-over", "K-1", "R-1", "--signed-by", "patient", "--observed", "--at",
                     "2026-03-05 10:00")
        self.away()
        for box, at in (("first", "2026-03-26 14:00"), ("second", "2026-03-26 14:20")):
            shutil.copyfile(self.outbox + ".settings", self.path(box + ".settings"))
            self.ferrule("pick-up", "K-1", "north-van-dirty", "--order", "R-1", "--at", at,
                         outbox=self.path(box))
        self.back()
        later = self.ferrule("outbox", "send", outbox=self.path("second"))
        self.assertNotIn("not-at-that-home", later)
        earlier = self.ferrule("outbox", "send", outbox=self.path("first"))
        self.assertIn("recorded as no.", earlier)
        # Whichever came first by its time stands; the other is recorded, and asked about.
        self.assertIn("K-1", self.ferrule("questions", "K-1", outbox=None))
        self.assertIn("not-at-that-home", self.ferrule("questions", "K-1", outbox=None))

    def test_what_breaks_a_rule_becomes_a_question_that_is_shown(self):
        self.away()
        self.ferrule("move", "K-77", "north-bay")
        self.back()
        said = self.ferrule("outbox", "send")
        self.assertRegex(said, "opened 1 question:\n.*K-77")
        self.assertIn("K-77", self.ferrule("questions", "K-77", outbox=None))

    def test_what_the_depot_refuses_stays_with_its_reason(self):
        self.away()
        wrong = self.entry_of(self.ferrule("move", "K-1", "no place at all"))
        good = self.entry_of(self.ferrule("move", "K-2", "north-bay"))
        self.back()
        said = self.ferrule("outbox", "send", code=1)
        self.assertIn("NOT recorded: moved K-1", said)
        self.assertIn("1 report recorded, 1 left", said)
        self.assertIn(good, self.ledger())
        listed = self.ferrule("outbox")
        self.assertIn("to_place", listed)
        self.assertIn("ferrule outbox drop ENTRY", listed)
        # It is not asked again until somebody has seen to it.
        self.assertIn("0 reports recorded, 1 left", self.ferrule("outbox", "send", code=1))
        self.ferrule("outbox", "observe", wrong[-8:])
        self.assertNotIn(wrong, self.waiting())
        self.assertIn("NOT recorded", self.ferrule("outbox", "send", code=1))
        self.assertIn("not recorded by this", self.ferrule("outbox", "drop", self.waiting()[0][-8:]))
        self.assertIn("nothing waits", self.ferrule("outbox"))

    def test_a_wrong_clock_is_measured_and_its_times_are_put_right(self):
        clock = wrong_clock.off_by(3600)
        self.away()
        entry_id = self.entry_of(self.ferrule("move", "K-1", "north-bay", more=clock))
        typed = self.entry_of(self.ferrule("move", "K-2", "north-bay", "--at",
                                           "2026-03-03T08:00:00Z", more=clock))
        now = datetime.datetime.now(datetime.timezone.utc)
        self.back()
        said = self.ferrule("outbox", "send", more=clock)
        self.assertRegex(said, "this machine's clock is (1h|59m5|1h0m)[0-9a-z]* ahead of the server")
        self.assertIn("time corrected by", said)
        self.assertNotIn("question", said)
        entry = self.ledger()[entry_id]

        def instant(text):
            return datetime.datetime.fromisoformat(text.replace("Z", "+00:00"))
        happened = instant(entry["facts"][0]["happenedTime"])
        self.assertLess(abs((happened - now).total_seconds()), 30)
        shown = instant(entry["deviceTime"])
        self.assertAlmostEqual((shown - happened).total_seconds(), 3600, delta=5)
        self.assertRegex(entry["facts"][0]["note"], "^Time corrected: the clock that gave .* was "
                         ".* ahead")
        self.assertEqual(self.ledger()[typed]["facts"][0]["happenedTime"], "2026-03-03T08:00:00Z")
        # At the counter as well: without the outbox the depot would refuse a time to come.
        self.assertIn("recorded as no.", self.ferrule("move", "K-1", "north-dock", more=clock))
        self.assertNotIn("clock", self.ferrule("move", "K-1", "north-bay"))

    def test_local_times_mean_the_branch_also_while_the_server_is_away(self):
        self.away()
        other = self.path("other.outbox")
        said = self.ferrule("move", "K-1", "north-bay", "--at", "2026-03-03 08:00", outbox=other,
                            code=4)
        self.assertIn("write it with its offset", said)
        self.back()
        self.ferrule("move", "K-1", "north-bay")  # the outbox hears of the branches
        self.away()
        entry_id = self.entry_of(self.ferrule("move", "K-1", "north-bay", "--at",
                                              "2026-03-03 08:00"))
        self.back()
        self.ferrule("outbox", "send")
        # America/New_York.
        self.assertEqual(self.ledger()[entry_id]["facts"][0]["happenedTime"],
                         "2026-03-03T13:00:00Z")

    def test_many_at_once_and_out_of_two_outboxes(self):
        self.away()
        commands = [subprocess.Popen(
            [FERRULE, "move", "K-1", "north-bay", "--entry-id", f"e-{i}"], stdout=subprocess.PIPE,
            stderr=subprocess.PIPE, text=True,
            env=self.environment(self.path(f"box-{i % 2}"), {})) for i in range(12)]
        for command in commands:
            out, error = command.communicate(timeout=60)
            self.assertEqual(command.returncode, 0, out + error)
        self.back()
        # The second one first, and both at once.
        senders = [subprocess.Popen([FERRULE, "outbox", "send"], stdout=subprocess.PIPE, text=True,
                                    env=self.environment(self.path(f"box-{i}"), {}))
                   for i in (1, 0, 1)]
        for sender in senders:
            sender.communicate(timeout=60)
            self.assertEqual(sender.returncode, 0)
        self.assertEqual(sorted(e for e in self.ledger() if e.startswith("e-")),
                         sorted(f"e-{i}" for i in range(12)))
        self.away()
        self.assertRegex(ferruled("verify", "--depot", self.depot).stdout, "^ok: 15 entries")

    def test_mistyped(self):
        self.assertIn("FERRULE_OUTBOX", self.ferrule("outbox", outbox=None, code=2))
        self.assertIn("no report e-9", self.ferrule("outbox", "drop", "e-9", code=3))
        self.away()
        self.ferrule("move", "K-1", "north-bay", "--entry-id", "e-1")
        self.ferrule("move", "K-1", "north-dock", "--entry-id", "e-2")
        self.assertIn("begins or ends several", self.ferrule("outbox", "drop", "e-", code=2))
        self.assertIn("was not refused", self.ferrule("outbox", "observe", "e-1", code=1))
        self.assertIn("holds reports for", self.ferrule(
            "move", "K-1", "north-bay", more={"FERRULE_SERVER": "127.0.0.1:1"}, code=1))
        self.assertIn("cannot be opened", self.ferrule("move", "K-1", "north-bay",
                                                       outbox=self.path("none/box"), code=4))
        self.assertIn("failed to connect", self.ferrule("move", "K-1", "north-bay", "--check",
                                                        code=4))
        with open(self.path("letter"), "w", encoding="ascii") as file:
            file.write("Dear depot,\nthis is a letter.\n")
        self.assertIn("is damaged at line 1", self.ferrule("outbox", outbox=self.path("letter"),
                                                           code=1))
        kept = json.loads(self.ferrule("move", "K-1", "north-bay", "--format", "json").split(
            "ferrule:")[0])
        self.assertEqual((kept["kept"], kept["waiting"]), (True, 3))


if __name__ == "__main__":
    unittest.main()
