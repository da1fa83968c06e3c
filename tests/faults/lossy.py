#!/usr/bin/python3 -B
"""Callers and a follower of the feed reach a ferruled over a line that cuts connections, swallows
what is sent, tears it into pieces and delays it. Afterwards every caller's history is held against
the ledger.

    lossy.py [--seconds 60] [--callers 8] [--seed N] [--silent]

With --silent, afterwards: a line that goes silent for ever, for each of the sample clients of
deploy/clients and for the server, and how long each takes to notice. Prints one JSON object;
exit code 0 only when nothing was lost, doubled or out of order.
"""

import argparse
import collections
import json
import os
import random
import selectors
import socket
import struct
import subprocess
import sys
import tempfile
import threading
import time

import grpc

from caller import UNKNOWN, WORDS, Caller, anomalies, settings, unit
from depot_servers import SOURCE, Server, ferruled


class Line:
    """A line to a port of this machine. Every connection draws its fate out of the seed."""

    MOST_SILENT_S = 2.0

    def __init__(self, port, seed=0, lossy=True, life_bytes=6_000):
        self._to = port
        self._chance = random.Random(f"line-{seed}")
        self._lossy = lossy
        self._life_bytes = life_bytes  # a connection carries so much in the mean, both ways
        self.did = collections.Counter()
        self._over = threading.Event()
        self._hushed = 0     # connections up to this one carry nothing more
        self.noticed = {}    # "near" or "far": when an end of a hushed connection closed it
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.address = f"127.0.0.1:{self._listener.getsockname()[1]}"
        self._threads = [threading.Thread(target=self._accept, daemon=True)]
        self._threads[0].start()

    def hush(self):
        """Every connection there is goes silent for ever; later ones work."""
        self._hushed = self.did["connections"]

    def _accept(self):
        self._listener.settimeout(0.2)
        while not self._over.is_set():
            try:
                near, _ = self._listener.accept()
            except TimeoutError:
                continue
            self.did["connections"] += 1
            thread = threading.Thread(target=self._carry, args=(
                near, self.did["connections"], random.Random(self._chance.random())), daemon=True)
            thread.start()
            self._threads.append(thread)

    def _carry(self, near, number, chance):
        """Both directions of one connection, until its fate or an end closes it."""
        try:
            far = socket.create_connection(("127.0.0.1", self._to), timeout=5)
        except OSError:
            near.close()
            return
        with near, far, selectors.DefaultSelector() as ready:
            for sock in (near, far):
                ready.register(sock, selectors.EVENT_READ)
            # After so many bytes, either way: cut off, or swallow for a while first.
            left = int(chance.expovariate(1 / self._life_bytes)) if self._lossy else float("inf")
            while not self._over.is_set():
                for key, _ in ready.select(0.2):
                    sock = key.fileobj
                    try:
                        data = sock.recv(chance.randrange(1, 4096) if self._lossy else 65536)
                        if number <= self._hushed:
                            if not data:
                                self.noticed["near" if sock is near else "far"] = time.monotonic()
                                ready.unregister(sock)
                            continue
                        if not data:
                            return
                        if self._lossy and chance.random() < 0.1:
                            self.did["delays"] += 1
                            time.sleep(chance.random() * 0.2)
                        other = far if sock is near else near
                        other.sendall(data[:int(min(left, len(data)))])
                        left -= len(data)
                    except OSError:
                        return
                    if left <= 0:
                        return self._cut(near, far, chance)

    def _cut(self, near, far, chance):
        fate = chance.choice(("cuts", "swallows"))
        self.did[fate] += 1
        if fate == "swallows":
            self._over.wait(chance.random() * self.MOST_SILENT_S)
        if chance.random() < 0.5:  # a reset instead of an end
            for sock in (near, far):
                sock.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))

    def end(self):
        self._over.set()
        for thread in self._threads:
            thread.join()
        self._listener.close()


def follow(address, until, seen, wrong):
    """Follows the feed over the line, from where it was; a silent call ends by its own deadline."""
    caller = Caller(address)
    while not until(len(seen)):
        call = caller.channel.unary_stream(
            "/ferrule.v1.LedgerService/WatchEntries",
            request_serializer=WORDS.WatchEntriesRequest.SerializeToString,
            response_deserializer=WORDS.WatchEntriesResponse.FromString)(
                WORDS.WatchEntriesRequest(after_sequence=len(seen)), timeout=4)
        try:
            for part in call:
                for recorded in part.entries:
                    if recorded.sequence != len(seen) + 1:
                        wrong.append(f"the feed gave {recorded.sequence} after {len(seen)}")
                    seen.append(recorded.entry.entry_id)
                if until(len(seen)):
                    call.cancel()
                    break
        except grpc.RpcError as error:
            if error.code() not in UNKNOWN:
                wrong.append(f"the feed ended with {error.code()}: {error.details()}")
            time.sleep(0.05)
    caller.close()


def storm(server, options):
    line = Line(server.port, options.seed)
    # A page of the feed has up to 1 MiB, and must come through once in a while.
    feed_line = Line(server.port, options.seed + 1, life_bytes=500_000)
    stop = threading.Event()
    acknowledged, sent, wrong, seen = {}, set(), [], []
    repeats = collections.Counter()
    head = [None]

    def calls(number):
        caller = Caller(line.address)
        count = 0
        while not stop.is_set():
            count += 1
            what = unit(f"{number}-{count}", note="x" * random.Random(count).randrange(1500))
            sent.add(what.entry_id)
            try:
                receipt = caller.settle(what, timeout=1)
            except grpc.RpcError as error:
                wrong.append(f"{what.entry_id} stays unknown: {error.code()} {error.details()}")
                continue
            acknowledged[what.entry_id] = receipt.sequence
            repeats["found done"] += receipt.repeated
        repeats["sent again"] += caller.repeats
        caller.close()

    threads = [threading.Thread(target=calls, args=(i,)) for i in range(options.callers)]
    follower = threading.Thread(target=follow, args=(
        feed_line.address, lambda count: head[0] is not None and count >= head[0], seen, wrong))
    for thread in [*threads, follower]:
        thread.start()
    time.sleep(options.seconds)
    stop.set()
    for thread in threads:
        thread.join()
    direct = Caller(server.address)
    ledger = direct.ledger()
    direct.close()
    head[0] = len(ledger)
    follower.join()
    line.end()
    feed_line.end()
    wrong += anomalies(ledger, acknowledged, sent | {"settings"})
    if seen != [recorded.entry.entry_id for recorded in ledger]:
        wrong.append("the follower saw other entries than the ledger has")
    return {"line": dict(line.did), "feed_line": dict(feed_line.did), "acknowledged": len(acknowledged), **repeats,
            "entries": len(ledger), "wrong": wrong[:20]}


def sample_clients():
    """How each of the sample clients is called, and with which environment."""
    clients = os.path.join(SOURCE, "deploy/clients")
    # The npm packages are those of the exchange tests.
    sys.path.insert(0, os.path.join(SOURCE, "tests/exchange"))
    os.environ.setdefault("FERRULE_BINARY_DIR", os.path.join(SOURCE, "build/checked"))
    import packages  # pylint: disable=import-outside-toplevel,import-error
    node = {**os.environ, "NODE_PATH": packages.path()}
    return {"python": ([sys.executable, os.path.join(clients, "python/follow.py")], None),
            "node": (["node", os.path.join(clients, "node/follow.js")], node)}


def silence(server, name, command, environment):
    """A sample client follows the feed and its line goes silent for ever: after how many seconds
    does it ask again over another connection, and the server let the dead one go?"""
    line = Line(server.port, lossy=False)
    caller = Caller(server.address)
    caller.settle(unit(f"before-{name}"))
    with tempfile.TemporaryDirectory() as folder:
        state = os.path.join(folder, "state")
        until = caller.info().head_sequence + 1
        client = subprocess.Popen([*command, line.address, state, "--until", str(until)],
                                  stdout=subprocess.DEVNULL, env=environment)
        try:
            while not os.path.exists(state):
                if client.poll() is not None:
                    raise RuntimeError(f"the {name} client ended with {client.returncode}")
                time.sleep(0.1)
            line.hush()
            begun = time.monotonic()
            caller.settle(unit(f"after-{name}"))
            client.wait(timeout=200)
            client_s = time.monotonic() - begun
            while "far" not in line.noticed and time.monotonic() - begun < 200:
                time.sleep(0.5)
        finally:
            client.kill()
            client.wait()
            caller.close()
            line.end()
    return {"client_noticed_s": round(client_s, 1),
            "server_noticed_s": round(line.noticed.get("far", float("inf")) - begun, 1)}


def honest_pings(server, seconds, out):
    """A feed that is pinged as often as the server allows: how often it was ended."""
    caller = Caller(server.address, ("grpc.keepalive_time_ms", 55_000),
                    ("grpc.keepalive_timeout_ms", 20_000), ("grpc.http2.max_pings_without_data", 0))
    until = time.monotonic() + seconds
    ended = []
    while time.monotonic() < until:
        call = caller.channel.unary_stream(
            "/ferrule.v1.LedgerService/WatchEntries",
            request_serializer=WORDS.WatchEntriesRequest.SerializeToString,
            response_deserializer=WORDS.WatchEntriesResponse.FromString)(
                WORDS.WatchEntriesRequest(), timeout=until - time.monotonic())
        try:
            for _ in call:
                pass
        except grpc.RpcError as error:
            if error.code() != grpc.StatusCode.DEADLINE_EXCEEDED:
                ended.append(f"{error.code()}: {error.details()}")
    caller.close()
    out.update({"seconds": seconds, "ended": ended})


def lossy(arguments):
    parser = argparse.ArgumentParser(description="Faults of the line")
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--callers", type=int, default=8)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--silent", action="store_true")
    options = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory(prefix="ferrule-lossy-") as folder:
        depot = os.path.join(folder, "depot.ferrule")
        server = Server(["--depot", depot, "--create"], os.path.join(folder, "log")).start()
        try:
            caller = Caller(server.address)
            caller.settle(settings())
            caller.close()
            found = storm(server, options)
            if options.silent:
                found["honest_pings"] = {}
                pings = threading.Thread(target=honest_pings,
                                         args=(server, 240, found["honest_pings"]))
                pings.start()
                found["silence"] = {name: silence(server, name, *how)
                                    for name, how in sample_clients().items()}
                pings.join()
                found["wrong"] += found["honest_pings"]["ended"]
        finally:
            found_exit = server.end()
        found["exit_code"] = found_exit
        found["verify"] = ferruled("verify", "--depot", depot, check=False).stdout.strip()
    return found


if __name__ == "__main__":
    result = lossy(sys.argv[1:])
    print(json.dumps(result, indent=2))
    sys.exit(0 if not result["wrong"] and result["verify"].startswith("ok") else 1)
