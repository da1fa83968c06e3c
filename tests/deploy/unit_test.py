"""The systemd unit: hard, and not too hard for the program.

The score is systemd's own, offline. A machine that tests need not run systemd, so whether the
program works inside its filter is seen by tracing its system calls.
"""

import os
import re
import subprocess
import sys
import tempfile
import time
import unittest
import urllib.request

SOURCE = os.environ["FERRULE_SOURCE_DIR"]
sys.path.insert(0, os.path.join(SOURCE, "tests/faults"))
import depot_servers  # pylint: disable=wrong-import-position

UNIT = os.path.join(SOURCE, "deploy/ferruled.service")
MOST_EXPOSURE = 15  # tenths


def settings(name):
    with open(UNIT, encoding="utf-8") as file:
        return [line.strip().split("=", 1)[1] for line in file if line.startswith(name + "=")]


def group(name):
    """The system calls of one of systemd's groups."""
    done = subprocess.run(["systemd-analyze", "syscall-filter", "--no-pager", name],
                          capture_output=True, text=True, check=True)
    calls = set()
    for line in done.stdout.splitlines()[1:]:
        word = line.strip()
        if word.startswith("@"):
            calls |= group(word)
        elif word and not word.startswith("#"):
            calls.add(word)
    return calls


def allowed():
    calls = set()
    for line in settings("SystemCallFilter"):
        for word in line.lstrip("~").split():
            calls = calls - group(word) if line.startswith("~") else calls | group(word)
    return calls


class Unit(unittest.TestCase):
    def test_exposure_is_low(self):
        done = subprocess.run(
            ["systemd-analyze", "security", "--offline=true", "--no-pager",
             f"--threshold={MOST_EXPOSURE}", UNIT], capture_output=True, text=True, check=False)
        score = re.search(r"Overall exposure level.*?: ([0-9.]+)", done.stdout)
        self.assertIsNotNone(score, done.stdout + done.stderr)
        print("exposure", score.group(1))
        self.assertEqual(done.returncode, 0, score.group(0))

    def test_a_plain_unit_would_not_pass(self):
        with tempfile.TemporaryDirectory() as folder:
            plain = os.path.join(folder, "plain.service")
            with open(plain, "w", encoding="utf-8") as file:
                file.write("[Service]\nExecStart=/usr/bin/ferruled serve\n")
            done = subprocess.run(
                ["systemd-analyze", "security", "--offline=true", "--no-pager",
                 f"--threshold={MOST_EXPOSURE}", plain], capture_output=True, check=False)
            self.assertNotEqual(done.returncode, 0)

    def test_a_life_of_the_server_needs_no_system_call_that_is_filtered(self):
        with tempfile.TemporaryDirectory() as folder:
            trace = os.path.join(folder, "trace")
            metrics = depot_servers.free_port()
            server = depot_servers.Server(
                ["--depot", os.path.join(folder, "depot.ferrule"), "--create"],
                os.path.join(folder, "log"), "--metrics", f"127.0.0.1:{metrics}",
                wrapper=["strace", "-f", "-qq", "-o", trace, "-e", "signal=none"])
            server.start()
            environment = {**os.environ, "FERRULE_ACTOR": "tech", "FERRULE_BRANCH": "north"}
            for words in (["settings", "apply", os.path.join(SOURCE, "tests/data/settings.textproto"),
                           "--from", "2026-03-01"], ["add-unit", "K-1", "knee-a", "north-dock"],
                          ["show", "K-1"], ["board"]):
                done = subprocess.run([depot_servers.FERRULE, "--server", server.address, *words],
                                      env=environment, capture_output=True, text=True, timeout=60,
                                      check=False)
                self.assertEqual(done.returncode, 0, done.stdout + done.stderr)
            urllib.request.urlopen(f"http://127.0.0.1:{metrics}/metrics", timeout=10).read()
            time.sleep(0.2)
            self.assertEqual(server.end(), 0)
            with open(trace, encoding="utf-8", errors="replace") as file:
                text = file.read()
        made = set(re.findall(r"^\d+ +([a-z_0-9]+)\(", text, re.M))
        if os.geteuid() == 0:
            made.discard("fchown")  # SQLite gives its log the file's owner, as root alone
        self.assertGreater(len(made), 20)
        self.assertEqual(made - allowed(), set())
        # MemoryDenyWriteExecute: no page is writable and executable at once.
        self.assertEqual(re.findall(r".*PROT_WRITE\|PROT_EXEC.*", text), [])

    def test_what_the_unit_says_is_what_the_program_takes(self):
        line = settings("ExecStart")[0].split()
        self.assertEqual(line[:2], ["/usr/bin/ferruled", "serve"])
        options = re.search(r'FERRULED_OPTIONS=([^"]*)', settings("Environment")[0]).group(1)
        help_text = depot_servers.ferruled("serve", "--help").stdout
        for word in (line[2:] + options.split()):
            if word.startswith("--"):
                self.assertIn(word, help_text)


if __name__ == "__main__":
    unittest.main()
