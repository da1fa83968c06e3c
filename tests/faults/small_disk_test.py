"""Disks that fill up while a backup, a restore or a migration writes, and such work killed at any
moment."""

import own_disks  # first: it must come before threads

own_disks.own_mounts()

import hashlib
import json
import os
import random
import re
import shutil
import signal
import subprocess
import tempfile
import threading
import time
import unittest

import depot_servers
import old_versions
from caller import Caller, settings, timed_id, unit
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
        caller.settle(settings())
        for number in range(UNITS):
            what = unit(number, note="x" * 1900)
            what.entry_id = timed_id(number)  # so that a migration from before files it anew
            caller.settle(what)
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

    def old_depot(self):
        """On the small disk, of the first schema version."""
        old = os.path.join(self.folder, "old.ferrule")
        if not os.path.exists(old):
            old_versions.made_old(self.depot, 1, old)
        return shutil.copyfile(old, os.path.join(self.disk.folder, "depot.ferrule"))

    def clear(self):
        for name in self.disk.files():
            os.remove(os.path.join(self.disk.folder, name))

    def test_a_migration_that_lacks_room_says_how_much_it_needs_and_begins_nothing(self):
        refused = 0
        # With less a depot cannot even be opened.
        rooms = [left for left in [*self.rooms(), 4 * self.kib] if left >= 64]
        for left in rooms:
            with self.subTest(left):
                depot = self.old_depot()
                before = digest_of(depot)
                self.disk.leave(left)
                done = ferruled("migrate", "--depot", depot, check=False)
                if done.returncode != 0:
                    refused += 1
                    self.assertEqual(done.returncode, 4, done.stderr)
                    said = re.search(r"needs about (\d+) MiB of room in (\S+), .*and (\d+) MiB are "
                                     "free there. Make room .* Nothing was changed", done.stderr)
                    self.assertIsNotNone(said, done.stderr)
                    self.assertEqual(said.group(2), self.disk.folder)
                    self.assertGreaterEqual(int(said.group(1)) * 1024, 2 * self.kib)
                    self.assertEqual(int(said.group(3)), left // 1024)
                    self.assertEqual(self.disk.files(), ["depot.ferrule"])
                    self.assertEqual(digest_of(depot), before)
                self.disk.room()
                # What it took for enough was enough: nothing but that refusal ever stopped it.
                ferruled("migrate", "--depot", depot)
                self.assertRegex(ferruled("verify", "--depot", depot).stdout,
                                 f"^ok: {UNITS + 1} entries")
                self.clear()
        self.assertGreater(refused, 5)
        self.assertLess(refused, len(rooms))

    def fill_once_copied(self, left_kib):
        """Another program takes the room as soon as the migration has made its copy."""
        for _ in range(20_000):
            if any(re.search(r"\.backup-1-[^.]+$", name) for name in self.disk.files()):
                try:
                    self.disk.leave(left_kib)
                except OSError:  # the migration had the rest of it
                    pass
                return
            time.sleep(0.0005)

    def test_a_disk_that_others_fill_during_a_migration_leaves_what_the_next_one_finishes(self):
        stopped = cut = 0
        for left in [0, 0, 0, 0, 16, 32, 64, 64, 128, 128, *[self.kib * i // 8 for i in range(1, 7)]]:
            with self.subTest(left):
                depot = self.old_depot()
                entries = old_versions.rows(depot, "entries")
                other = threading.Thread(target=self.fill_once_copied, args=(left,))
                other.start()
                done = ferruled("migrate", "--depot", depot, check=False)
                other.join()
                self.disk.room()
                stopped += done.returncode != 0
                if old_versions.version(depot) == 1:
                    self.assertEqual(old_versions.rows(depot, "entries"), entries)
                elif done.returncode != 0:
                    # Between its steps and the work that follows them: nobody may serve it so.
                    cut += 1
                    served = ferruled("verify", "--depot", depot, check=False)
                    self.assertEqual(served.returncode, 1)
                    self.assertIn("Run: ferruled migrate", served.stderr)
                for name in self.disk.files():  # the copies it made before it began
                    if ".backup-" in name:
                        os.remove(os.path.join(self.disk.folder, name))
                ferruled("migrate", "--depot", depot)
                self.assertRegex(ferruled("verify", "--depot", depot).stdout,
                                 f"^ok: {UNITS + 1} entries")
                self.clear()
        self.assertGreater(stopped, 3)
        self.assertGreater(cut, 0)

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
        cut = left = 0
        for _ in range(15):
            cut += self.killed(chance.random() * whole_s, "backup", "--depot", self.depot, copy)
            if os.path.exists(copy + ".manifest.json"):
                self.good_backup(copy)
                os.remove(copy + ".manifest.json")
                os.remove(copy)
            left += len(self.parts())
            ferruled("backup", "--depot", self.depot, copy)
            self.good_backup(copy)
            os.remove(copy)
            os.remove(copy + ".manifest.json")
            self.assertEqual(self.parts(), [])
            cut += self.killed(chance.random() * whole_s, "restore", backup, "--depot", restored)
            if os.path.exists(restored):
                done = ferruled("verify", "--depot", restored)
                self.assertRegex(done.stdout, f"^ok: {UNITS + 1} entries")
                os.remove(restored)
            left += len(self.parts())
            ferruled("restore", backup, "--depot", restored)
            os.remove(restored)
            self.assertEqual(self.parts(), [])
        self.assertGreater(cut, 10)
        self.assertGreater(left, 5)
        self.assertRegex(ferruled("verify", "--depot", self.depot).stdout,
                         f"^ok: {UNITS + 1} entries")

    def parts(self):
        """What killed ones left in the folder."""
        return [name for name in os.listdir(self.folder) if ".part" in name]

    def written(self):
        """Whether one of them has bytes in it."""
        try:
            return any(os.path.getsize(os.path.join(self.folder, name)) for name in self.parts())
        except FileNotFoundError:
            return False

    def test_a_backup_that_stands_still_keeps_its_file(self):
        copy = os.path.join(self.folder, "copy.ferrule")
        process = None
        for _ in range(50):  # until it is caught at work
            process = subprocess.Popen([depot_servers.FERRULED, "backup", "--depot", self.depot,
                                        copy], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE,
                                       text=True)
            # With bytes in its copy it is past the opening of the depot, which locks others out.
            while process.poll() is None and not self.written():
                time.sleep(0.0005)
            os.kill(process.pid, signal.SIGSTOP)
            if self.written() and not os.path.exists(copy):
                break
            os.kill(process.pid, signal.SIGCONT)
            process.communicate()
            for name in (copy, copy + ".manifest.json"):
                os.path.exists(name) and os.remove(name)
        standing = self.parts()
        self.assertGreater(len(standing), 0)
        ferruled("backup", "--depot", self.depot, copy)
        self.assertEqual(self.parts(), standing)
        os.kill(process.pid, signal.SIGCONT)
        _, said = process.communicate(timeout=60)
        # The name is taken now; it says so and takes its own away.
        self.assertEqual(process.returncode, 1)
        self.assertIn("choose another name", said)
        self.assertEqual(self.parts(), [])
        self.good_backup(copy)

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
