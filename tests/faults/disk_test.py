"""A served depot on a disk that fails or is slow: the system calls of the real program are made to
fail, so nothing of it is simulated."""

import os
import tempfile
import unittest

import grpc
from google.protobuf import text_format

import depot_servers

WORDS = depot_servers.Words()


def entry(number):
    out = WORDS.Entry(entry_id=f"e-{number}", actor="tech", channel="test")
    text_format.Parse("mode: ENTRY_MODE_OBSERVED", out)
    text_format.Parse(f"unit_received {{ unit: 'K-{number}' model: 'knee-a' place: 'dock' }}",
                      out.facts.add())
    out.facts[0].happened_time.seconds = 1_772_438_400
    return out


class Disk(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.depot = os.path.join(folder.name, "depot.ferrule")
        self.log = os.path.join(folder.name, "log")

    def serve(self, *inject):
        wrapper = ["strace", "-f", "-qq", "-o", "/dev/null", "-e", "signal=none", "-e",
                   "trace=fdatasync,fsync", *inject] if inject else []
        server = depot_servers.Server(["--depot", self.depot, "--create"], self.log, wrapper=wrapper)
        server.start()
        self.addCleanup(server.end)
        channel = grpc.insecure_channel(server.address)
        self.addCleanup(channel.close)
        call = channel.unary_unary(
            "/ferrule.v1.LedgerService/Record",
            request_serializer=WORDS.RecordRequest.SerializeToString,
            response_deserializer=WORDS.RecordResponse.FromString)
        return server, lambda number, timeout=10: call(WORDS.RecordRequest(entry=entry(number)),
                                                       timeout=timeout).receipt

    def settle(self, acknowledged, sent):
        """After a new start: what was acknowledged is a repeat, the rest is done once."""
        server, record = self.serve()
        for number in range(sent):
            receipt = record(number)
            if number in acknowledged:
                self.assertTrue(receipt.repeated, f"{number} was acknowledged and is lost")
                self.assertEqual(receipt.sequence, acknowledged[number])
        self.assertEqual(server.end(), 0)
        done = depot_servers.ferruled("verify", "--depot", self.depot)
        self.assertRegex(done.stdout, f"^ok: {sent} entries")

    def test_a_sync_that_fails_ends_the_server_and_a_repeat_settles_it(self):
        for after in (6, 9, 14):
            with self.subTest(after):
                for path in (self.depot, self.depot + "-wal", self.depot + "-shm"):
                    if os.path.exists(path):
                        os.remove(path)
                self.serve()[0].end()  # makes the depot on a good disk
                server, record = self.serve("-e", f"inject=fdatasync:error=EIO:when={after}+")
                acknowledged = {}
                with self.assertRaises(grpc.RpcError) as failed:
                    for number in range(100):
                        acknowledged[number] = record(number).sequence
                self.assertIn(failed.exception.code(),
                              (grpc.StatusCode.UNAVAILABLE, grpc.StatusCode.INTERNAL))
                self.assertEqual(server.process.wait(timeout=20), 4)
                with open(self.log, encoding="utf-8") as log:
                    self.assertIn("outcome is not known", log.read())
                self.assertGreater(len(acknowledged), 0)
                self.settle(acknowledged, len(acknowledged) + 1)

    def test_a_slow_disk_costs_time_and_nothing_else(self):
        self.serve()[0].end()
        _, record = self.serve("-e", "inject=fdatasync:delay_exit=700000:when=3..5")
        late, acknowledged = 0, {}
        for number in range(20):
            try:
                acknowledged[number] = record(number, timeout=0.3).sequence
            except grpc.RpcError as error:
                self.assertEqual(error.code(), grpc.StatusCode.DEADLINE_EXCEEDED)
                late += 1
        self.assertGreater(late, 0)
        self.assertGreater(len(acknowledged), 5)
        # Whoever was told nothing asks again; it was done meanwhile.
        for number in range(20):
            self.assertTrue(record(number).repeated, number)


if __name__ == "__main__":
    unittest.main()
