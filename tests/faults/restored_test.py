"""A depot put back from a backup: it says everywhere that it is another ledger now, and followers of
the feed find out, also when it has grown past the entry they were at."""

import json
import os
import re
import subprocess
import tempfile
import unittest
import urllib.request

import lossy
import depot_servers
from caller import Caller, settings, unit
from depot_servers import ferruled

BEFORE, LOST = 5, 3  # units before the backup, and after it


class Restored(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = folder.name
        self.clients = lossy.sample_clients()

    def path(self, name):
        return os.path.join(self.folder, name)

    def serve(self, depot):
        self.metrics = depot_servers.free_port()
        server = depot_servers.Server(["--depot", self.path(depot), "--create"], self.path("log"),
                                      "--metrics", f"127.0.0.1:{self.metrics}").start()
        self.addCleanup(server.end)
        caller = Caller(server.address)
        self.addCleanup(caller.close)
        return server, caller

    def follow(self, name, server, until):
        command, environment = self.clients[name]
        return subprocess.run([*command, server.address, self.path(name + ".state"), "--until",
                               str(until)], env=environment, capture_output=True, text=True,
                              timeout=60, check=False)

    def lose_some(self):
        """Followers have seen entries that the backup does not have."""
        server, caller = self.serve("depot.ferrule")
        caller.record(settings())
        for number in range(BEFORE):
            caller.record(unit(number))
        ferruled("backup", "--depot", self.path("depot.ferrule"), self.path("copy.ferrule"))
        for number in range(BEFORE, BEFORE + LOST):
            caller.record(unit(number))
        for name in self.clients:
            done = self.follow(name, server, 1 + BEFORE + LOST)
            self.assertEqual(done.returncode, 0, done.stderr)
        caller.close()
        self.assertEqual(server.end(), 0)
        said = ferruled("restore", self.path("copy.ferrule"), "--depot", self.path("again.ferrule"))
        return said.stdout

    def assert_told(self, server, until):
        """Each client, and again without what it had kept, up to the end of the ledger."""
        for name in self.clients:
            with self.subTest(name):
                state = self.path(name + ".state")
                with open(state, encoding="utf-8") as file:
                    before = file.read()
                done = self.follow(name, server, until + LOST + 1)
                self.assertEqual(done.returncode, 1, done.stdout + done.stderr)
                self.assertIn("restored from a backup", done.stderr)
                self.assertIn(state, done.stderr)
                with open(state, encoding="utf-8") as file:
                    self.assertEqual(file.read(), before)
                os.remove(state)
                done = self.follow(name, server, until)
                self.assertEqual(done.returncode, 0, done.stderr)
                with open(state, encoding="utf-8") as file:
                    self.assertEqual(json.load(file)["sequence"], until)

    def test_followers_beyond_its_end_are_told(self):
        self.lose_some()
        server, _ = self.serve("again.ferrule")
        self.assert_told(server, 1 + BEFORE)

    def test_followers_are_told_when_it_has_grown_past_them(self):
        self.lose_some()
        server, caller = self.serve("again.ferrule")
        for number in range(100, 100 + 2 * LOST):
            caller.record(unit(number))
        self.assert_told(server, 1 + BEFORE + 2 * LOST)

    def test_followers_of_the_same_ledger_go_on(self):
        self.lose_some()
        server, caller = self.serve("depot.ferrule")
        caller.record(unit(50))
        for name in self.clients:
            done = self.follow(name, server, 2 + BEFORE + LOST)
            self.assertEqual(done.returncode, 0, done.stderr)

    def test_it_says_everywhere_which_restore_made_it(self):
        epoch = self.lose_some().strip().split("epoch ")[1]
        self.assertRegex(epoch, "^[0-9a-f]{16}$")
        again = ["--depot", self.path("again.ferrule")]
        for command in ("head", "verify"):
            self.assertIn(f", epoch {epoch}", ferruled(command, *again).stdout)
        # What it prints is an anchor all the same.
        with open(self.path("kept"), "w", encoding="ascii") as file:
            file.write(ferruled("head", *again).stdout)
        self.assertIn("1 anchor holds",
                      ferruled("verify", *again, "--anchors", self.path("kept")).stdout)
        server, _ = self.serve("again.ferrule")
        self.assertIn(f"epoch {epoch})", server.said)
        with urllib.request.urlopen(f"http://127.0.0.1:{self.metrics}/metrics",
                                    timeout=10) as answer:
            self.assertIn(f'ferrule_ledger_epoch_info{{epoch="{epoch}"}} 1', answer.read().decode())
        self.assertEqual(server.end(), 0)
        with open(self.path("log"), encoding="utf-8") as file:
            self.assertEqual(re.findall(" epoch=(.*)", file.read()), [epoch])
        ferruled("backup", *again, self.path("second.ferrule"))
        with open(self.path("second.ferrule.manifest.json"), encoding="utf-8") as file:
            self.assertEqual(json.load(file)["epoch"], epoch)
        self.assertNotIn("epoch", ferruled("head", "--depot", self.path("depot.ferrule")).stdout)


if __name__ == "__main__":
    unittest.main()
