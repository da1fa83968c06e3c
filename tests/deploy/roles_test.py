"""deploy/postgres-roles.sql on a real PostgreSQL: who serves cannot change what was recorded."""

import os
import sys
import tempfile
import unittest

SOURCE = os.environ["FERRULE_SOURCE_DIR"]
sys.path.insert(0, os.path.join(SOURCE, "tests/faults"))
import subprocess  # pylint: disable=wrong-import-position

import depot_servers  # pylint: disable=wrong-import-position

ROLES = os.path.join(SOURCE, "deploy/postgres-roles.sql")


class Roles(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.postgres = depot_servers.Postgres()
        cls.addClassCleanup(cls.postgres.end)
        base = cls.postgres.conninfo.replace("user=postgres", "user={}").replace(
            "dbname=postgres", "dbname=depot") + " options='-c search_path=ferrule'"
        cls.postgres.sql("CREATE DATABASE depot ENCODING 'UTF8'")
        cls.admin = cls.postgres.conninfo.replace("dbname=postgres", "dbname=depot")
        cls.owner, cls.writer, cls.reader = (
            base.format(role) for role in ("ferrule_owner", "ferrule_writer", "ferrule_reader"))
        cls.set_up_roles()
        depot_servers.ferruled("migrate", "--postgres", cls.owner)
        cls.set_up_roles()
        folder = tempfile.TemporaryDirectory()
        cls.addClassCleanup(folder.cleanup)
        cls.server = depot_servers.Server(["--postgres", cls.writer],
                                          os.path.join(folder.name, "log")).start()
        cls.addClassCleanup(cls.server.end)
        environment = {**os.environ, "FERRULE_ACTOR": "tech", "FERRULE_BRANCH": "north"}
        settings = os.path.join(SOURCE, "tests/data/settings.textproto")
        for words in (["settings", "apply", settings, "--from", "2026-03-01"],
                      ["add-unit", "K-1", "knee-a", "north-dock"],
                      ["move", "K-1", "north-bench"]):
            done = subprocess.run([depot_servers.FERRULE, "--server", cls.server.address, *words],
                                  env=environment, capture_output=True, text=True, timeout=60)
            if done.returncode != 0:
                raise AssertionError(done.stdout + done.stderr)

    @classmethod
    def set_up_roles(cls):
        subprocess.run(["psql", "-X", "-q", "-v", "ON_ERROR_STOP=1", "-d", cls.admin, "-f", ROLES],
                       check=True, capture_output=True, text=True)

    def refused(self, conninfo, statement):
        done = self.postgres.sql(statement, conninfo, check=False)
        self.assertNotEqual(done.returncode, 0, statement)
        self.assertRegex(done.stderr, "permission denied|must be owner", statement)

    def test_who_serves_can_neither_change_nor_delete_what_was_recorded(self):
        for table in ("entries", "refusals", "fact_subjects"):
            self.refused(self.writer, f"UPDATE {table} SET sequence = sequence" if table !=
                         "refusals" else "UPDATE refusals SET recorded_us = 0")
            self.refused(self.writer, f"DELETE FROM {table}")
            self.refused(self.writer, f"TRUNCATE {table}")
            self.refused(self.writer, f"DROP TABLE {table}")
            self.refused(self.writer, f"ALTER TABLE {table} ADD COLUMN x int")
            self.refused(self.writer, f"CREATE INDEX sly ON {table} (recorded_us)")
        self.refused(self.writer, "DELETE FROM ledger_head")
        self.refused(self.writer, "INSERT INTO schema_migrations VALUES (99, 0, 'x')")
        self.refused(self.writer, "CREATE TABLE ferrule.mine (x int)")
        self.refused(self.writer, "CREATE TABLE public.mine (x int)")
        self.refused(self.writer, "CREATE FUNCTION ferrule.f() RETURNS int LANGUAGE sql AS 'SELECT 1'")

    def test_who_looks_changes_nothing_and_sees_no_message(self):
        for statement in ("INSERT INTO entries VALUES (99, 0, 0, '', '', NULL)",
                          "UPDATE states SET custody = 1", "DELETE FROM intervals",
                          "UPDATE ledger_head SET sequence = 0", "SELECT * FROM messages",
                          "SELECT * FROM intake_secret"):
            self.refused(self.reader, statement)
        self.assertEqual(self.postgres.sql("SELECT count(*) FROM entries", self.reader).stdout.strip(),
                         "3")

    def test_the_roles_are_enough_to_serve_and_to_verify(self):
        done = depot_servers.ferruled("verify", "--postgres", self.reader)
        self.assertRegex(done.stdout, "^ok: 3 entries")
        self.assertEqual(self.postgres.sql("SELECT max(sequence) FROM entries", self.reader)
                         .stdout.strip(), "3")

    def test_others_see_nothing(self):
        self.postgres.sql("CREATE ROLE stranger LOGIN")
        stranger = self.writer.replace("ferrule_writer", "stranger")
        done = self.postgres.sql("SELECT count(*) FROM ferrule.entries", stranger, check=False)
        self.assertIn("permission denied", done.stderr)


if __name__ == "__main__":
    unittest.main()
