"""HL7 v2 as python3-hl7, an outside reader, reads and answers it: 10,000 generated messages."""

import os
import random
import re
import sys
import unittest

import hl7

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
from probe import Probe  # noqa: E402

MESSAGES = 10_000
# The outside writer's forms for other control bytes are its own; it is no oracle there.
LETTERS = "abcXYZ 019.,;-äß€|^~\\&\r"


def text(rng, longest=12):
    return "".join(rng.choice(LETTERS) for _ in range(rng.randrange(longest)))


WRITER = hl7.parse("MSH|^~\\&|A\r")


def escaped(value):
    """As python3-hl7 escapes with the usual delimiters; it would write a character beyond ASCII as
    the number of its code point, and is no oracle there, so that one is written as it is."""
    return "".join(c if ord(c) > 126 else WRITER.escape(c) for c in value)


def message(rng, number):
    """A message of random texts in random places, escaped by the outside writer."""
    kinds = ["OMG^O19^OMG_O19", "ORM^O01", "OMS^O05^OMS_O05", "ADT^A08"]
    lines = [f"MSH|^~\\&|EHR{number % 7}|CLINIC|DEPOT|HOME|2026030110{number % 60:02d}00||"
             f"{rng.choice(kinds)}|M{number}|P|{rng.choice(['2.3', '2.4', '2.5', '2.5.1'])}"]
    for _ in range(rng.randrange(1, 6)):
        name = rng.choice(["PID", "ORC", "OBR", "OBX", "NTE", "ZZ1"])
        fields = []
        for _ in range(rng.randrange(1, 6)):
            repetitions = []
            for _ in range(rng.randrange(1, 3)):
                components = []
                for _ in range(rng.randrange(1, 4)):
                    parts = [escaped(text(rng)) for _ in range(rng.randrange(1, 3))]
                    components.append("&".join(parts))
                repetitions.append("^".join(components))
            fields.append("~".join(repetitions))
        lines.append(name + "|" + "|".join(fields))
    return "\r".join(lines) + "\r"


def outside(parsed):
    """What the outside reader made of a message: segments of fields of repetitions of components of
    subcomponents, unescaped. A part that it keeps as plain text is wrapped."""
    unescape = parsed.unescape

    def components(repetition):
        if isinstance(repetition, str):
            return [[unescape(repetition)]]
        return [[unescape(str(part)) for part in component]
                if not isinstance(component, str) else [unescape(component)]
                for component in repetition]

    out = []
    for segment in parsed:
        name = str(segment[0])
        fields = [name]
        for i, field in enumerate(segment):
            if i == 0:
                continue
            if name == "MSH" and i <= 2:
                fields.append([[[str(field)]]])
                continue
            fields.append([components(r) for r in field])
        out.append(fields)
    return out


class Hl7Oracle(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.probe = Probe()
        cls.rng = random.Random(20260301)
        # The outside reader takes blanks off the end of a message, but not of other fields; ours
        # keeps all of them where it takes a message apart, and takes no value's blanks at its end
        # for a part of it. A last field without blanks leaves nothing to differ about.
        cls.messages = [message(cls.rng, i).rstrip(" \r") + "|end\r" for i in range(MESSAGES)]

    @classmethod
    def tearDownClass(cls):
        cls.probe.close()

    def test_parses_as_the_outside_reader_does(self):
        for each in self.messages:
            ours = self.probe("parse", text=each)
            self.assertEqual(ours["segments"], outside(hl7.parse(each)), each)

    def test_composes_what_the_outside_reader_reads_the_same(self):
        for each in self.messages[:2_000]:
            composed = self.probe("parse", text=each)["composed"]
            again = self.probe("parse", text=composed)["composed"]
            self.assertEqual(composed, again)

            def trimmed(segments):
                # Trailing empty parts say nothing and are left out when composing.
                def strip(value):
                    if isinstance(value, str):
                        return value
                    parts = [strip(v) for v in value]
                    while len(parts) > 1 and parts[-1] in ("", [], [""], [[""]], [[[""]]]):
                        parts.pop()
                    return parts
                return [strip(s) for s in segments]
            self.assertEqual(trimmed(outside(hl7.parse(composed))),
                             trimmed(outside(hl7.parse(each))))

    def test_escapes_and_unescapes_as_the_outside_writer_does(self):
        for _ in range(MESSAGES):
            plain = text(self.rng, 30)
            self.assertEqual(self.probe("escape", text=plain), escaped(plain))
            self.assertEqual(self.probe("unescape", text=escaped(plain)), plain)

    def test_acknowledges_as_the_outside_program_does(self):
        codes = {1: "AA", 3: "AE"}
        for i, each in enumerate(self.messages):
            state = 1 if i % 3 else 3
            ours = hl7.parse(self.probe("answer", text=each, id=f"A{i}", state=state))
            theirs = hl7.parse(each).create_ack(codes[state], message_id=f"A{i}")
            for field in (1, 2, 3, 4, 5, 6, 10, 11, 12):
                self.assertEqual(str(ours.segment("MSH")[field]), str(theirs.segment("MSH")[field]),
                                 (field, each))
            self.assertTrue(re.match(r"ACK", str(ours.segment("MSH")[9])))
            self.assertEqual(str(ours.segment("MSH")[9]).split("^")[:2],
                             str(theirs.segment("MSH")[9]).split("^")[:2])
            self.assertEqual([str(f) for f in ours.segment("MSA")[1:3]],
                             [str(f) for f in theirs.segment("MSA")[1:3]])


if __name__ == "__main__":
    unittest.main()
