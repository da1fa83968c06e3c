"""A served depot that gets no more memory: the limit on its address space is drawn tight while callers
record and read, then lifted."""

import os
import resource
import tempfile
import threading
import time
import unittest

import grpc

import depot_servers
from caller import WORDS, Caller, anomalies, settings, unit

MIB = 1 << 20
# What is left to a server that serves. Its allocator has some memory in hand at any moment.
MARGINS_MIB = (0, 8, 32, 64, 96, 128, 192)


class Memory(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.depot = os.path.join(folder.name, "depot.ferrule")
        self.log = os.path.join(folder.name, "log")

    def start(self):
        server = depot_servers.Server(["--depot", self.depot, "--create"], self.log).start()
        self.addCleanup(server.end)
        return server

    @staticmethod
    def squeeze(server, margin_mib):
        with open(f"/proc/{server.process.pid}/statm", encoding="ascii") as statm:
            size = int(statm.read().split()[0]) * resource.getpagesize()
        resource.prlimit(server.process.pid, resource.RLIMIT_AS,
                         (size + margin_mib * MIB, resource.RLIM_INFINITY))

    @staticmethod
    def relieve(server):
        if server.process.poll() is None:
            resource.prlimit(server.process.pid, resource.RLIMIT_AS,
                             (resource.RLIM_INFINITY, resource.RLIM_INFINITY))

    def press(self, server, round_number, acknowledged, sent, codes, seconds=2):
        """Callers who record much and read much, each on its own connection."""
        over = threading.Event()

        def calls(number):
            caller = Caller(server.address)
            count = 0
            while not over.is_set():
                count += 1
                what = unit(f"{round_number}-{number}-{count}", note="x" * 1900)
                sent[what.entry_id] = what
                try:
                    acknowledged[what.entry_id] = caller.record(what, timeout=5).sequence
                    caller.call("LedgerService/ListEntries",
                                WORDS.ListEntriesRequest(page_size=1000),
                                WORDS.ListEntriesResponse, 5)
                    code = "OK"
                except grpc.RpcError as error:
                    code = error.code().name
                codes[code] = codes.get(code, 0) + 1
                if code != "OK":
                    time.sleep(0.02)
            caller.close()

        threads = [threading.Thread(target=calls, args=(i,)) for i in range(12)]
        for thread in threads:
            thread.start()
        time.sleep(seconds)
        over.set()
        for thread in threads:
            thread.join()

    def test_without_memory_nothing_is_half_done_and_with_it_again_work_goes_on(self):
        acknowledged, sent, codes, ends = {}, {}, {}, []
        server = self.start()
        first = Caller(server.address)
        first.record(settings())
        first.close()
        ended = pressed = 0
        for number, margin in enumerate(MARGINS_MIB):
            before = sum(count for code, count in codes.items() if code != "OK")
            self.squeeze(server, margin)
            self.press(server, number, acknowledged, sent, codes)
            self.relieve(server)
            pressed += sum(count for code, count in codes.items() if code != "OK") > before
            if server.process.poll() is not None:
                ended += 1
                ends.append(server.end())
                server = self.start()
            # Without a restart of one that lives: what is sent now is recorded.
            caller = Caller(server.address)
            receipt = caller.settle(unit(f"after-{number}"), seconds=20)
            acknowledged[f"e-after-{number}"] = receipt.sequence
            caller.close()
        caller = Caller(server.address)
        for entry_id, what in sent.items():
            if entry_id not in acknowledged:
                acknowledged[entry_id] = caller.settle(what).sequence
        self.assertEqual(anomalies(caller.ledger(), acknowledged), [])
        caller.close()
        self.assertEqual(server.end(), 0)
        self.assertRegex(depot_servers.ferruled("verify", "--depot", self.depot).stdout, "^ok")
        # Memory must have run out.
        self.assertGreater(pressed, 0, codes)
        print(f"pressed in {pressed} of {len(MARGINS_MIB)} rounds, ended {ended} times ({ends}): {codes}")


if __name__ == "__main__":
    unittest.main()
