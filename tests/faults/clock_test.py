"""A server whose machine has a wrong date: years ahead, decades behind. And entry ids that are sent
again after years."""

import os
import tempfile
import unittest

import grpc

import depot_servers
import wrong_clock
from caller import Caller, entry, settings, unit
from depot_servers import ferruled
from wrong_clock import DAY_S



class Clock(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.depot = os.path.join(folder.name, "depot.ferrule")
        self.log = os.path.join(folder.name, "log")
        caller, end = self.serve()
        self.first = caller.record(settings())
        end()

    def serve(self, environment=None, *more):
        server = depot_servers.Server(["--depot", self.depot, "--create"], self.log, *more,
                                      environment=environment)
        server.start()
        self.addCleanup(server.end)
        caller = Caller(server.address)

        def end():
            caller.close()
            self.assertEqual(server.end(), 0)
        return caller, end

    def assert_refused(self, environment, *says):
        with open(self.depot, "rb") as file:
            before = file.read()
        with self.assertRaisesRegex(RuntimeError, "did not start") as failed:
            self.serve(environment)
        for words in (*says, "set the clock and start again", "--clock-is-right"):
            self.assertRegex(str(failed.exception), words)
        with open(self.depot, "rb") as file:
            self.assertEqual(file.read(), before)

    def test_a_machine_that_starts_in_1970_or_2099_does_not_record(self):
        self.assert_refused(wrong_clock.starting_at(DAY_S), "says 1970-01-02T00:0")
        self.assert_refused(wrong_clock.off_by(-30 * DAY_S))
        self.assert_refused(wrong_clock.starting_at(4_083_955_260), "says 2099-06-01T00:0")
        # Nothing of it stays: with the right clock the next entry has the right time.
        caller, end = self.serve()
        receipt = caller.record(unit(1))
        self.assertLess(abs(receipt.recorded_time.seconds - self.first.recorded_time.seconds), 600)
        end()

    def test_a_clock_that_is_right_after_all_is_taken_and_known_time_never_falls(self):
        caller, end = self.serve(wrong_clock.off_by(3650 * DAY_S), "--clock-is-right")
        later = caller.record(unit(1))
        self.assertGreater(later.recorded_time.seconds,
                           self.first.recorded_time.seconds + 3600 * DAY_S)
        end()
        self.assert_refused(None)
        caller, end = self.serve(None, "--clock-is-right")
        self.assertGreaterEqual(caller.record(unit(2)).recorded_time.ToNanoseconds(),
                                later.recorded_time.ToNanoseconds())
        end()
        self.assertRegex(ferruled("verify", "--depot", self.depot).stdout, "^ok: 3 entries")

    def test_hours_back_and_a_year_of_rest_are_served(self):
        for number, offset in enumerate((-5 * 3600, 400 * DAY_S, 1000 * DAY_S)):
            caller, end = self.serve(wrong_clock.off_by(offset))
            caller.record(unit(number))
            end()
        self.assertRegex(ferruled("verify", "--depot", self.depot).stdout, "^ok: 4 entries")

    def test_an_id_is_good_for_ever_and_counts_once(self):
        refused = entry("refused", "unit_held_for_order { unit: 'K-9' order: 'R-9' firm: true }",
                        enforced=True)

        def refusal(caller):
            with self.assertRaises(grpc.RpcError) as failed:
                caller.record(refused)
            return failed.exception.code(), failed.exception.details()

        caller, end = self.serve()
        receipts = [caller.record(unit(number)) for number in range(5)]
        told = refusal(caller)
        end()
        for years in (1, 2, 12, 40):
            with self.subTest(years):
                caller, end = self.serve(wrong_clock.off_by(365 * years * DAY_S),
                                         "--clock-is-right")
                head = caller.info().head_sequence
                for number, receipt in enumerate(receipts):
                    again = caller.record(unit(number))
                    self.assertTrue(again.repeated)
                    again.repeated = False
                    self.assertEqual(again, receipt)
                self.assertEqual(refusal(caller), told)
                with self.assertRaises(grpc.RpcError) as other:
                    caller.record(unit(0, note="other content"))
                self.assertEqual(other.exception.code(), grpc.StatusCode.INVALID_ARGUMENT)
                self.assertIn("REQUEST_ID_REUSED", other.exception.details())
                self.assertEqual(caller.info().head_sequence, head)
                # What comes in now has the new time, and its id is good from now on.
                self.assertFalse(caller.record(unit(100 + years)).repeated)
                end()
        self.assertRegex(ferruled("verify", "--depot", self.depot).stdout,
                         "^ok: 10 entries")


if __name__ == "__main__":
    unittest.main()
