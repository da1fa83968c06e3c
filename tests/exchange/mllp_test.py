"""HL7 messages over MLLP into the real server: framing, acknowledgements, and senders that err."""

import json
import os
import sys
import unittest

import hl7

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
from depot import Depot, Sender  # noqa: E402


def order(number, control="NW", minute=0, header="", what="E0935", side="LT", application="EHR",
          kind="OMG^O19", processing="P"):
    fields = "|" * 40 + "|" + side
    return (f"MSH|^~\\&|{application}|CLINIC|DEPOT|HOME|202603011{minute // 60:01d}{minute % 60:02d}00"
            f"-0500||{kind}|M-{number}-{control}-{minute}|{processing}|2.5.1{header}\r"
            f"PID|1||PT-{number}||DOE^JANE\rORC|{control}|{number}\rOBR|1|||{what}{fields}\r")


def code(answer):
    return str(hl7.parse(answer).segment("MSA")[1])


def location(answer):
    error = hl7.parse(answer).segment("ERR")
    return str(error[2]), str(error[3]).split("^")[0], str(error[4])


class Mllp(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.depot = Depot()
        cls.depot.serve()

    @classmethod
    def tearDownClass(cls):
        cls.depot.close()

    def setUp(self):
        self.sender = Sender(self.depot.hl7)

    def tearDown(self):
        self.sender.close()

    def status(self, number, prefix="E-"):
        return self.depot.ferrule("show", "orders/" + prefix + number)

    def test_an_order_is_taken_and_answered(self):
        answer = self.sender.ask(order("A1"))
        self.assertEqual(code(answer), "AA")
        self.assertEqual(str(hl7.parse(answer).segment("MSA")[2]), "M-A1-NW-0")
        self.assertIn("E-A1", self.status("A1"))
        self.assertNotIn("JANE", self.status("A1"))

    def test_framing_split_at_every_byte(self):
        for cut in range(1, len(order("SPLIT")) + 2):
            whole = b"\x0b" + order("SPLIT").encode() + b"\x1c\r"
            self.sender.send_bytes(whole[:cut])
            self.sender.send_bytes(whole[cut:])
            self.assertEqual(code(self.sender.receive()), "AA", cut)

    def test_several_messages_in_one_piece_are_answered_in_order(self):
        self.sender.send_bytes(b"".join(
            b"\x0b" + order(f"P{i}").encode() + b"\x1c\r" for i in range(5)))
        for i in range(5):
            self.assertEqual(str(hl7.parse(self.sender.receive()).segment("MSA")[2]),
                             f"M-P{i}-NW-0")

    def test_a_message_of_ten_megabytes_is_refused_and_the_connection_lives(self):
        large = order("LARGE") + "NTE|1||" + "x" * 10_000_000 + "\r"
        answer = self.sender.ask(large)
        self.assertEqual(code(answer), "AR")
        self.assertIn("10000", answer)
        self.assertEqual(code(self.sender.ask(order("AFTER-LARGE"))), "AA")

    def test_a_message_of_two_megabytes_is_taken(self):
        self.assertEqual(code(self.sender.ask(order("BIG") + "NTE|1||" + "x" * 2_000_000 + "\r")),
                         "AA")

    def test_a_wrong_character_set_is_named(self):
        answer = self.sender.ask(order("CS").encode() + b"NTE|1||M\xfcller\r")
        self.assertEqual(code(answer), "AE")
        self.assertEqual(location(answer)[:2], ("MSH^1^18", "103"))
        answer = self.sender.ask(order("CS2", header="||||||KS X 1001"))
        self.assertEqual(location(answer)[:2], ("MSH^1^18", "103"))
        latin = order("CS3", header="||||||8859/1").encode() + b"NTE|1||M\xfcller\r"
        self.assertEqual(code(self.sender.ask(latin)), "AA")

    def test_a_missing_msh_is_answered(self):
        answer = self.sender.ask("PID|1||PT1\r")
        self.assertEqual(code(answer), "AR")
        self.assertEqual(code(self.sender.ask(order("AFTER-MSH"))), "AA")
        self.assertEqual(code(self.sender.ask("")), "AR")

    def test_other_delimiters_are_read_and_answered_in_kind(self):
        text = order("DELIM")
        swapped = text.translate(str.maketrans("|^~\\&", "#*!+$"))
        answer = self.sender.ask(swapped)
        self.assertTrue(answer.startswith("MSH#*!+$#DEPOT#HOME#EHR#CLINIC#"), answer)
        self.assertIn("MSA#AA#M-DELIM-NW-0", answer)
        self.assertIn("E-DELIM", self.status("DELIM"))

    def test_errors_name_the_field(self):
        cases = [(order("", "NW"), "AE", ("ORC^1^2", "101", "E")),
                 (order("X1", what=""), "AE", ("OBR^1^4", "101", "E")),
                 (order("X2", "ZZ"), "AE", ("ORC^1^1", "103", "E")),
                 (order("X3", kind="ORU^R01"), "AR", ("MSH^1^9^1^1", "200", "E")),
                 (order("X4", kind="OMG^O99"), "AR", ("MSH^1^9^1^2", "201", "E")),
                 (order("X5", processing="T"), "AR", ("MSH^1^11", "202", "E")),
                 (order("X6", what="E9999"), "AA", ("OBR^1^4^1^1", "103", "W"))]
        for text, wanted, error in cases:
            answer = self.sender.ask(text)
            self.assertEqual(code(answer), wanted, answer)
            self.assertEqual(location(answer), error, answer)

    def test_enhanced_mode_answers_what_is_asked_for(self):
        self.sender.send(order("EN1", header="|||AL|AL"))
        self.assertEqual(code(self.sender.receive()), "CA")
        self.assertEqual(code(self.sender.receive()), "AA")
        self.sender.send(order("EN2", header="|||AL|NE"))
        self.assertEqual(code(self.sender.receive()), "CA")
        self.sender.send(order("EN3", header="|||NE|NE"))
        self.sender.send(order("", header="|||ER|ER"))
        self.assertEqual(code(self.sender.receive()), "CE")
        self.assertEqual(code(self.sender.receive()), "AE")
        self.assertIn("E-EN3", self.status("EN3"))

    def test_the_same_message_again_gets_the_same_answer(self):
        first = self.sender.ask(order("SAME"))
        again = self.sender.ask(order("SAME"))
        self.assertEqual(first.split("\r")[1:], again.split("\r")[1:])

    def test_a_sender_that_goes_away_hurts_nobody(self):
        for part in (b"", b"\x0b", b"\x0bMSH|", b"\x0b" + order("GONE").encode()):
            other = Sender(self.depot.hl7)
            other.send_bytes(part)
            other.close()
        self.assertEqual(code(self.sender.ask(order("STILL"))), "AA")

    def test_the_queue_is_shown_and_cured_by_new_settings(self):
        self.sender.ask(order("Q1", what="E0936"))
        listed = self.depot.ferrule("queue")
        self.assertIn("E0936", listed)
        self.assertIn("OBR-4.1", listed)

    def test_a_message_whose_order_is_held_for_a_matter_is_not_erased(self):
        self.sender.ask(order("HELD"))
        shown = self.depot.ferrule("--format", "json", "queue", "--state", "applied")
        name = next(m["name"] for m in json.loads(shown)["messages"] if "E-HELD" in m["orders"])
        erase = ("queue", "erase", name, "--because", "retention has ended")
        self.depot.ferrule("records-hold", "E-HELD", "claim-4", "the payer disputes a claim")
        said = self.depot.ferrule(*erase, status=1)
        self.assertIn("held for claim-4", said)
        self.assertIn("ferrule records-release", said)
        self.assertIn("DOE^JANE", self.depot.ferrule("queue", "show", name, "--content"))
        self.depot.ferrule("records-release", "E-HELD", "claim-4", "settled")
        self.depot.ferrule(*erase)
        shown = self.depot.ferrule("queue", "show", name, "--content")
        self.assertIn("its bytes were erased", shown)
        self.assertNotIn("JANE", shown)


if __name__ == "__main__":
    unittest.main()
