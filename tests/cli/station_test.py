"""The station in a real terminal, with a server that is killed in the middle.

A return goes from the van to ready in twelve scans; nothing that was scanned is lost or doubled,
whether the server dies between two scans or between an entry and its answer.
"""

import json
import os
import pathlib
import pty
import re
import select
import signal
import socket
import subprocess
import tempfile
import threading
import time
import unittest

import environments

FERRULE = os.environ["FERRULE_BIN"]
FERRULED = os.environ["FERRULED_BIN"]
SETTINGS = pathlib.Path(os.environ["FERRULE_SOURCE_DIR"]) / "tests/data/settings.textproto"
READINGS = "visual=yes stop=yes earth-ohm=0.12 insulation-mohm=20 leakage-ua=85"
# Twelve scans, from the van's soiled side to ready; the bottle's label is a GS1 code.
TURN = ["/by tech-ada", "K-0417", "north-dock", "/clean",
        "]d20110857674002017172701311" + "0L9", "/wet", "/cleaned", "/erase menu", "/tester T-3",
        READINGS, "north-shelf", "K-0417"]
DONE = ["receivedBack", "cleaningStarted", "cleaningFinished", "memoryErased", "inspectionDone",
        "unitMoved"]


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


class Server:
    """ferruled on a depot file; killed as a power cut would."""

    def __init__(self, depot, port):
        self.depot, self.port = depot, port
        self.process = None

    def start(self):
        self.process = subprocess.Popen(
            [FERRULED, "serve", "--depot", self.depot, "--listen", "127.0.0.1:%d" % self.port],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        limit = time.monotonic() + 30
        while True:
            try:
                socket.create_connection(("127.0.0.1", self.port), 1).close()
                return
            except OSError:
                if time.monotonic() > limit:
                    raise
                time.sleep(0.05)

    def kill(self):
        if self.process is not None:
            self.process.send_signal(signal.SIGKILL)
            self.process.wait()
            self.process = None


class Line:
    """A line to the server that can be told to swallow what the server says from now on."""

    def __init__(self, to_port):
        self.to_port = to_port
        self.deaf = threading.Event()
        self.swallowed = threading.Event()
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.port = self.listener.getsockname()[1]
        threading.Thread(target=self.accept, daemon=True).start()

    def accept(self):
        while True:
            try:
                near, _ = self.listener.accept()
            except OSError:
                return
            try:
                far = socket.create_connection(("127.0.0.1", self.to_port), 5)
            except OSError:
                near.close()
                continue
            for source, sink, back in ((near, far, False), (far, near, True)):
                threading.Thread(target=self.carry, args=(source, sink, back), daemon=True).start()

    def carry(self, source, sink, back):
        try:
            while data := source.recv(65536):
                if back and self.deaf.is_set():
                    self.swallowed.set()
                    continue
                sink.sendall(data)
        except OSError:
            pass
        for end in (source, sink):
            try:
                end.shutdown(socket.SHUT_RDWR)
            except OSError:
                pass
            end.close()

    def close(self):
        self.listener.close()


class Terminal:
    """ferrule station in a pseudo-terminal."""

    def __init__(self, arguments, environment):
        self.pid, self.end = pty.fork()
        if self.pid == 0:
            os.execve(FERRULE, [FERRULE, "station"] + arguments, environment)
        self.text = self.wait("> ")

    def wait(self, for_text, seconds=40):
        """What is shown up to the next prompt."""
        shown = ""
        limit = time.monotonic() + seconds
        while not shown.endswith(for_text):
            ready, _, _ = select.select([self.end], [], [], max(0, limit - time.monotonic()))
            if not ready:
                raise AssertionError("no prompt after: %r" % shown)
            shown += os.read(self.end, 65536).decode(errors="replace")
        return shown

    def scan(self, text):
        os.write(self.end, (text + "\n").encode())
        shown = self.wait("> ").replace("\r\n", "\n")
        return shown.split("\n", 1)[1] if "\n" in shown else shown  # without the echo

    def leave(self):
        os.write(self.end, b"/end\n")
        _, status = os.waitpid(self.pid, 0)
        os.close(self.end)
        return os.waitstatus_to_exitcode(status)

    def kill(self):
        os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)
        os.close(self.end)


class Station(unittest.TestCase):

    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.addCleanup(self.folder.cleanup)
        self.depot = self.path("d.ferrule")
        self.environment = environments.bare(FERRULE_BRANCH="north", TERM="dumb")
        settings = SETTINGS.read_text().replace("contact_time_s: 600", "contact_time_s: 1\n"
                                                '  trade_item_numbers: "10857674002017"')
        pathlib.Path(self.path("s.textproto")).write_text(settings)
        self.ferrule("init")
        self.ferrule("settings", "apply", self.path("s.textproto"), "--from", "2026-01-01")
        self.ferrule("add-unit", "K-0417", "knee-a", "north-van-dirty", "--serial", "77123",
                     "--part", "pendant=PEN-88", "--part", "foot-plate=FP-12", "--at",
                     "2026-01-02 08:00")
        self.server = Server(self.depot, free_port())
        self.addCleanup(self.server.kill)

    def path(self, name):
        return os.path.join(self.folder.name, name)

    def ferrule(self, *words):
        done = subprocess.run([FERRULE, *words, "--depot", self.depot, "--format", "json"],
                              env={**self.environment, "FERRULE_ACTOR": "clerk-bo"},
                              capture_output=True, text=True)
        self.assertEqual(done.returncode, 0, done.stderr)
        return done.stdout

    def station(self, port, *more):
        terminal = Terminal(["--server", "127.0.0.1:%d" % port, "--queue", self.path("queue"), *more],
                            self.environment)
        return terminal

    def recorded(self):
        """Kinds of facts about the unit after it was added, and the ids of their entries."""
        rows = json.loads(self.ferrule("history", "K-0417"))["rows"]
        facts = [row for row in rows if row["actor"] == "tech-ada"]
        kinds = [next(key for key in row["fact"] if key not in ("happenedTime", "overrides", "note"))
                 for row in facts]
        ids = [row["ref"]["entryId"] for row in facts]
        self.assertEqual(len(ids), len(set(ids)))
        return kinds

    def assert_ready_once(self):
        self.server.kill()
        self.assertEqual(self.recorded(), DONE)
        self.ferrule("why", "K-0417")  # exits with 0 when it is ready
        verified = subprocess.run([FERRULED, "verify", "--depot", self.depot], capture_output=True,
                                  text=True)
        self.assertEqual(verified.returncode, 0, verified.stderr)

    def wait_wet(self, text):
        if text == "/cleaned":
            time.sleep(1.2)

    def test_from_the_van_to_ready_in_twelve_scans(self):
        self.server.start()
        station = self.station(self.server.port)
        self.assertEqual(len(TURN), 12)
        answers = []
        for text in TURN:
            self.wait_wet(text)
            answers.append(station.scan(text))
        for answer, words in zip(answers, [
                "tech-ada works here now", "Next: receive it", "Next: clean it", "Next: scan the bottle",
                "wipe-q, lot L9, to be used by 2027-01-31", "wet from now on",
                "Next: erase the patient data", "Next: inspect it", "T-3 from now on",
                "Next: put it away", "It is ready to go.", "It is ready to go."]):
            self.assertIn(words, answer)
        self.assertEqual(station.leave(), 0)
        self.assert_ready_once()

    def test_killed_server_loses_and_doubles_nothing(self):
        self.server.start()
        station = self.station(self.server.port)
        for text in TURN[:5]:
            station.scan(text)
        self.server.kill()
        for text in TURN[5:8]:
            self.wait_wet(text)
            shown = station.scan(text)
        self.assertIn("kept, the server is away", shown)
        self.assertIn("2 reports wait", shown)
        self.assertIn("2 waiting for the server", station.scan("/queue"))
        self.server.start()
        shown = station.scan("K-0417")
        self.assertIn("recorded as no.", shown)
        self.assertIn("Next: inspect it", shown)
        for text in TURN[8:]:
            shown = station.scan(text)
        self.assertIn("It is ready to go.", shown)
        self.assertEqual(station.leave(), 0)
        self.assert_ready_once()

    def test_an_answer_that_is_lost_is_asked_for_again(self):
        self.server.start()
        line = Line(self.server.port)
        self.addCleanup(line.close)
        station = self.station(line.port)
        for text in TURN[:7]:
            self.wait_wet(text)
            station.scan(text)
        # The entry arrives and is recorded; its answer does not come back, and the server dies.
        line.deaf.set()
        os.write(station.end, b"/erase menu\n")
        self.assertTrue(line.swallowed.wait(20))
        time.sleep(0.5)
        self.server.kill()
        shown = station.wait("> ")
        self.assertIn("kept, the server is away", shown)
        line.deaf.clear()
        self.server.start()
        shown = station.scan("K-0417")
        self.assertIn("had been recorded as no.", shown)
        for text in TURN[8:]:
            shown = station.scan(text)
        self.assertIn("It is ready to go.", shown)
        self.assertEqual(station.leave(), 0)
        self.assert_ready_once()

    def test_killed_station_sends_from_disk_when_it_starts_again(self):
        self.server.start()
        station = self.station(self.server.port)
        for text in TURN[:6]:
            station.scan(text)
        self.server.kill()
        time.sleep(1.2)
        self.assertIn("kept", station.scan("/cleaned"))
        station.kill()
        with open(self.path("queue"), "ab") as queue:
            queue.write(b"entry half a li")  # cut off by the crash
        self.server.start()
        again = self.station(self.server.port, "--as", "tech-ada")
        self.assertIn("recorded as no.", again.text)
        for text in ["K-0417"] + TURN[7:]:
            shown = again.scan(text)
        self.assertIn("It is ready to go.", shown)
        self.assertEqual(again.leave(), 0)
        self.assert_ready_once()

    def test_a_queue_belongs_to_one_station_and_one_depot(self):
        self.server.start()
        station = self.station(self.server.port)
        words = [FERRULE, "station", "--queue", self.path("queue"), "--server"]
        for server, reason in (("127.0.0.1:%d" % self.server.port, "a station that is running"),):
            second = subprocess.run(words + [server], input="", capture_output=True, text=True,
                                    env=self.environment)
            self.assertEqual(second.returncode, 1)
            self.assertIn(reason, second.stderr)
        self.assertEqual(station.leave(), 0)
        other = subprocess.run(words + ["127.0.0.1:1"], input="", capture_output=True, text=True,
                               env=self.environment)
        self.assertEqual(other.returncode, 1)
        self.assertRegex(other.stderr, "holds reports for 127.0.0.1:%d" % self.server.port)

    def test_over_a_pipe_wrong_lines_are_answered_in_words(self):
        lines = ["north-dock", "/erase", "/by tech-ada", "K-0418", "K-0417", "/cleaned", "/wet x",
                 "visual=perhaps", "colour=red", "/cleen", "(01)10857674002018", "/hold mice why",
                 "/product unknown", "\xff", "clean", "quit", "/end"]
        done = subprocess.run(
            [FERRULE, "station", "--depot", self.depot, "--queue", self.path("queue")],
            input="\n".join(lines).encode("latin-1"), capture_output=True, env=self.environment)
        self.assertEqual(done.returncode, 0, done.stderr)
        said = done.stdout.decode()
        for words in ["who works here?", "north-dock is a place; scan a unit first",
                      "scan a unit first", "nothing is recorded under K-0418", "Next: receive it",
                      "scan the bottle first", "write minutes from 0 to 1440", "visual: ",
                      "has no item colour; it has visual, stop", "there is no card /cleen",
                      "wrong check digit, 8 instead of 7", "mice", "no cleaning product unknown",
                      "no text", "for the card type /clean", "for the card type /end"]:
            self.assertIn(words, said)
        self.assertEqual(self.recorded(), [])


if __name__ == "__main__":
    unittest.main()
