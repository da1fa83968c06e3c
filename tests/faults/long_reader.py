#!/usr/bin/python3 -B
"""A reader that holds on to what it saw while callers record: the write-ahead log cannot be taken in
past it. Meanwhile everybody is served; afterwards the log is short again. Taking in a log of gigabytes
holds up who records: how long at most is part of the answer, and nothing may be lost by it.

    long_reader.py [--seconds 600]

Prints one JSON object; exit code 0 only when all of that held.
"""

import argparse
import contextlib
import json
import os
import random
import sqlite3
import sys
import tempfile
import threading
import time
import urllib.request

import grpc

from caller import Caller, anomalies, settings, unit
from depot_servers import Server, ferruled, free_port

LOG_LIMIT = 64 << 20  # to which the server cuts the log once it is taken in


def log_bytes(metrics):
    # The disk of a busy machine may stand still for a while.
    with urllib.request.urlopen(f"http://127.0.0.1:{metrics}/metrics", timeout=120) as answer:
        for line in answer.read().decode().splitlines():
            if line.startswith('ferrule_depot_bytes{file="log"}'):
                return int(float(line.split()[-1]))
    raise RuntimeError("the figures do not have the log's length")


class Load:
    """Callers who record as fast as they are answered."""

    def __init__(self, address, callers=4):
        self.acknowledged, self.failed, self.times = {}, [], []
        self.repeats, self.longest_read = 0, 0.0
        self._over = threading.Event()
        self._threads = [threading.Thread(target=self._calls, args=(address, i))
                         for i in range(callers)]
        for thread in self._threads:
            thread.start()

    def _calls(self, address, number):
        caller, count = Caller(address), 0
        chance = random.Random(number)
        while not self._over.is_set():
            count += 1
            what = unit(f"{number}-{count}", note="x" * 1900)
            begun = time.monotonic()
            try:
                # A caller who got no answer in time asks again, under the same id.
                self.acknowledged[what.entry_id] = caller.settle(what, 600, timeout=20).sequence
                recorded = time.monotonic()
                caller.unit(f"{number}-{chance.randrange(count) + 1}")
            except grpc.RpcError as error:
                self.failed.append(f"{error.code()}: {error.details()}")
                recorded = begun
            self.times.append(time.monotonic() - begun)
            self.longest_read = max(self.longest_read, time.monotonic() - recorded)
        self.repeats += caller.repeats
        caller.close()

    def end(self):
        self._over.set()
        for thread in self._threads:
            thread.join()


def long_reader(seconds):
    with tempfile.TemporaryDirectory(prefix="ferrule-reader-") as folder:
        depot = os.path.join(folder, "depot.ferrule")
        metrics = free_port()
        server = Server(["--depot", depot, "--create"], os.path.join(folder, "log"), "--metrics",
                        f"127.0.0.1:{metrics}").start()
        try:
            ending = contextlib.ExitStack()
            caller = Caller(server.address)
            caller.record(settings())
            load = Load(server.address)
            ending.callback(load.end)
            time.sleep(1)
            # Another process' reader, as a backup is one: it may stand beside the server, which alone
            # writes and takes the log in.
            reader = sqlite3.connect(f"file:{depot}?mode=ro", uri=True, isolation_level=None)
            reader.execute("BEGIN")
            seen = reader.execute("SELECT count(*) FROM entries").fetchone()[0]
            sizes = []
            until = time.monotonic() + seconds
            while time.monotonic() < until:
                time.sleep(min(1, seconds / 10))
                sizes.append(log_bytes(metrics))
            still = reader.execute("SELECT count(*) FROM entries").fetchone()[0]
            during = len(load.times)
            reader.execute("COMMIT")
            reader.close()
            # The log is taken in beside the next commits, one of which begins it anew.
            time.sleep(2)
            load.end()
            number, patience = 0, time.monotonic() + 300
            while (after := log_bytes(metrics)) > 2 * LOG_LIMIT and time.monotonic() < patience:
                number += 1
                caller.settle(unit(f"after-{number}", note="x" * 1900), 600, timeout=20)
            wrong = anomalies(caller.ledger(), load.acknowledged)
            caller.close()
        finally:
            ending.close()
            code = server.end(within_s=600)
        verified = ferruled("verify", "--depot", depot, check=False).stdout.strip()
        left = os.path.exists(depot + "-wal")
    times = sorted(load.times[:during])
    return {"seconds": seconds, "entries": len(load.acknowledged), "reader_saw": [seen, still],
            "log_mib_while_read": max(sizes) >> 20, "log_mib_after": round(after / (1 << 20), 1),
            "record_and_read_p99_ms": round(1000 * times[len(times) * 99 // 100], 1),
            "longest_wait_s": [round(max(load.times[:during]), 1),
                               round(max(load.times[during:], default=0), 1)],
            "longest_read_s": round(load.longest_read, 1), "sent_again": load.repeats,
            "failed": load.failed[:5], "wrong": wrong[:5], "exit_code": code, "verify": verified,
            "log_left_when_ended": left}


def main():
    parser = argparse.ArgumentParser(description="A long reader")
    parser.add_argument("--seconds", type=float, default=600)
    found = long_reader(parser.parse_args().seconds)
    print(json.dumps(found, indent=2))
    good = (not found["failed"] and not found["wrong"] and found["verify"].startswith("ok") and
            found["log_mib_after"] <= 2 * LOG_LIMIT / (1 << 20) and not found["log_left_when_ended"]
            and found["reader_saw"][0] == found["reader_saw"][1])
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
