"""A depot of every older schema version, on both engines: refused until it is migrated, then the same
entries, digests, states, repeats, refusals and feed as before."""

import os
import shutil
import tempfile
import unittest

import grpc

import depot_servers
import old_versions
from caller import Caller, entry, settings, timed_id, unit
from depot_servers import ferruled

OLDER = range(1, old_versions.last_version())


def history(caller):
    """A small life: units, an order, holds, a refusal, and a repeat of each."""
    sent = [settings(), *(unit(number) for number in range(20)),
            entry("order", "order_taken { order: 'R-1' details { patient: 'P-1' prescriber: 'D-1' "
                  "branch: 'north' device_class: 'knee' side: SIDE_LEFT } }"),
            entry("hold", "unit_held_for_order { unit: 'K-1' order: 'R-1' firm: true }"),
            entry("late", "unit_moved { unit: 'K-2' to_place: 'north-bench' }", at=1_772_400_000),
            entry("many", *(f"unit_moved {{ unit: 'K-{i}' to_place: 'north-bench' }}"
                            for i in range(20))),
            *(entry(timed_id(i), f"unit_moved {{ unit: 'K-{i}' to_place: 'north-dock' }}")
              for i in range(10))]
    for what in sent:
        caller.record(what)
    return sent, entry("refused", "unit_held_for_order { unit: 'K-1' order: 'R-2' firm: true }",
                       enforced=True)


def refusal(caller, what):
    try:
        caller.record(what)
    except grpc.RpcError as error:
        return error.code(), error.details()
    return None


def everything(caller, sent, refused):
    """What a caller can see of a depot, in a form that can be compared."""
    info = caller.info()
    receipts = [caller.record(what) for what in sent]
    if not all(receipt.repeated for receipt in receipts):
        raise AssertionError("an entry was recorded a second time")
    states = [caller.unit(number).SerializeToString(deterministic=True) for number in range(20)]
    return (info.head_sequence, info.head_digest,
            [receipt.SerializeToString(deterministic=True) for receipt in receipts],
            refusal(caller, refused), states,
            [part.SerializeToString(deterministic=True) for part in caller.ledger()])


class OldVersions(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = folder.name
        self.today = os.path.join(self.folder, "today.ferrule")

    def serve(self, *store):
        server = depot_servers.Server(store, os.path.join(self.folder, "log")).start()
        self.addCleanup(server.end)
        caller = Caller(server.address)

        def end():
            caller.close()
            self.assertEqual(server.end(), 0)
        return caller, end

    def assert_refused(self, *store):
        done = ferruled("serve", *store, "--listen", "127.0.0.1:0", check=False, timeout=20)
        self.assertEqual(done.returncode, 1, done.stderr)
        self.assertRegex(done.stderr, "schema version .*Run: ferruled migrate")

    def test_every_older_file_is_the_same_depot_after_its_migration(self):
        caller, end = self.serve("--depot", self.today, "--create")
        sent, refused = history(caller)
        before = everything(caller, sent, refused)
        self.assertIsNotNone(before[3])
        end()
        for old in OLDER:
            with self.subTest(version=old):
                depot = old_versions.made_old(self.today, old,
                                              os.path.join(self.folder, f"v{old}.ferrule"))
                with open(depot, "rb") as file:
                    bytes_before = file.read()
                self.assert_refused("--depot", depot)
                with open(depot, "rb") as file:
                    self.assertEqual(file.read(), bytes_before)
                done = ferruled("migrate", "--depot", depot)
                self.assertIn(f"migrated from schema version {old} to "
                              f"{old_versions.last_version()}", done.stdout)
                self.assert_same(("--depot", depot), before, sent, refused)
                self.assertRegex(ferruled("verify", "--depot", depot).stdout,
                                 f"^ok: {before[0] + 1} entries")

    def test_every_older_database_is_the_same_depot_after_its_migration(self):
        postgres = depot_servers.Postgres()
        self.addCleanup(postgres.end)
        caller, end = self.serve("--postgres", postgres.conninfo, "--create")
        sent, refused = history(caller)
        before = everything(caller, sent, refused)
        end()
        for old in OLDER:
            with self.subTest(version=old):
                postgres.sql(f"CREATE DATABASE v{old} TEMPLATE postgres")
                conninfo = postgres.conninfo.replace("dbname=postgres", f"dbname=v{old}")
                old_versions.made_old_database(postgres, conninfo, old)
                self.assert_refused("--postgres", conninfo)
                self.assertEqual(ferruled("migrate", "--postgres", conninfo,
                                          check=False).returncode, 1)  # it asks for a pg_dump first
                ferruled("migrate", "--postgres", conninfo, "--backed-up")
                self.assert_same(("--postgres", conninfo), before, sent, refused)
                self.assertRegex(ferruled("verify", "--postgres", conninfo).stdout,
                                 f"^ok: {before[0] + 1} entries")

    def assert_same(self, store, before, sent, refused):
        caller, end = self.serve(*store)
        self.assertEqual(everything(caller, sent, refused), before)
        self.assertEqual(caller.record(unit("new")).sequence, before[0] + 1)
        end()

    def test_a_synthetic_life_survives_the_migration_from_the_first_version(self):
        old_versions.synthetic(self.today, facts=3000, units=40)
        depot = old_versions.made_old(self.today, 1, os.path.join(self.folder, "v1.ferrule"))
        ferruled("migrate", "--depot", depot)
        self.assertEqual(ferruled("verify", "--depot", depot).stdout,
                         ferruled("verify", "--depot", self.today).stdout)
        self.assertEqual(ferruled("head", "--depot", depot).stdout,
                         ferruled("head", "--depot", self.today).stdout)
        # Spans are a table of the second version: they came out of the facts.
        self.assertGreater(old_versions.rows(depot, "intervals"), 100)
        self.assertEqual(old_versions.rows(depot, "intervals"),
                         old_versions.rows(self.today, "intervals"))

    def test_the_copy_that_a_migration_keeps_is_the_old_depot(self):
        caller, end = self.serve("--depot", self.today, "--create")
        history(caller)
        end()
        depot = old_versions.made_old(self.today, 1, os.path.join(self.folder, "v1.ferrule"))
        ferruled("migrate", "--depot", depot)
        (copy,) = [name for name in os.listdir(self.folder) if ".backup-1-" in name]
        copy = os.path.join(self.folder, copy)
        self.assertEqual(old_versions.version(copy), 1)
        again = os.path.join(self.folder, "again.ferrule")
        shutil.copy(copy, again)
        ferruled("migrate", "--depot", again)
        self.assertEqual(ferruled("head", "--depot", again).stdout,
                         ferruled("head", "--depot", depot).stdout)


if __name__ == "__main__":
    unittest.main()
