#!/usr/bin/python3 -B
"""Three ferruled on one PostgreSQL; one of them is killed every so often, and the database restarted
as after a crash, under callers who record, hold and read. Afterwards every caller's history is held
against the ledger.

    cluster_storm.py [--seconds 300] [--callers 32] [--kill-every 2] [--restart-every 10] [--seed N]

Prints one JSON object; exit code 0 only when nothing was out of order:

  lost        an acknowledged entry is not in the ledger, or at another position
  doubled     an entry is there twice, or a refused one is there
  half        an entry lacks facts, or the states are not what the facts give (ferruled verify)
  broken      one unit was promised firmly to two orders at once
  stale       a caller read less than it had been told was recorded
  feed        a watcher saw a gap, a repeat, or another entry than the ledger has
  unresolved  an outcome stayed unknown although the caller asked again
"""

import argparse
import collections
import json
import os
import random
import shutil
import sys
import tempfile
import threading
import time

import grpc
from google.protobuf import text_format

from caller import CHANNEL, SETTINGS, START_S, UNKNOWN
from depot_servers import Postgres, Server, Words, ferruled, say

UNITS = 24
SERVERS = 3
REFUSED = {grpc.StatusCode.FAILED_PRECONDITION, grpc.StatusCode.NOT_FOUND}


class Storm:
    def __init__(self, options):
        self.options = options
        self.words = Words()
        self.folder = tempfile.mkdtemp(prefix="ferrule-cluster-")
        self.postgres = Postgres()
        store = ["--postgres", self.postgres.conninfo, "--create"]
        self.servers = [Server(store, os.path.join(self.folder, f"server-{i}.log"))
                        for i in range(SERVERS)]
        self.stop = threading.Event()
        self.calm = threading.Event()  # the faults are over
        self.lock = threading.Lock()
        self.anomalies = collections.Counter()
        self.examples = []
        self.outcomes = collections.Counter()
        self.known = {}      # entry id: sequence, or None when it was refused
        self.sent = {}       # entry id: number of facts
        self.latencies = []
        self.feeds = []
        self.resolved = collections.Counter()
        self.kills = self.restarts = 0

    def anomaly(self, kind, what):
        with self.lock:
            self.anomalies[kind] += 1
            if len(self.examples) < 20:
                self.examples.append(f"{kind}: {what}")

    def entry(self, entry_id, *facts, enforced=False):
        entry = self.words.Entry(entry_id=entry_id, actor="storm", channel="test")
        text_format.Parse("mode: ENTRY_MODE_" + ("ENFORCED" if enforced else "OBSERVED"), entry)
        for fact in facts:
            text_format.Parse(fact, entry.facts.add())
            # All at one instant: what is folded in the order of the ledger can be held against it.
            entry.facts[-1].happened_time.seconds = START_S
        return entry

    # Ways to a server.

    def stubs(self):
        """Channels of one caller, one for each server."""
        return [grpc.insecure_channel(server.address, options=CHANNEL) for server in self.servers]

    def call(self, channel, method, request, answer, timeout=5):
        return channel.unary_unary(
            "/ferrule.v1." + method, request_serializer=request.__class__.SerializeToString,
            response_deserializer=answer.FromString)(request, timeout=timeout)

    def record(self, chance, channels, entry):
        """Sends an entry until its outcome is known; its sequence, or None when refused."""
        self.sent[entry.entry_id] = len(entry.facts)
        request = self.words.RecordRequest(entry=entry)
        tries = 0
        deadline = time.monotonic() + 90
        while True:
            tries += 1
            begun = time.monotonic()
            try:
                receipt = self.call(chance.choice(channels), "LedgerService/Record", request,
                                    self.words.RecordResponse).receipt
            except grpc.RpcError as error:
                code = error.code()
                if code in UNKNOWN:
                    with self.lock:
                        self.outcomes["unknown"] += 1
                    if time.monotonic() > deadline:
                        self.anomaly("unresolved", f"{entry.entry_id}: {error.details()}")
                        return None
                    time.sleep(min(0.02 * 2 ** min(tries, 5), 0.5) * chance.random())
                    continue
                if code not in REFUSED:
                    self.anomaly("code", f"{entry.entry_id}: {code} {error.details()}")
                outcome = None
            else:
                outcome = receipt.sequence
                if receipt.repeated and tries == 1:
                    self.anomaly("doubled", f"{entry.entry_id} was never sent and is a repeat")
            with self.lock:
                self.outcomes["recorded" if outcome else "refused"] += 1
                if tries > 1:
                    self.resolved["found done" if outcome and receipt.repeated else "done anew"] += 1
                self.latencies.append(time.monotonic() - begun)
                self.known[entry.entry_id] = outcome
            return outcome

    # What callers do.

    def append(self, chance, channels, name):
        unit = chance.randrange(UNITS)
        self.record(chance, channels, self.entry(
            name, f"hold_placed {{ unit: 'K-{unit}' kind: HOLD_KIND_OTHER reason: '{name}' }}",
            f"unit_moved {{ unit: 'K-{(unit + 1) % UNITS}' to_place: 'north-bench' }}",
            f"hold_lifted {{ unit: 'K-{unit}' kind: HOLD_KIND_OTHER outcome: '{name}' }}"))

    def hold(self, chance, channels, name, order):
        """Takes a unit for the caller's order, looks whether others see it, gives it back."""
        unit = f"K-{chance.randrange(4)}"
        taken = self.record(chance, channels, self.entry(
            name + "-take", f"unit_held_for_order {{ unit: '{unit}' order: '{order}' firm: true }}",
            enforced=True))
        if taken is None:
            return
        request = self.words.GetUnitRequest(name="units/" + unit)
        try:
            state = self.call(chance.choice(channels), "DepotService/GetUnit", request,
                              self.words.GetUnitResponse).state
        except grpc.RpcError as error:
            if error.code() not in UNKNOWN:
                self.anomaly("code", f"GetUnit: {error.code()} {error.details()}")
        else:
            if state.unit.order != order:
                self.anomaly("stale", f"{unit} was taken for {order} at {taken}, a server says "
                             f"'{state.unit.order}'")
        self.record(chance, channels, self.entry(
            name + "-give", f"order_hold_released {{ unit: '{unit}' order: '{order}' }}",
            enforced=True))

    def caller(self, number):
        chance = random.Random(f"{self.options.seed}-{number}")
        channels = self.stubs()
        count = 0
        while not self.stop.is_set():
            count += 1
            name = f"c{number}-{count}"
            if chance.random() < 0.4:
                self.hold(chance, channels, name, f"R-{number}")
            else:
                self.append(chance, channels, name)
        for channel in channels:
            channel.close()

    def watcher(self, number):
        """Follows the feed from whichever server is there, from where it was."""
        chance = random.Random(f"watch-{self.options.seed}-{number}")
        channels = self.stubs()
        seen = []
        self.feeds.append(seen)
        answer = self.words.WatchEntriesResponse
        while not (self.calm.is_set() and len(seen) >= self.head):
            call = chance.choice(channels).unary_stream(
                "/ferrule.v1.LedgerService/WatchEntries",
                request_serializer=self.words.WatchEntriesRequest.SerializeToString,
                response_deserializer=answer.FromString)(
                    self.words.WatchEntriesRequest(after_sequence=len(seen)), timeout=8)
            try:
                for part in call:
                    for recorded in part.entries:
                        if recorded.sequence != len(seen) + 1:
                            self.anomaly("feed", f"{recorded.sequence} came after {len(seen)}")
                        seen.append(recorded.entry.entry_id)
                    if self.calm.is_set() and len(seen) >= self.head:
                        call.cancel()
                        break
            except grpc.RpcError as error:
                if error.code() not in UNKNOWN:
                    self.anomaly("feed", f"{error.code()} {error.details()}")
                time.sleep(0.1)
        for channel in channels:
            channel.close()

    head = float("inf")

    # The faults.

    def killer(self):
        chance = random.Random(f"kill-{self.options.seed}")
        while not self.calm.wait(self.options.kill_every):
            server = chance.choice(self.servers)
            server.kill()
            self.kills += 1
            self.revive(server)

    def revive(self, server):
        """Starts it again; it may have to try while the database is away."""
        for _ in range(100):
            try:
                server.start()
                return
            except (RuntimeError, OSError):
                time.sleep(0.2)
        self.anomaly("unresolved", f"{server.address} does not start any more")

    def restarter(self):
        while not self.calm.wait(self.options.restart_every):
            self.postgres.restart()
            self.restarts += 1

    # The whole.

    def prepare(self):
        for server in self.servers:
            server.start()
        channels = self.stubs()
        chance = random.Random(0)
        settings = f"settings_put {{ settings {{ {SETTINGS} }} from_time {{ seconds: 1767225600 }} }}"
        self.record(chance, channels, self.entry("settings", settings))
        for unit in range(UNITS):
            self.record(chance, channels, self.entry(
                f"receive-{unit}", f"unit_received {{ unit: 'K-{unit}' model: 'knee-a' "
                "place: 'north-dock' side: SIDE_LEFT }"))
        for order in range(self.options.callers):
            self.record(chance, channels, self.entry(
                f"order-{order}", f"order_taken {{ order: 'R-{order}' details {{ patient: 'P' "
                "prescriber: 'D' branch: 'north' device_class: 'knee' side: SIDE_LEFT } }"))

    def run(self):
        self.prepare()
        callers = [threading.Thread(target=self.caller, args=(i,))
                   for i in range(self.options.callers)]
        watchers = [threading.Thread(target=self.watcher, args=(i,)) for i in range(3)]
        faults = [threading.Thread(target=self.killer), threading.Thread(target=self.restarter)]
        begun = time.monotonic()
        for thread in callers + watchers + faults:
            thread.start()
        while time.monotonic() - begun < self.options.seconds:
            time.sleep(min(30, self.options.seconds))
            say(f"{len(self.known)} known, {self.outcomes['unknown']} unknown, {self.kills} kills, "
                f"{self.restarts} restarts, {sum(self.anomalies.values())} anomalies")
        self.calm.set()
        for thread in faults:
            thread.join()
        self.stop.set()
        for thread in callers:
            thread.join()
        lasted = time.monotonic() - begun
        ledger = self.read_ledger()
        self.head = len(ledger)
        for thread in watchers:
            thread.join()
        self.check(ledger)
        return lasted

    def read_ledger(self):
        """Every entry, as (entry, sequence), read from one server page by page."""
        channel = grpc.insecure_channel(self.servers[0].address)
        request = self.words.ListEntriesRequest(page_size=1000)
        entries = []
        while True:
            page = self.call(channel, "LedgerService/ListEntries", request,
                             self.words.ListEntriesResponse, timeout=30)
            entries += page.entries
            request.after_sequence = page.next_after_sequence
            if not page.next_after_sequence:
                break
        channel.close()
        return entries

    def check(self, ledger):
        places = {}
        for number, recorded in enumerate(ledger, 1):
            entry = recorded.entry
            if recorded.sequence != number:
                self.anomaly("half", f"position {number} holds {recorded.sequence}")
            if entry.entry_id in places:
                self.anomaly("doubled", entry.entry_id)
            places[entry.entry_id] = number
            if len(entry.facts) != self.sent.get(entry.entry_id):
                self.anomaly("half", f"{entry.entry_id} has {len(entry.facts)} facts")
        for entry_id, sequence in self.known.items():
            if sequence is None and entry_id in places:
                self.anomaly("doubled", f"{entry_id} was refused and is recorded")
            elif sequence is not None and places.get(entry_id) != sequence:
                self.anomaly("lost", f"{entry_id} was {sequence}, is {places.get(entry_id)}")
        for seen in self.feeds:
            if seen != [recorded.entry.entry_id for recorded in ledger][:len(seen)]:
                self.anomaly("feed", "a watcher saw other entries than the ledger has")
        self.check_holds(ledger)
        done = ferruled("verify", "--postgres", self.postgres.conninfo, check=False)
        if done.returncode != 0:
            self.anomaly("half", done.stdout + done.stderr)
        self.verified = done.stdout.strip()

    def check_holds(self, ledger):
        """Firm promises of one unit, in the order of the ledger."""
        holder = {}
        for recorded in ledger:
            for fact in recorded.entry.facts:
                kind = fact.WhichOneof("what")
                if kind == "unit_held_for_order":
                    what = fact.unit_held_for_order
                    if holder.get(what.unit, what.order) != what.order:
                        self.anomaly("broken", f"{what.unit} is held for {holder[what.unit]} and "
                                     f"{what.order}, entry {recorded.sequence}")
                    holder[what.unit] = what.order
                elif kind == "order_hold_released":
                    holder.pop(fact.order_hold_released.unit, None)

    def end(self):
        self.calm.set()
        self.stop.set()
        for server in self.servers:
            server.end()
        self.postgres.end()
        if not self.anomalies:
            shutil.rmtree(self.folder, ignore_errors=True)


def storm(arguments):
    parser = argparse.ArgumentParser(description="Faults on a cluster")
    parser.add_argument("--seconds", type=float, default=300)
    parser.add_argument("--callers", type=int, default=32)
    parser.add_argument("--kill-every", type=float, default=2)
    parser.add_argument("--restart-every", type=float, default=10)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args(arguments)
    whole = Storm(options)
    try:
        lasted = whole.run()
    finally:
        whole.end()
    times = sorted(whole.latencies)
    return {
        "seconds": round(lasted, 1), "servers": SERVERS, "callers": options.callers,
        "seed": options.seed, "kills": whole.kills, "database_restarts": whole.restarts,
        "entries": len(whole.known), "recorded": whole.outcomes["recorded"],
        "refused": whole.outcomes["refused"], "unknown_outcomes": whole.outcomes["unknown"],
        "unknown_then_found_done": whole.resolved["found done"],
        "unknown_then_done_anew": whole.resolved["done anew"],
        "last_try_p50_ms": round(1000 * times[len(times) // 2], 1),
        "last_try_p99_ms": round(1000 * times[len(times) * 99 // 100], 1),
        "feed_entries": [len(seen) for seen in whole.feeds], "verify": whole.verified,
        "anomalies": dict(whole.anomalies), "examples": whole.examples,
    }


if __name__ == "__main__":
    found = storm(sys.argv[1:])
    print(json.dumps(found, indent=2))
    sys.exit(1 if found["anomalies"] else 0)
