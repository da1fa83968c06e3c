#!/usr/bin/python3 -B
"""Units and orders in one ring, which callers of three servers on one PostgreSQL twist at once: unit i
is promised to the order of the unit that follows it. Every twist gives three units back and promises
them anew in one entry, so that whatever was between, there is always one ring.

    ring.py [--seconds 60] [--callers 16] [--length 40] [--seed N]

Prints one JSON object; exit code 0 only when every answer showed one ring.
"""

import argparse
import collections
import itertools
import json
import os
import random
import sys
import tempfile
import threading
import time

import grpc

from caller import START_S, UNKNOWN, WORDS, Caller, entry, settings, unit
from depot_servers import Postgres, Server, ferruled

SERVERS = 3
REFUSED = {grpc.StatusCode.FAILED_PRECONDITION, grpc.StatusCode.NOT_FOUND}


class Ring:
    def __init__(self, options, folder, postgres):
        self.options = options
        self.postgres = postgres
        self.servers = [Server(["--postgres", postgres.conninfo, "--create"],
                               os.path.join(folder, f"server-{i}.log")) for i in range(SERVERS)]
        self.stop = threading.Event()
        self.did = collections.Counter()
        self.wrong = []
        self._seconds = itertools.count(START_S + 3600)

    def order(self, number):
        return f"R-{number % self.options.length}"

    def prepare(self):
        caller = Caller(self.servers[0].address)
        caller.record(settings())
        for i in range(self.options.length):
            caller.record(unit(i))
            caller.record(entry(f"order-{i}", f"order_taken {{ order: '{self.order(i)}' details {{ "
                                "patient: 'P' prescriber: 'D' branch: 'north' device_class: 'knee' "
                                "side: SIDE_LEFT } }"))
        for i in range(self.options.length):
            caller.record(entry(f"first-{i}", self.held(i, self.order(i + 1)), enforced=True, at=START_S + 60))
        caller.close()

    @staticmethod
    def held(number, order):
        return f"unit_held_for_order {{ unit: 'K-{number}' order: '{order}' firm: true }}"

    @staticmethod
    def released(number, order):
        return f"order_hold_released {{ unit: 'K-{number}' order: '{order}' }}"

    def seen(self, caller):
        """Which order each unit is promised to, in one answer."""
        page = caller.call("DepotService/ListUnits", WORDS.ListUnitsRequest(page_size=1000),
                           WORDS.ListUnitsResponse)
        return {row.unit: row.order for row in page.units}

    def check(self, promised):
        """Follows the ring once round."""
        at, steps = 0, 0
        while steps < self.options.length:
            order = promised.get(f"K-{at}", "")
            if not order.startswith("R-"):
                self.wrong.append(f"K-{at} is promised to '{order}'")
                return
            at, steps = int(order[2:]), steps + 1
            if at == 0:
                break
        if steps != self.options.length or at != 0:
            self.wrong.append(f"a ring of {steps} instead of {self.options.length}")
        self.did["rings seen"] += 1

    def twist(self, number):
        chance = random.Random(f"{self.options.seed}-{number}")
        callers = [Caller(server.address) for server in self.servers]
        for count in itertools.count():
            if self.stop.is_set():
                break
            caller = chance.choice(callers)
            try:
                promised = self.seen(caller)
            except grpc.RpcError as error:
                self.did[error.code().name] += 1
                continue
            one = chance.randrange(self.options.length)
            two = int(promised[f"K-{one}"][2:])
            three = int(promised[f"K-{two}"][2:])
            four = int(promised[f"K-{three}"][2:])
            if len({one, two, three, four}) != 4:
                continue
            what = entry(f"t-{number}-{count}",
                         self.released(one, self.order(two)), self.released(two, self.order(three)),
                         self.released(three, self.order(four)), self.held(one, self.order(three)),
                         self.held(three, self.order(two)), self.held(two, self.order(four)),
                         enforced=True, at=next(self._seconds))
            try:
                caller.settle(what)
                self.did["twists"] += 1
            except grpc.RpcError as error:
                if error.code() in REFUSED:
                    self.did["refused"] += 1
                else:
                    self.wrong.append(f"{error.code()}: {error.details()}")
        for caller in callers:
            self.did["sent again"] += caller.repeats
            caller.close()

    def look(self, number):
        caller = Caller(self.servers[number % SERVERS].address)
        while not self.stop.is_set():
            try:
                self.check(self.seen(caller))
            except grpc.RpcError as error:
                if error.code() not in UNKNOWN:
                    self.wrong.append(f"{error.code()}: {error.details()}")
            time.sleep(0.02)
        caller.close()

    def run(self):
        for server in self.servers:
            server.start()
        self.prepare()
        threads = [threading.Thread(target=self.twist, args=(i,))
                   for i in range(self.options.callers)]
        threads += [threading.Thread(target=self.look, args=(i,)) for i in range(SERVERS)]
        for thread in threads:
            thread.start()
        time.sleep(self.options.seconds)
        self.stop.set()
        for thread in threads:
            thread.join()
        for server in self.servers:
            caller = Caller(server.address)
            self.check(self.seen(caller))
            caller.close()

    def end(self):
        self.stop.set()
        for server in self.servers:
            server.end()


def ring(arguments):
    parser = argparse.ArgumentParser(description="A ring that many twist")
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--callers", type=int, default=16)
    parser.add_argument("--length", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory(prefix="ferrule-ring-") as folder:
        postgres = Postgres()
        whole = Ring(options, folder, postgres)
        try:
            whole.run()
            deadlocks = int(postgres.sql("SELECT sum(deadlocks) FROM pg_stat_database").stdout)
            verified = ferruled("verify", "--postgres", postgres.conninfo, check=False)
        finally:
            whole.end()
            postgres.end()
    return {"seconds": options.seconds, "callers": options.callers, "length": options.length,
            **whole.did, "deadlocks": deadlocks, "wrong": whole.wrong[:20],
            "verify": verified.stdout.strip() or verified.stderr}


if __name__ == "__main__":
    found = ring(sys.argv[1:])
    print(json.dumps(found, indent=2))
    sys.exit(0 if not found["wrong"] and found["verify"].startswith("ok") else 1)
