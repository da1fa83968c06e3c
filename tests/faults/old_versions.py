#!/usr/bin/python3 -B
"""Depots of older schema versions, made with the very statements of core/store/schema and the rows of
a depot of today; and the migration of a large one.

    old_versions.py [--facts 1000000] [--folder FOLDER] [--depot FILE] [--kills 4]

makes a synthetic depot of so many facts, or takes a copy of a closed one, gives it the first version's
schema, migrates it and prints one JSON object: how long that took, how much room it needed, and
whether the depot is whole. A second copy is migrated with kills in the middle, and must come out the
same.
"""

import argparse
import glob
import hashlib
import json
import os
import random
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time

from caller import WORDS
from depot_servers import FERRULE, FERRULED, SOURCE, ferruled, say

STEPS = sorted(glob.glob(os.path.join(SOURCE, "core/store/schema/0*.h")))
APPLICATION_ID = 0x4652524C


def last_version():
    return len(STEPS)


def statements(version, engine="Sqlite"):
    """The text that makes one version of the one before it."""
    with open(STEPS[version - 1], encoding="utf-8") as file:
        return re.search(r"char k\w+" + engine + r'\[\] = R"sql\((.*?)\)sql"', file.read(),
                         re.DOTALL).group(1)


def tables(version):
    """The tables that a step makes."""
    return re.findall(r"CREATE TABLE (\w+)", statements(version))


# From this version on entries whose ids carry a time are filed in the order of their times.
KEYS_FOLLOW_TIME = 5


def hash_key(stored):
    """What a program before that filed an entry under."""
    entry = WORDS.LedgerEntry.FromString(stored).entry
    return int.from_bytes(hashlib.sha256(entry.entry_id.encode()).digest()[:8], "big", signed=True)


def made_old(depot, old, to):
    """A file of schema version `old` with what a closed depot of today holds of it."""
    if os.path.exists(to):
        os.remove(to)
    database = sqlite3.connect(to, isolation_level=None, uri=True)
    database.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    database.execute("BEGIN")
    kept = []
    for step in range(1, old + 1):
        kept += tables(step)
        for statement in statements(step).split(";\n"):
            database.execute(statement)
    database.execute("COMMIT")
    # Closed, so nothing of it is beside the file; it is not touched.
    database.execute("ATTACH ? AS today", (f"file:{depot}?immutable=1",))
    database.execute("BEGIN")
    for table in kept:
        # What a step puts into its own tables is in the depot of today as well.
        database.execute(f"DELETE FROM main.{table}")
        database.execute(f"INSERT INTO main.{table} SELECT * FROM today.{table}")
    database.execute("DELETE FROM main.schema_migrations WHERE version > ?", (old,))
    if old < KEYS_FOLLOW_TIME:
        database.create_function("hash_key", 1, hash_key)
        database.execute("UPDATE main.entries SET entry_key = hash_key(bytes)")
    database.execute("COMMIT")
    database.execute("DETACH today")
    database.execute("PRAGMA journal_mode = WAL")
    database.close()
    return to


def made_old_database(postgres, conninfo, old):
    """The same with a database, which nobody serves: what later steps made is taken out."""
    later = [table for step in range(old + 1, last_version() + 1) for table in tables(step)]
    drop = f"DROP TABLE {', '.join(later)};" if later else ""
    postgres.sql(f"{drop} DELETE FROM schema_migrations WHERE version > {old}", conninfo)
    if old < KEYS_FOLLOW_TIME:
        postgres.sql("ALTER TABLE entries RENAME COLUMN id_key TO entry_key", conninfo)
        stored = postgres.sql("SELECT sequence, encode(bytes, 'hex') FROM entries", conninfo)
        keys = [(number, hash_key(bytes.fromhex(entry)))
                for number, entry in (line.split("|") for line in stored.stdout.split())]
        values = ", ".join(f"({number}, {key})" for number, key in keys)
        postgres.sql(f"UPDATE entries SET entry_key = v.key FROM (VALUES {values}) "
                     "v(number, key) WHERE sequence = v.number", conninfo)


def version(depot):
    return rows(depot, "schema_migrations", "max(version)")


def rows(depot, table, what="count(*)"):
    database = sqlite3.connect(f"file:{depot}?mode=ro", uri=True)
    try:
        return database.execute(f"SELECT {what} FROM {table}").fetchone()[0]
    finally:
        database.close()


def synthetic(depot, facts, units, seed=1):
    """A depot with a life behind it."""
    subprocess.run([FERRULE, "demo", depot, "--facts", str(facts), "--units", str(units), "--seed",
                    str(seed)], check=True, capture_output=True,
                   env={**os.environ, "FERRULE_DEPOT": ""})
    return depot


class Peak:
    """The most room that a depot and what is beside it took, while it looks."""

    def __init__(self, depot):
        self._files = depot + "*"
        self.bytes = 0
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._look)
        self._thread.start()

    def _look(self):
        while not self._over.wait(0.05):
            sizes = []
            for path in glob.glob(self._files):
                try:
                    sizes.append(os.path.getsize(path))
                except FileNotFoundError:
                    pass
            self.bytes = max(self.bytes, sum(sizes))

    def end(self):
        self._over.set()
        self._thread.join()


def contents(depot):
    """One digest of everything that follows from the facts and of the entries."""
    database = sqlite3.connect(f"file:{depot}?mode=ro", uri=True)
    total = hashlib.sha256()
    try:
        for query in ("SELECT sequence, digest, id_key FROM entries ORDER BY sequence",
                      "SELECT name, state FROM states ORDER BY name",
                      "SELECT sequence, digest FROM ledger_head"):
            for row in database.execute(query):
                total.update(repr(row).encode())
        return total.hexdigest()
    finally:
        database.close()


def killed_migrations(depot, entries, whole_s, kills, chance):
    """Migrates and kills it at random moments, spread over the time it takes; what each kill left.
    After each, nobody serves it half done and no entry is missing."""
    left = []
    for number in range(kills):
        process = subprocess.Popen([FERRULED, "migrate", "--depot", depot],
                                   stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(whole_s * (number + chance.random()) / kills)
        if process.poll() is not None:
            process.wait()
            left.append("was done")
            continue
        os.kill(process.pid, signal.SIGKILL)
        process.wait()
        refused = ferruled("serve", "--depot", depot, "--listen", "127.0.0.1:0", check=False,
                           timeout=60)
        if refused.returncode != 1 or "Run: ferruled migrate" not in refused.stderr:
            raise AssertionError(f"half migrated, and serving says: {refused.stderr}")
        if rows(depot, "entries") != entries:
            raise AssertionError("entries are missing")
        left.append(f"version {version(depot)}")
    return left


def migrate_large(arguments):
    parser = argparse.ArgumentParser(description="Migration of a large depot")
    parser.add_argument("--facts", type=int, default=1_000_000)
    parser.add_argument("--folder", default=None)
    parser.add_argument("--depot", default=None)
    parser.add_argument("--kills", type=int, default=4)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args(arguments)
    folder = tempfile.mkdtemp(prefix="ferrule-migrate-", dir=options.folder)
    peak = None
    try:
        today = options.depot or synthetic(os.path.join(folder, "today.ferrule"), options.facts,
                                           max(20, options.facts // 100))
        say("there is a depot")
        old = made_old(today, 1, os.path.join(folder, "old.ferrule"))
        if options.depot is None:
            os.remove(today)
        cut = shutil.copy(old, os.path.join(folder, "cut.ferrule"))
        size, entries = os.path.getsize(old), rows(old, "entries")
        say(f"gave it the first version, {size >> 20} MiB")
        peak = Peak(old)
        begun = time.monotonic()
        migrated = ferruled("migrate", "--depot", old, timeout=3600)
        took = time.monotonic() - begun
        peak.end()
        verified = ferruled("verify", "--depot", old, timeout=3600, check=False)
        say(f"migrated in {took:.1f} s; now killed {options.kills} times")
        left = killed_migrations(cut, entries, took, options.kills, random.Random(options.seed))
        ferruled("migrate", "--depot", cut, timeout=3600)
        again = ferruled("verify", "--depot", cut, timeout=3600, check=False)
        return {"facts": int(re.search(r"from (\d+) facts", migrated.stdout).group(1)),
                "mib": size >> 20, "migrate_s": round(took, 1),
                "most_room_of_its_size": round(peak.bytes / size, 2),
                "version": version(old), "verify": verified.stdout.strip() or verified.stderr,
                "killed_left": left, "after_kills": again.stdout.strip() or again.stderr,
                "parts_left": glob.glob(os.path.join(folder, "*.part*")),
                "same": contents(old) == contents(cut)}
    finally:
        if peak is not None:
            peak.end()
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    found = migrate_large(sys.argv[1:])
    print(json.dumps(found, indent=2))
    sys.exit(0 if found["verify"].startswith("ok") and found["after_kills"] == found["verify"] and
             found["same"] and not found["parts_left"] else 1)
