"""A disk that the kernel turns read-only under a served depot, and one that is so from the start."""

import own_disks  # first: it must come before threads

own_disks.own_mounts()

import os
import shutil
import tempfile
import unittest

import grpc

import depot_servers
from caller import Caller, unit
from depot_servers import ferruled


class ReadOnly(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = folder.name
        self.disk = own_disks.FailingDisk(os.path.join(folder.name, "image"),
                                          os.path.join(folder.name, "disk"))
        self.addCleanup(self.disk.end)
        self.depot = os.path.join(self.disk.folder, "depot.ferrule")
        self.log = os.path.join(folder.name, "log")

    def serve(self, depot=None):
        server = depot_servers.Server(["--depot", depot or self.depot, "--create"], self.log)
        server.start()
        self.addCleanup(server.end)
        caller = Caller(server.address)
        self.addCleanup(caller.close)
        return server, caller

    def test_what_was_acknowledged_is_on_the_disk_and_nothing_is_acknowledged_afterwards(self):
        server, caller = self.serve()
        acknowledged = {number: caller.record(unit(number)).sequence for number in range(30)}
        self.disk.fail()
        with self.assertRaises(grpc.RpcError) as failed:
            caller.record(unit(30))
        self.assertIn(failed.exception.code(),
                      (grpc.StatusCode.UNAVAILABLE, grpc.StatusCode.INTERNAL))
        # Whether the commit holds is not known, so the process ends and says why.
        self.assertEqual(server.process.wait(timeout=20), 4)
        with open(self.log, encoding="utf-8") as log:
            self.assertRegex(log.read(), "outcome is not known.*Check the disk")
        self.starting_there_names_the_cause()
        # The files read as ever: copied to a good disk they are the depot.
        good = os.path.join(self.folder, "good.ferrule")
        for suffix in ("", "-wal"):
            shutil.copy(self.depot + suffix, good + suffix)
        server, caller = self.serve(good)
        for number in range(31):
            receipt = caller.record(unit(number))
            if number in acknowledged:
                self.assertTrue(receipt.repeated, f"{number} was acknowledged and is lost")
                self.assertEqual(receipt.sequence, acknowledged[number])
        self.assertEqual(server.end(), 0)
        self.assertRegex(ferruled("verify", "--depot", good).stdout, "^ok: 31 entries")

    def starting_there_names_the_cause(self):
        for command in ("serve", "verify", "rebuild", "head"):
            with self.subTest(command):
                more = ["--listen", "127.0.0.1:0"] if command == "serve" else []
                done = ferruled(command, "--depot", self.depot, *more, check=False, timeout=20)
                self.assertEqual(done.returncode, 1, done.stderr)
                self.assertRegex(done.stderr, "Read-only file system.*must be writable")

    def test_a_new_depot_on_a_read_only_disk_is_refused_with_the_cause(self):
        self.disk.fail()
        done = ferruled("serve", "--depot", self.depot, "--create", "--listen", "127.0.0.1:0",
                        check=False, timeout=20)
        self.assertEqual(done.returncode, 1, done.stderr)
        self.assertRegex(done.stderr, "Read-only file system")
        self.assertEqual(os.listdir(self.disk.folder), ["lost+found"])

    def test_a_depot_file_that_may_not_be_written_is_refused_and_left_alone(self):
        # Modes do not bind root, but this attribute of ext4 does.
        server, caller = self.serve()
        caller.record(unit(1))
        self.assertEqual(server.end(), 0)
        with open(self.depot, "rb") as file:
            before = file.read()
        depot_servers.subprocess.run(["chattr", "+i", self.depot], check=True)
        self.addCleanup(depot_servers.subprocess.run, ["chattr", "-i", self.depot], check=False)
        done = ferruled("serve", "--depot", self.depot, "--listen", "127.0.0.1:0", check=False,
                        timeout=20)
        self.assertEqual(done.returncode, 1, done.stderr)
        self.assertRegex(done.stderr, "must be writable")
        with open(self.depot, "rb") as file:
            self.assertEqual(file.read(), before)


if __name__ == "__main__":
    unittest.main()
