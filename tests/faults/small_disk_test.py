"""Disks that fill up while a backup, a restore or a migration writes, and such work killed at any
moment."""

import own_disks  # first: it must come before threads

own_disks.own_mounts()

import hashlib
import json
import os
import random
import signal
import subprocess
import tempfile
import time
import unittest

import depot_servers
import old_versions
from caller import Caller, settings, unit
from depot_servers import ferruled

UNITS = 300


def digest_of(path):
    with open(path, "rb") as file:
        return hashlib.sha256(file.read()).hexdigest()


class SmallDisk(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = folder.name
        self.depot = os.path.join(self.folder, "depot.ferrule")
        self.make()
        self.kib = os.path.getsize(self.depot) // 1024
        self.disk = own_disks.SmallDisk(os.path.join(self.folder, "disk"), 4 * self.kib + 4096)
        self.addCleanup(self.disk.end)

    def make(self):
        server = depot_servers.Server(["--depot", self.depot, "--create"],
                                      os.path.join(self.folder, "log")).start()
        self.addCleanup(server.end)
        caller = Caller(server.address)
        caller.record(settings())
        for number in range(UNITS):
            caller.record(unit(number, note="x" * 1900))
        caller.close()
        self.assertEqual(server.end(), 0)

    def no_room(self, left_kib, *command):
        """Runs it with so much room; whether it was refused for want of room."""
        self.disk.leave(left_kib)
        done = ferruled(*command, check=False)
        self.disk.room()
        if done.returncode == 0:
            return False
        self.assertRegex(done.stderr, "full|No space left on device")
        self.assertRegex(done.stderr, "[Mm]ake room|before going on")
        # SQLite's own index file does not say that it was room that it lacked.
        self.assertEqual(done.returncode, 1 if "failed or is full" in done.stderr else 4,
                         done.stderr)
        return True

    def rooms(self):
        """From none to enough, in steps that end in every part of the work."""
        return [0, 4, 64] + [self.kib * i // 8 for i in range(1, 17)]

    def test_a_backup_without_room_leaves_nothing_and_the_depot_alone(self):
        before = digest_of(self.depot)
        copy = os.path.join(self.disk.folder, "copy.ferrule")
        refused = 0
        for left in self.rooms():
            with self.subTest(left):
                if self.no_room(left, "backup", "--depot", self.depot, copy):
                    refused += 1
                    self.assertEqual(self.disk.files(), [])
                else:
                    self.good_backup(copy)
                    os.remove(copy)
                    os.remove(copy + ".manifest.json")
                self.assertEqual(digest_of(self.depot), before)
        self.assertGreater(refused, 5)
        self.assertLess(refused, len(self.rooms()))

    def test_a_served_depot_is_backed_up_once_there_is_room(self):
        server = depot_servers.Server(["--depot", self.depot], os.path.join(self.folder, "log2"))
        server.start()
        self.addCleanup(server.end)
        caller = Caller(server.address)
        self.addCleanup(caller.close)
        copy = os.path.join(self.disk.folder, "copy.ferrule")
        self.assertTrue(self.no_room(self.kib // 2, "backup", "--depot", self.depot, copy))
        self.assertEqual(self.disk.files(), [])
        caller.record(unit(UNITS))
        self.assertFalse(self.no_room(3 * self.kib, "backup", "--depot", self.depot, copy))
        self.good_backup(copy, UNITS + 2)

    def test_a_restore_without_room_leaves_nothing_and_the_backup_alone(self):
        backup = os.path.join(self.folder, "backup.ferrule")
        ferruled("backup", "--depot", self.depot, backup)
        before = digest_of(backup)
        restored = os.path.join(self.disk.folder, "restored.ferrule")
        refused = 0
        for left in self.rooms():
            with self.subTest(left):
                if self.no_room(left, "restore", backup, "--depot", restored):
                    refused += 1
                    self.assertEqual(self.disk.files(), [])
                else:
                    self.assertEqual(self.disk.files(), ["restored.ferrule"])
                    os.remove(restored)
                self.assertEqual(digest_of(backup), before)
        self.assertGreater(refused, 5)
        self.assertLess(refused, len(self.rooms()))

    def test_a_migration_without_room_leaves_the_old_version_and_the_next_one_finishes(self):
        old = old_versions.made_old(self.depot, 1, os.path.join(self.folder, "old.ferrule"))
        refused = cut = 0
        for left in [*self.rooms(), 4 * self.kib]:
            with self.subTest(left):
                depot = os.path.join(self.disk.folder, "depot.ferrule")
                with open(old, "rb") as source, open(depot, "wb") as target:
                    target.write(source.read())
                short = self.no_room(left, "migrate", "--depot", depot)
                refused += short
                if old_versions.version(depot) == 1:
                    self.assertEqual(old_versions.rows(depot, "entries"),
                                     old_versions.rows(old, "entries"))
                elif short:
                    # Between its steps and the work that follows them: nobody may serve it so.
                    cut += 1
                    done = ferruled("verify", "--depot", depot, check=False)
                    self.assertEqual(done.returncode, 1)
                    self.assertIn("Run: ferruled migrate", done.stderr)
                for name in self.disk.files():  # the copies it made before it began
                    if ".backup-" in name:
                        os.remove(os.path.join(self.disk.folder, name))
                ferruled("migrate", "--depot", depot)
                self.assertRegex(ferruled("verify", "--depot", depot).stdout,
                                 f"^ok: {UNITS + 1} entries")
                for name in self.disk.files():
                    os.remove(os.path.join(self.disk.folder, name))
        self.assertGreater(cut, 0)
        self.assertGreater(refused, 5)

    def good_backup(self, copy, entries=UNITS + 1):
        with open(copy + ".manifest.json", encoding="utf-8") as file:
            manifest = json.load(file)
        self.assertEqual(manifest["sha256"], digest_of(copy))
        self.assertEqual(manifest["head_sequence"], entries)

    def test_backups_and_restores_killed_at_any_moment(self):
        chance = random.Random(7)
        copy = os.path.join(self.folder, "killed.ferrule")
        begun = time.monotonic()
        ferruled("backup", "--depot", self.depot, copy)
        whole_s = time.monotonic() - begun
        os.remove(copy)
        os.remove(copy + ".manifest.json")
        restored = os.path.join(self.folder, "restored.ferrule")
        backup = os.path.join(self.folder, "backup.ferrule")
        ferruled("backup", "--depot", self.depot, backup)
        cut = 0
        for _ in range(15):
            cut += self.killed(chance.random() * whole_s, "backup", "--depot", self.depot, copy)
            if os.path.exists(copy + ".manifest.json"):
                self.good_backup(copy)
                os.remove(copy + ".manifest.json")
            if os.path.exists(copy):
                os.remove(copy)
            cut += self.killed(chance.random() * whole_s, "restore", backup, "--depot", restored)
            if os.path.exists(restored):
                done = ferruled("verify", "--depot", restored)
                self.assertRegex(done.stdout, f"^ok: {UNITS + 1} entries")
                os.remove(restored)
        self.assertGreater(cut, 10)
        self.assertRegex(ferruled("verify", "--depot", self.depot).stdout,
                         f"^ok: {UNITS + 1} entries")

    @staticmethod
    def killed(after_s, *command):
        """Starts it and kills it after a while; whether it was still at work."""
        process = subprocess.Popen([depot_servers.FERRULED, *command], stdout=subprocess.DEVNULL,
                                   stderr=subprocess.DEVNULL)
        time.sleep(after_s)
        was = process.poll() is None
        if was:
            os.kill(process.pid, signal.SIGKILL)
        process.wait()
        return was


if __name__ == "__main__":
    unittest.main()
