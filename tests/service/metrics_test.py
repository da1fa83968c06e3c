"""Figures and log of a served depot: in the forms that collectors read, on this machine alone, and
without a word of what callers said. The reader of the text form is ours and strict: it takes what
Prometheus' format allows and nothing else."""

import json
import os
import re
import socket
import subprocess
import sys
import tempfile
import time
import unittest
import urllib.error
import urllib.request

SOURCE = os.environ["FERRULE_SOURCE_DIR"]
sys.path.insert(0, os.path.join(SOURCE, "tests/faults"))
import depot_servers  # pylint: disable=wrong-import-position

# What no output may hold. Some of it goes in as a patient's particulars, some as names and reasons.
CANARY = "Zzcanary"

NAME = r"[a-zA-Z_:][a-zA-Z0-9_:]*"
LABEL = r'[a-zA-Z_][a-zA-Z0-9_]*="(?:[^"\\\n]|\\["\\n])*"'
SAMPLE = re.compile(rf"({NAME})(?:\{{({LABEL}(?:,{LABEL})*)\}})? (\S+)")


def parse(text):
    """{(name, labels): value}; raises when a line is not what the format allows."""
    assert text.endswith("\n")
    kinds, helped, samples, order = {}, set(), {}, []
    for line in text[:-1].split("\n"):
        if line.startswith("# HELP "):
            name = line.split(" ", 3)[2]
            assert name not in helped, line
            helped.add(name)
            continue
        if line.startswith("# TYPE "):
            _, _, name, kind = line.split(" ")
            assert kind in ("counter", "gauge", "histogram"), line
            assert name in helped and name not in kinds, line
            kinds[name] = kind
            order.append(name)
            continue
        match = SAMPLE.fullmatch(line)
        assert match, line
        name, labels, value = match.groups()
        family = name if name in kinds else re.sub("_(bucket|sum|count)$", "", name)
        assert order and order[-1] == family, f"{line}: samples of one family stand together"
        assert kinds[family] != "counter" or name.endswith("_total"), line
        key = (name, labels or "")
        assert key not in samples, line
        samples[key] = float(value)
    check_histograms(samples, kinds)
    return samples


def check_histograms(samples, kinds):
    for family in (name for name, kind in kinds.items() if kind == "histogram"):
        series = {}
        for (name, labels), value in samples.items():
            if name == family + "_bucket":
                bound = re.search(r'le="([^"]*)"', labels).group(1)
                rest = re.sub(r',?le="[^"]*"', "", labels)
                series.setdefault(rest, []).append((float(bound), value))
        for rest, buckets in series.items():
            assert buckets == sorted(buckets) and buckets[-1][0] == float("inf"), family
            counts = [count for _, count in buckets]
            assert counts == sorted(counts), family
            assert samples[family + "_count", rest] == counts[-1], family
            assert (family + "_sum", rest) in samples


class Metrics(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        folder = tempfile.TemporaryDirectory()
        cls.addClassCleanup(folder.cleanup)
        cls.log = os.path.join(folder.name, "log")
        cls.depot = os.path.join(folder.name, "depot.ferrule")
        cls.port = depot_servers.free_port()
        cls.server = depot_servers.Server(["--depot", cls.depot, "--create"], cls.log, "--log",
                                          "json", "--metrics", f"127.0.0.1:{cls.port}").start()
        cls.addClassCleanup(cls.server.end)
        cls.run_ferrule("settings", "apply", os.path.join(SOURCE, "tests/data/settings.textproto"),
                        "--from", "2026-03-01")
        cls.run_ferrule("add-unit", "K-1", "knee-a", "north-dock", "--serial", CANARY + "-serial")
        cls.run_ferrule("take-order", "R-1", "--branch", "north", "--class", "knee", "--side", "left",
                        "--patient", CANARY + "-patient", "--prescriber", CANARY + "-prescriber",
                        "--procedure", CANARY, "--needed", "2026-03-05")
        # Refused, asked for in vain, malformed.
        cls.run_ferrule("hand-over", "K-1", "R-1", "--signed-by", CANARY, code=1)
        cls.run_ferrule("show", "units/" + CANARY, code=3)
        cls.run_ferrule("repair-open", "K-1", f"{CANARY}\nx\x1b[31m", code=2)

    @classmethod
    def run_ferrule(cls, *words, code=0):
        done = subprocess.run(
            [depot_servers.FERRULE, "--server", cls.server.address, *words],
            env={**os.environ, "FERRULE_ACTOR": CANARY + "-actor", "FERRULE_BRANCH": "north"},
            capture_output=True, text=True, timeout=60, check=False)
        if done.returncode != code:
            raise AssertionError(f"{words}: {done.returncode} {done.stdout}{done.stderr}")

    def fetch(self, path="/metrics", method="GET"):
        request = urllib.request.Request(f"http://127.0.0.1:{self.port}{path}", method=method)
        return urllib.request.urlopen(request, timeout=10)

    def test_every_line_is_what_the_format_allows_and_the_figures_are_true(self):
        with self.fetch() as answer:
            self.assertEqual(answer.headers["Content-Type"],
                             "text/plain; version=0.0.4; charset=utf-8")
            samples = parse(answer.read().decode())
        record = 'service="ferrule.v1.LedgerService",method="Record",code="{}"'
        self.assertEqual(samples["ferrule_calls_total", record.format("OK")], 3)
        self.assertEqual(samples["ferrule_calls_total", record.format("FAILED_PRECONDITION")], 1)
        self.assertEqual(samples["ferrule_calls_total", record.format("INVALID_ARGUMENT")], 1)
        self.assertEqual(samples["ferrule_ledger_head_sequence", ""], 3)
        self.assertEqual(samples["ferrule_ledger_epoch_info", 'epoch=""'], 1)  # never restored
        self.assertAlmostEqual(samples["ferrule_ledger_recorded_timestamp_seconds", ""], time.time(),
                               delta=120)
        self.assertGreater(samples["ferrule_depot_bytes", 'file="depot"'], 4096)
        self.assertGreater(samples["ferrule_disk_free_bytes", ""], 0)
        self.assertGreater(samples["process_resident_memory_bytes", ""], 1 << 20)
        with open(f"/proc/{self.server.process.pid}/statm", encoding="ascii") as file:
            pages = int(file.read().split()[1])
        self.assertAlmostEqual(samples["process_resident_memory_bytes", ""] / 4096, pages,
                               delta=pages / 4)

    def test_nothing_that_a_caller_said_is_in_figures_or_log(self):
        with self.fetch() as answer:
            self.assertNotIn(CANARY, answer.read().decode())
        with open(self.log, encoding="utf-8") as file:
            self.assertNotIn(CANARY, file.read())
        # The canary is in the depot, or this test could not fail.
        with open(self.depot + "-wal", "rb") as file:
            self.assertIn(CANARY.encode(), file.read())

    def test_other_requests_are_told_and_slow_ones_do_not_hold_others_up(self):
        for path, method, code in (("/", "GET", 404), ("/metrics2", "GET", 404),
                                   ("/metrics", "POST", 405), ("/metrics", "DELETE", 405)):
            with self.assertRaises(urllib.error.HTTPError) as told:
                self.fetch(path, method)
            self.assertEqual(told.exception.code, code)
            told.exception.close()
        self.assertEqual(self.fetch("/metrics?x=1", "HEAD").read(), b"")
        with socket.create_connection(("127.0.0.1", self.port)) as slow, \
                socket.create_connection(("127.0.0.1", self.port)) as broken:
            slow.sendall(b"GET /met")
            broken.sendall(os.urandom(100_000))
            begun = time.monotonic()
            self.fetch().read()
            self.assertLess(time.monotonic() - begun, 8)

    def test_figures_are_for_this_machine_alone(self):
        done = depot_servers.ferruled("serve", "--depot", self.depot + ".2", "--create", "--listen",
                                      "127.0.0.1:0", "--metrics", "0.0.0.0:9464", check=False)
        self.assertEqual(done.returncode, 2)
        self.assertIn("only this machine", done.stderr)

    def test_the_log_is_one_object_a_line_and_its_heads_are_anchors(self):
        with tempfile.TemporaryDirectory() as folder:
            depot, log = os.path.join(folder, "d.ferrule"), os.path.join(folder, "log")
            server = depot_servers.Server(["--depot", depot, "--create"], log, "--log", "json").start()
            done = subprocess.run(
                [depot_servers.FERRULE, "--server", server.address, "settings", "apply",
                 os.path.join(SOURCE, "tests/data/settings.textproto"), "--from", "2026-03-01"],
                env={**os.environ, "FERRULE_ACTOR": "a", "FERRULE_BRANCH": "north"}, timeout=60,
                capture_output=True, check=False)
            self.assertEqual(done.returncode, 0, done.stderr)
            self.assertEqual(server.end(), 0)
            with open(log, encoding="utf-8") as file:
                lines = [json.loads(line) for line in file]
            self.assertEqual([line["event"] for line in lines], ["head"])
            self.assertRegex(lines[0]["time"], r"^\d{4}-\d\d-\d\dT")
            self.assertNotIn("epoch", lines[0])  # never restored
            said = depot_servers.ferruled("head", "--depot", depot).stdout
            self.assertTrue(said.startswith(lines[0]["anchor"] + " "), said)
            done = depot_servers.ferruled("verify", "--depot", depot, "--anchors", log)
            self.assertIn("1 anchor holds", done.stdout)
            # A head that this ledger never had.
            with open(log, "a", encoding="utf-8") as file:
                file.write("2:" + "ab" * 32 + "\n")
            done = depot_servers.ferruled("verify", "--depot", depot, "--anchors", log, check=False)
            self.assertEqual(done.returncode, 1)
            self.assertIn("cut off", done.stdout)
            done = depot_servers.ferruled("verify", "--depot", depot, "--anchors", depot, check=False)
            self.assertEqual((done.returncode, "no anchor was found" in done.stderr), (2, True))
            done = depot_servers.ferruled("verify", "--depot", depot, "--anchors", "no", check=False)
            self.assertEqual(done.returncode, 3)


if __name__ == "__main__":
    unittest.main()
