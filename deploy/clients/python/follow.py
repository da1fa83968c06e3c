#!/usr/bin/env python3
"""A sample client: follows the depot's change feed and keeps its place.

    follow.py SERVER STATE_FILE [--until SEQUENCE] [--tls-ca FILE] [--token-file FILE]

It asks for every entry after the last one that it has worked on, keeps what it needs of each (here:
how far each order has come), and writes its cursor together with that in one step, so that it can be
stopped at any moment and started again without missing or repeating an entry. It writes at most once
a second, and when the feed says that there is nothing new: what it had not written is asked for
again. It asks for the last entry once more and compares it: after a backup was restored another one
stands there, or none, and what was made of the feed no longer holds. Needs python3-grpcio and python3-protobuf; the words are compiled from the .proto files on the
fly.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time

import grpc
from google.protobuf import descriptor_pb2, descriptor_pool, message_factory

PROTO = os.path.join(os.path.dirname(os.path.abspath(__file__)), "../../../proto")
WATCH = "/ferrule.v1.LedgerService/WatchEntries"
SAVE_EVERY_S = 1.0
# Nothing ever comes over a line that went silent: a ping a minute finds it out. The server allows one
# every 50 seconds, and this stream sends no data that pings could wait for.
PINGS = [("grpc.keepalive_time_ms", 60_000), ("grpc.keepalive_timeout_ms", 20_000),
         ("grpc.http2.max_pings_without_data", 0)]


def words():
    """The request and answer classes of WatchEntries, from proto/."""
    with tempfile.NamedTemporaryFile() as out:
        subprocess.run(["protoc", "-I", PROTO, "--include_imports",
                        "--descriptor_set_out=" + out.name,
                        os.path.join(PROTO, "ferrule/v1/ledger_service.proto")], check=True)
        files = descriptor_pb2.FileDescriptorSet.FromString(out.read()).file
    pool = descriptor_pool.DescriptorPool()
    for file in files:
        pool.Add(file)
    factory = message_factory.MessageFactory(pool)
    return tuple(factory.GetPrototype(pool.FindMessageTypeByName("ferrule.v1." + name))
                 for name in ("WatchEntriesRequest", "WatchEntriesResponse"))


class Restored(Exception):
    """The ledger is not the one that was followed."""

    def __init__(self, path, sequence):
        super().__init__(f"entry {sequence} is not the one that was read before: the depot was "
                         f"restored from a backup, or is another one. Remove {path}, undo what was "
                         "made of it, and start again")


def mark_of(recorded):
    """What no other entry of any ledger has: its id and when it was recorded."""
    time_of = recorded.recorded_time
    return f"{recorded.entry.entry_id} {time_of.seconds}.{time_of.nanos:09d}"


class State:
    """The cursor and what was made of the entries before it, in one file."""

    def __init__(self, path):
        self.path = path
        self.sequence = 0
        self.last = None  # the mark of the entry at the cursor
        self.orders = {}
        self._saved_sequence = 0
        self._saved_at = 0.0
        if os.path.exists(path):
            with open(path, encoding="utf-8") as file:
                kept = json.load(file)
            self.sequence, self.orders = kept["sequence"], kept["orders"]
            self.last = kept.get("last")
            self._saved_sequence = self.sequence

    def asked_after(self):
        """The feed is asked for the entry at the cursor again, to see that it is still there."""
        return self.sequence if self.last is None else self.sequence - 1

    def apply(self, recorded):
        if recorded.sequence == self.sequence and self.last is not None:
            if mark_of(recorded) != self.last:
                raise Restored(self.path, self.sequence)
            return
        if recorded.sequence != self.sequence + 1:
            raise RuntimeError(f"entry {recorded.sequence} after {self.sequence}: a gap or a repeat")
        self.sequence, self.last = recorded.sequence, mark_of(recorded)
        for fact in recorded.entry.facts:
            what = fact.WhichOneof("what")
            if what in ("order_taken", "order_changed", "order_cancelled"):
                order = getattr(fact, what).order
                self.orders[order] = self.orders.get(order, 0) + 1

    def save_when_due(self):
        if time.monotonic() - self._saved_at >= SAVE_EVERY_S:
            self.save()

    def save(self):
        """Written beside the old one and put in its place: there is always a whole one."""
        if self.sequence == self._saved_sequence:
            return
        beside = self.path + ".new"
        with open(beside, "w", encoding="utf-8") as file:
            json.dump({"sequence": self.sequence, "last": self.last, "orders": self.orders}, file,
                      sort_keys=True)
            file.flush()
            os.fsync(file.fileno())
        os.replace(beside, self.path)
        self._saved_sequence = self.sequence
        self._saved_at = time.monotonic()


def connect(server, tls_ca):
    """A channel that trusts the certificates in a file; in plain text without one."""
    if tls_ca is None:
        return grpc.insecure_channel(server, options=PINGS)
    with open(tls_ca, "rb") as file:
        return grpc.secure_channel(server, grpc.ssl_channel_credentials(file.read()),
                                   options=PINGS)


def identity(token_file):
    """The metadata that says who calls. A token is read from a file, never from the command line."""
    if token_file is None:
        return []
    with open(token_file, encoding="ascii") as file:
        return [("authorization", "Bearer " + file.read().strip())]


def follow(server, state, until, tls_ca=None, token_file=None):
    request, response = words()
    while until is None or state.sequence < until:
        channel = connect(server, tls_ca)
        try:
            call = channel.unary_stream(WATCH, request_serializer=request.SerializeToString,
                                        response_deserializer=response.FromString)
            for batch in call(request(after_sequence=state.asked_after()),
                              metadata=identity(token_file)):
                for recorded in batch.entries:
                    if until is None or state.sequence < until:
                        state.apply(recorded)
                if until is not None and state.sequence >= until:
                    break
                if batch.entries:
                    state.save_when_due()
                else:
                    state.save()
        except grpc.RpcError as error:
            if error.code() == grpc.StatusCode.OUT_OF_RANGE:
                raise Restored(state.path, state.sequence) from error
            # The server is away or being started again: ask again from the cursor.
            if error.code() not in (grpc.StatusCode.UNAVAILABLE, grpc.StatusCode.CANCELLED):
                raise
            time.sleep(0.2)
        finally:
            channel.close()
            state.save()


def main():
    parser = argparse.ArgumentParser(description="Follows the depot's change feed.")
    parser.add_argument("server")
    parser.add_argument("state_file")
    parser.add_argument("--until", type=int)
    parser.add_argument("--tls-ca")
    parser.add_argument("--token-file")
    arguments = parser.parse_args()
    state = State(arguments.state_file)
    try:
        follow(arguments.server, state, arguments.until, arguments.tls_ca, arguments.token_file)
    except Restored as why:
        print(f"follow.py: {why}", file=sys.stderr)
        return 1
    print(f"at entry {state.sequence}, {len(state.orders)} orders")
    return 0


if __name__ == "__main__":
    sys.exit(main())
