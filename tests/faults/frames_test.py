"""Peers that send little and ask for much: messages that unpack to gigabytes, messages nested without
end, pings without pause. An honest caller works beside them."""

import gzip
import socket
import struct
import tempfile
import threading
import time
import unittest

import grpc

import depot_servers
from caller import WORDS, Caller, entry, settings, unit
from hostile import DATA, HEADERS, PREFACE, RESET, frame, header_block

SETTINGS_FRAME, PING, GOAWAY = 4, 6, 7
ENHANCE_YOUR_CALM = 11
RECORD = "/ferrule.v1.LedgerService/Record"
# A message of 60 MiB and its copy on each of two threads; all that are sent would take 6 GiB.
MOST_GROWTH_KIB = 256 << 10


class Frames(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.server = depot_servers.Server(["--depot", folder.name + "/depot.ferrule", "--create"],
                                           folder.name + "/log").start()
        self.addCleanup(self.end_well)
        self.caller = Caller(self.server.address)
        self.addCleanup(self.caller.close)
        self.caller.record(settings())
        self.before_kib = self.server.resident_kib()

    def end_well(self):
        self.assertEqual(self.server.end(), 0)

    def raw(self, method, body, **more):
        """Sends bytes as they are; the code and the words of the answer."""
        try:
            self.caller.channel.unary_unary(method)(body, timeout=20, **more)
            return "OK", ""
        except grpc.RpcError as error:
            return error.code().name, error.details()

    def assert_unhurt(self):
        self.assertLess(self.server.resident_kib() - self.before_kib, MOST_GROWTH_KIB)
        head = self.caller.info(timeout=5).head_sequence
        self.caller.record(unit(f"after-{head}"), timeout=5)
        self.assertEqual(self.caller.info(timeout=5).head_sequence, head + 1)

    def test_the_limit_counts_what_a_message_unpacks_to(self):
        for size in (5 << 20, 64 << 20, 64 << 20, 64 << 20):
            got, _ = self.raw(RECORD, bytes(size), compression=grpc.Compression.Gzip)
            self.assertEqual(got, "RESOURCE_EXHAUSTED")
        self.assert_unhurt()
        # One that unpacks to less than the limit is looked at, packed or not.
        long = entry("long", f"unit_moved {{ unit: '{'0' * (3 << 20)}' to_place: 'north-dock' }}")
        body = WORDS.RecordRequest(entry=long).SerializeToString()
        for compression in (grpc.Compression.NoCompression, grpc.Compression.Gzip):
            self.assertEqual(self.raw(RECORD, body, compression=compression)[0],
                             "INVALID_ARGUMENT")
        self.assert_unhurt()

    def test_a_hundred_bombs_at_once(self):
        # Packed once, so that the peer has next to no work: 60 KiB for 60 MiB each.
        packed = gzip.compress(bytes(60 << 20))
        self.assertLess(len(packed), 65_000)
        message = b"\x01" + struct.pack(">I", len(packed)) + packed
        encoding = b"\x00\x0dgrpc-encoding\x04gzip"
        burst = PREFACE + frame(SETTINGS_FRAME, 0, 0)
        burst += frame(HEADERS, 4, 1, header_block(RECORD, secure=False) + encoding)
        pieces = [message[i:i + 16_000] for i in range(0, len(message), 16_000)]
        for piece in pieces[:-1]:
            burst += frame(DATA, 0, 1, piece)
        burst += frame(DATA, 1, 1, pieces[-1])
        peak = []
        socks = [socket.create_connection(("127.0.0.1", self.server.port), timeout=10)
                 for _ in range(100)]
        for sock in socks:
            sock.sendall(burst)
            peak.append(self.server.resident_kib())
        answered = sum(self.is_answered(sock) for sock in socks)
        peak.append(self.server.resident_kib())
        for sock in socks:
            sock.close()
        self.assertEqual(answered, 100)
        self.assertLess(max(peak) - self.before_kib, MOST_GROWTH_KIB)
        self.assert_unhurt()

    @staticmethod
    def is_answered(sock):
        """Whether the stream got an answer of headers that end it, or a reset."""
        said = b""
        sock.settimeout(60)  # a busy machine unpacks 100 in turn
        while True:
            while len(said) >= 9 and len(said) >= 9 + int.from_bytes(said[:3], "big"):
                if (said[3] == HEADERS and said[4] & 1) or said[3] == RESET:
                    return True
                said = said[9 + int.from_bytes(said[:3], "big"):]
            try:
                data = sock.recv(65536)
            except OSError:
                return False
            if not data:
                return False
            said += data

    def test_nesting_without_end_is_no_message(self):
        # Groups of an unknown field, one in the other: a parser that follows them all overflows.
        for depth in (101, 5_000, 1_000_000):
            with self.subTest(depth):
                got, words = self.raw(RECORD, b"\x0b" * depth + b"\x0c" * depth)
                self.assertEqual(got, "INVALID_ARGUMENT")
                self.assertIn("are no", words)
                got, _ = self.raw(RECORD, b"\x0b" * depth)
                self.assertEqual(got, "INVALID_ARGUMENT")
        self.assert_unhurt()

    def test_nested_documents_are_told_or_queued(self):
        bodies = [b"[" * 1_000_000, b'{"a":' * 200_000, b"[" * 100_000 + b"]" * 100_000,
                  b'{"resourceType":"Bundle","entry":[{"resource":' * 20_000,
                  b"MSH|^~\\&|" + b"&^~" * 900_000]
        for kind in (1, 2, 3):
            for body in bodies:
                self.before_kib = self.server.resident_kib()
                with self.subTest((kind, body[:12])):
                    request = WORDS.SubmitMessageRequest(kind=kind, sender="nobody", content=body)
                    try:
                        self.caller.call("IntakeService/SubmitMessage", request,
                                         WORDS.SubmitMessageResponse)
                    except grpc.RpcError as error:
                        self.assertIn(error.code().name, (
                            "INVALID_ARGUMENT", "NOT_FOUND", "FAILED_PRECONDITION",
                            "RESOURCE_EXHAUSTED", "PERMISSION_DENIED"), error.details())
                    self.assert_unhurt()

    def flood(self, frames, seconds=4):
        """Sends frames without pause until the server ends it; what it said, and how many it took."""
        said, sent = b"", 0
        until = time.monotonic() + seconds
        with socket.create_connection(("127.0.0.1", self.server.port), timeout=5) as sock:
            sock.sendall(PREFACE + frame(SETTINGS_FRAME, 0, 0))
            sock.settimeout(0.01)
            while time.monotonic() < until:
                try:
                    sock.sendall(frames)
                    sent += 1
                    data = sock.recv(65536)
                    if not data:
                        return said, sent
                    said += data
                except TimeoutError:
                    continue
                except OSError:
                    return said, sent
        return said, sent

    @staticmethod
    def goodbye(said):
        """The code and the words of the GOAWAY in what a server said, if there is one."""
        while len(said) >= 9:
            length = int.from_bytes(said[:3], "big")
            if said[3] == GOAWAY:
                code = struct.unpack(">I", said[13:17])[0]
                return code, said[17:9 + length].decode()
            said = said[9 + length:]
        return None

    def test_pings_without_pause_end_the_connection_and_no_other(self):
        over, failed, times = threading.Event(), [], []

        def honest():
            caller = Caller(self.server.address)
            while not over.is_set():
                begun = time.monotonic()
                try:
                    caller.info(timeout=5)
                except grpc.RpcError as error:
                    failed.append(error)
                times.append(time.monotonic() - begun)
                time.sleep(0.01)
            caller.close()

        beside = threading.Thread(target=honest)
        beside.start()
        ping = frame(PING, 0, 0, bytes(8))
        for _ in range(10):
            said, sent = self.flood(ping)
            self.assertEqual(self.goodbye(said), (ENHANCE_YOUR_CALM, "too_many_pings"))
            self.assertLess(sent, 100)
        over.set()
        beside.join()
        self.assertEqual(failed, [])
        self.assertLess(sorted(times)[len(times) * 99 // 100], 1)
        self.assert_unhurt()

    def test_floods_of_settings_and_of_bursts_of_pings_cost_no_memory(self):
        for name, frames in (
                ("settings", frame(SETTINGS_FRAME, 0, 0, struct.pack(">HI", 4, 65535)) * 500),
                ("pings", frame(PING, 0, 0, bytes(8)) * 500),
                ("answers nobody asked for", frame(PING, 1, 0, bytes(8)) * 500)):
            with self.subTest(name):
                self.flood(frames, seconds=2)
                self.assert_unhurt()


if __name__ == "__main__":
    unittest.main()
