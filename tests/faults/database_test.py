"""A database that lets its servers down: many who twist one ring, a disk that is full, an older copy
in its place, a copy that lagged and takes over."""

import own_disks  # first: it must come before threads

own_disks.own_mounts()

import os
import shutil
import signal
import subprocess
import tempfile
import time
import unittest

import grpc

import depot_servers
import ring
from caller import WORDS, Caller, anomalies, entry, settings, unit
from depot_servers import Postgres, Server, as_owner, ferruled, postgres_programs


class Ring(unittest.TestCase):
    def test_many_who_twist_at_once_leave_one_ring(self):
        found = ring.ring(["--seconds", "8", "--callers", "12"])
        self.assertEqual(found["wrong"], [])
        self.assertRegex(found["verify"], "^ok")
        self.assertEqual(found["deadlocks"], 0)
        # They must have been in each other's way.
        self.assertGreater(found["twists"], 30, found)
        self.assertGreater(found["refused"], 5, found)
        self.assertGreater(found["rings seen"], 30, found)


class Database(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = folder.name
        os.chmod(self.folder, 0o755)
        self.log = os.path.join(self.folder, "log")

    def postgres(self, folder=None):
        postgres = Postgres(folder)
        self.addCleanup(postgres.end)
        return postgres

    def serve(self, conninfo):
        server = Server(["--postgres", conninfo, "--create"], self.log).start()
        self.addCleanup(server.end)
        caller = Caller(server.address)
        self.addCleanup(caller.close)
        return server, caller

    # Its disk is full.

    def until_full(self, caller, acknowledged, made):
        """Records until it is refused; the number that was."""
        for number in range(5_000):
            what = made(number)
            try:
                acknowledged[what.entry_id] = caller.record(what).sequence
            except grpc.RpcError as error:
                return number, error
        self.fail("the disk never filled up")

    @staticmethod
    def large(number):
        out = unit(number)
        for _ in range(60):
            out.facts.add().CopyFrom(entry("", f"unit_moved {{ unit: 'K-{number}' to_place: "
                                           "'north-dock' }").facts[0])
            out.facts[-1].note = os.urandom(900).hex()  # which the database cannot press together
        return out

    def test_no_room_for_the_tables_is_told_and_work_goes_on_once_there_is(self):
        disk = own_disks.SmallDisk(os.path.join(self.folder, "disk"), 24 << 10)
        self.addCleanup(disk.end)
        place = os.path.join(disk.folder, "tables")
        os.makedirs(place)
        if os.geteuid() == 0:
            shutil.chown(place, "postgres")
        postgres = self.postgres()
        postgres.sql(f"CREATE TABLESPACE small LOCATION '{place}'")
        postgres.sql("CREATE DATABASE depot TABLESPACE small")
        conninfo = postgres.conninfo.replace("dbname=postgres", "dbname=depot")
        _, caller = self.serve(conninfo)
        acknowledged = {"settings": caller.record(settings()).sequence}
        disk.leave(512)
        number, error = self.until_full(caller, acknowledged,
                                        lambda number: unit(number, note=os.urandom(900).hex()))
        self.assertEqual(error.code(), grpc.StatusCode.RESOURCE_EXHAUSTED)
        self.assertIn("make room", error.details())
        self.assertGreater(number, 0)
        # Reading goes on, and so does refusing.
        self.assertEqual(caller.unit(0).name, "units/K-0")
        self.assertEqual(caller.info().head_sequence, len(acknowledged))
        with self.assertRaises(grpc.RpcError) as again:
            for more in range(50):
                what = unit(f"more-{more}", note=os.urandom(900).hex())
                acknowledged[what.entry_id] = caller.record(what).sequence
        self.assertEqual(again.exception.code(), grpc.StatusCode.RESOURCE_EXHAUSTED)
        disk.room()
        for more in range(number, number + 20):
            acknowledged[f"e-{more}"] = caller.record(unit(more, note="x" * 900)).sequence
        self.assertEqual(anomalies(caller.ledger(), acknowledged), [])
        self.assertRegex(ferruled("verify", "--postgres", conninfo).stdout,
                         f"^ok: {len(acknowledged)} entries")

    def test_no_room_for_its_log_ends_the_database_and_loses_nothing(self):
        disk = own_disks.SmallDisk(os.path.join(self.folder, "disk"), 160 << 10)
        self.addCleanup(disk.end)
        place = os.path.join(disk.folder, "pg")
        os.makedirs(place)
        postgres = self.postgres(place)
        server, caller = self.serve(postgres.conninfo)
        acknowledged = {"settings": caller.record(settings()).sequence}
        disk.leave(20 << 10)  # one more segment of its log, and not two
        number, error = self.until_full(caller, acknowledged, self.large)
        self.assertIn(error.code(), (grpc.StatusCode.UNAVAILABLE,
                                     grpc.StatusCode.RESOURCE_EXHAUSTED))
        self.assertIsNone(server.process.poll())
        disk.room()
        postgres.start_again()
        # The same server, the same entry.
        what = self.large(number)
        acknowledged[what.entry_id] = caller.settle(what, seconds=60).sequence
        for more in range(number + 1, number + 20):
            acknowledged[f"e-{more}"] = caller.settle(unit(more)).sequence
        self.assertEqual(anomalies(caller.ledger(), acknowledged), [])
        self.assertRegex(ferruled("verify", "--postgres", postgres.conninfo).stdout,
                         f"^ok: {len(acknowledged)} entries")

    # An older copy in its place.

    def snapshot(self, postgres, numbers, caller):
        """Keeps the database as it is, then records more: what it was is `old`."""
        for number in range(*numbers):
            caller.record(unit(number))
        postgres.stop()
        old = postgres.data() + ".old"
        subprocess.run(["cp", "-a", postgres.data(), old], check=True)
        postgres.start_again()
        for number in range(numbers[1], numbers[1] + 10):
            caller.settle(unit(number))
        return old

    @staticmethod
    def put_back(postgres, old):
        postgres.stop("immediate")
        shutil.rmtree(postgres.data())
        os.rename(old, postgres.data())
        postgres.start_again()

    def assert_ends(self, server):
        self.assertEqual(server.process.wait(timeout=30), 4)
        with open(self.log, encoding="utf-8") as log:
            self.assertRegex(log.read(), "which this process knows, is not in the store")

    def test_a_server_ends_when_an_older_copy_was_put_back_under_it(self):
        postgres = self.postgres()
        server, caller = self.serve(postgres.conninfo)
        old = self.snapshot(postgres, (0, 10), caller)
        self.put_back(postgres, old)
        with self.assertRaises(grpc.RpcError):
            # An answer would be one out of memory: K-15 is not there any more.
            for number in range(100, 200):
                caller.record(unit(number), timeout=5)
                time.sleep(0.05)
        self.assert_ends(server)
        # Anew it serves what is there, and whoever knows more is told.
        server.end()
        server, caller = self.serve(postgres.conninfo)
        head = caller.info().head_sequence
        self.assertEqual(head, 10)
        with self.assertRaises(grpc.RpcError) as beyond:
            next(iter(caller.channel.unary_stream(
                "/ferrule.v1.LedgerService/WatchEntries",
                request_serializer=WORDS.WatchEntriesRequest.SerializeToString)(
                    WORDS.WatchEntriesRequest(after_sequence=20), timeout=10)))
        self.assertEqual(beyond.exception.code(), grpc.StatusCode.OUT_OF_RANGE)
        # What callers still have they send again; ids keep it from counting twice.
        acknowledged = {f"e-{number}": caller.record(unit(number)).sequence for number in range(20)}
        self.assertEqual(anomalies(caller.ledger(), acknowledged), [])
        self.assertRegex(ferruled("verify", "--postgres", postgres.conninfo).stdout, "^ok: 20 ")

    def test_a_server_ends_when_others_went_on_from_an_older_copy(self):
        postgres = self.postgres()
        server, caller = self.serve(postgres.conninfo)
        old = self.snapshot(postgres, (0, 10), caller)
        os.kill(server.process.pid, signal.SIGSTOP)
        self.put_back(postgres, old)
        other, beside = self.serve(postgres.conninfo)
        for number in range(200, 230):
            beside.record(unit(number))
        # Its ledger is longer than what the first server knows, and is another one.
        os.kill(server.process.pid, signal.SIGCONT)
        self.assert_ends(server)
        server.end()
        self.assertEqual(other.end(), 0)
        self.assertRegex(ferruled("verify", "--postgres", postgres.conninfo).stdout, "^ok: 40 ")

    def test_a_copy_that_lagged_and_takes_over_ends_the_server(self):
        primary = self.postgres()
        standby_folder = tempfile.mkdtemp(prefix="ferrule-faults-pg-", dir="/tmp")
        if os.geteuid() == 0:
            shutil.chown(standby_folder, "postgres")
        words = dict(word.split("=") for word in primary.conninfo.split())
        subprocess.run(as_owner([os.path.join(postgres_programs(), "pg_basebackup"), "-h",
                                 words["host"], "-p", words["port"], "-U", "postgres", "-D",
                                 os.path.join(standby_folder, "data"), "-R", "-X", "stream", "-c",
                                 "fast"]), check=True, capture_output=True, cwd="/")
        standby = self.postgres(standby_folder)
        other = dict(word.split("=") for word in standby.conninfo.split())
        both = (f"host={words['host']},{other['host']} port={words['port']},{other['port']} "
                "user=postgres dbname=postgres target_session_attrs=read-write")
        server, caller = self.serve(both)
        for number in range(10):
            caller.record(unit(number))
        # A copy answers nobody who wants to write.
        self.wait_for(standby, 10)
        done = ferruled("serve", "--postgres", standby.conninfo +
                        " target_session_attrs=read-write", "--listen", "127.0.0.1:0", check=False)
        self.assertEqual(done.returncode, 4, done.stderr)
        # It falls behind, and the database is lost.
        standby.stop()
        for number in range(10, 20):
            caller.record(unit(number))
        primary.stop("immediate")
        standby.start_again()
        standby.promote()
        self.assert_ends(server)
        server.end()
        server, caller = self.serve(both)
        self.assertEqual(caller.info().head_sequence, 10)
        for number in range(20):
            caller.record(unit(number))
        self.assertRegex(ferruled("verify", "--postgres", both).stdout, "^ok: 20 ")

    def wait_for(self, standby, entries):
        for _ in range(200):
            found = standby.sql("SELECT count(*) FROM entries", check=False).stdout.strip()
            if found == str(entries):
                return
            time.sleep(0.1)
        self.fail("the copy does not follow")


if __name__ == "__main__":
    unittest.main()
