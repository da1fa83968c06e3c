"""Three other programs judge 10,000 element strings beside ours: bwip-js, libzint, python3-stdnum.

They agree with ours, or differ in a way that the standard explains; the differences are counted, and
a new kind of difference fails.
"""

import collections
import datetime
import decimal
import json
import os
import pathlib
import random
import shutil
import subprocess
import unittest

from stdnum import ean, gs1_128
from stdnum.exceptions import ValidationError
from stdnum.iso7064 import mod_37_36

HERE = pathlib.Path(__file__).parent
BUILD = pathlib.Path(os.environ["FERRULE_BINARY_DIR"]) / "oracle" / "label"
ANSWERS = os.environ["LABEL_ANSWERS"]
COUNT = 10_000
SEPARATOR = "\x1d"
# Values with these end by their length (GS1 General Specifications; check-listed in the dictionary).
FIXED = {"00", "01", "02", "11", "13", "15", "16", "17", "20"} | {"310%d" % n for n in range(6)}
X82 = ("!\"%&'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_"
       "abcdefghijklmnopqrstuvwxyz")


def node_modules():
    """Installs bwip-js as oracle/package-lock.json says, once."""
    if not (BUILD / "node_modules" / "bwip-js").is_dir():
        BUILD.mkdir(parents=True, exist_ok=True)
        for name in ("package.json", "package-lock.json"):
            shutil.copy(HERE / "oracle" / name, BUILD / name)
        subprocess.run(["npm", "ci", "--ignore-scripts", "--no-audit", "--no-fund"], cwd=BUILD,
                       check=True, stdout=subprocess.DEVNULL, timeout=100)
    return BUILD


def ask(command, questions):
    text = "".join(json.dumps(question) + "\n" for question in questions)
    done = subprocess.run(command, input=text, capture_output=True, text=True, check=True)
    lines = done.stdout.splitlines()
    assert len(lines) == len(questions), done.stderr
    return lines


def bwip(questions):
    return ask(["node", str(HERE / "oracle" / "verdicts.mjs"), str(node_modules())], questions)


def ours(questions):
    return [json.loads(line) for line in ask([ANSWERS], questions)]


class Maker:
    """Element strings out of a seed: right ones, and right ones spoilt in one place."""

    def __init__(self, seed):
        self.random = random.Random(seed)

    def digits(self, count):
        return "".join(self.random.choice("0123456789") for _ in range(count))

    def keyed(self, count):
        body = self.digits(count - 1)
        return body + ean.calc_check_digit(body)

    def text(self, most, start=""):
        room = most - len(start)
        return start + "".join(self.random.choice(X82)
                               for _ in range(self.random.randint(1, room)))

    def day(self):
        date = datetime.date(2000, 1, 1) + datetime.timedelta(self.random.randrange(27_000))
        text = date.strftime("%y%m%d")
        return text[:4] + "00" if self.random.random() < 0.1 else text

    def value(self, code):
        if code == "00":
            return self.keyed(18)
        if code in ("01", "02"):
            return self.keyed(14)
        if code in ("11", "13", "15", "16", "17"):
            return self.day()
        if code == "20":
            return self.digits(2)
        if code == "7003":
            text = self.day()
            text = text[:4] + "15" if text.endswith("00") else text
            return text + "%02d%02d" % (self.random.randrange(24), self.random.randrange(60))
        if code == "8003":
            body = "0" + self.digits(12)
            key = body + ean.calc_check_digit(body)
            return key + (self.text(16) if self.random.random() < 0.7 else "")
        if code == "8004":
            return self.text(30, self.digits(self.random.randint(4, 12)))
        if code in ("30", "37"):
            return self.digits(self.random.randint(1, 8))
        if code.startswith("310"):
            return self.digits(6)
        return self.text({"10": 20, "21": 20, "22": 20, "235": 28, "8012": 20}.get(code, 30))

    def right(self):
        kind = self.random.random()
        if kind < 0.15:
            codes = ["8004"] if kind < 0.1 else ["8003"]
        elif kind < 0.2:
            codes = ["00"]
        elif kind < 0.25:
            codes = ["00", "02", "37"] + self.random.sample(["10", "17"], 1)
        else:
            codes = self.random.sample(["10", "11", "13", "15", "16", "17", "20", "21", "22", "240",
                                        "241", "250", "30", "3103", "7003", "8012"],
                                       self.random.randint(0, 4))
            if "21" not in codes and self.random.random() < 0.1:
                codes.append("235")
            if "250" in codes and "21" not in codes:
                codes.append("21")
            if "235" in codes and "21" in codes:
                codes.remove("235")
            codes.insert(self.random.randint(0, len(codes)), "01")
        return [[code, self.value(code)] for code in codes]

    def spoilt(self):
        pairs = self.right()
        at = self.random.randrange(len(pairs))
        code, value = pairs[at]
        how = self.random.randrange(7)
        if how == 0:  # another digit or character somewhere
            place = self.random.randrange(len(value))
            value = value[:place] + self.random.choice("0123456789ABC") + value[place + 1:]
        elif how == 1:  # one too few
            value = value[:-1]
        elif how == 2:  # one, or many, too many
            value += self.random.choice("0A") * self.random.choice((1, 30))
        elif how == 3:  # outside the 82 characters
            place = self.random.randrange(len(value) + 1)
            value = value[:place] + self.random.choice("^$ @#~") + value[place:]
        elif how == 4:  # an identifier that nobody knows
            code = self.random.choice(["05", "18", "99999", "1", "8999", "66"])
        elif how == 5:  # no companion
            pairs = [pair for pair in pairs if pair[0] not in ("01", "02")] or pairs
            return pairs
        else:  # the same twice, differing
            pairs = pairs + [[code, self.value(code)]]
            return pairs
        pairs = [list(pair) for pair in pairs]
        pairs[at] = [code, value]
        return pairs


def bracketed(pairs):
    return "".join("(%s)%s" % (code, value.replace("(", "\\(")) for code, value in pairs)


def for_bwip(pairs):
    """Its form of the same: characters by number where they mean something else to it."""
    def escape(value):
        return "".join("^%03d" % ord(c) if c in "(^" else c for c in value)
    return "".join("(%s)%s" % (code, escape(value)) for code, value in pairs)


def elements(pairs):
    text = ""
    for i, (code, value) in enumerate(pairs):
        text += code + value
        if code not in FIXED and i + 1 < len(pairs):
            text += SEPARATOR
    return text


NO_PREFIX = ("an asset identifier that does not begin with four digits: it begins with a company "
             "prefix (GS1 General Specifications), which they do not look at")


def no_prefix(case):
    return any(code == "8004" and not value[:4].isdigit() for code, value in case)


class TenThousand(unittest.TestCase):

    @classmethod
    def setUpClass(cls):
        maker = Maker(20260401)
        cls.cases = [maker.right() if i % 5 < 3 else maker.spoilt() for i in range(COUNT)]
        cls.ours = ours([{"kind": "bracketed", "text": bracketed(c), "values": c}
                         for c in cls.cases])
        cls.elements = ours([{"kind": "elements", "text": elements(c)} for c in cls.cases])

    def test_bwip_js_accepts_what_we_accept(self):
        verdicts = bwip([{"kind": "gs1", "text": for_bwip(c)} for c in self.cases])
        reasons = collections.Counter()
        accepted = 0
        for case, mine, verdict in zip(self.cases, self.ours, verdicts):
            good = mine["ok"] and mine["companions"] == 0
            accepted += good
            if good == (verdict == "ok"):
                continue
            reasons[self.explain_bwip(case, mine, verdict)] += 1
        print("bwip-js: %d accepted of %d, differing: %s" % (accepted, COUNT, dict(reasons)))
        self.assertGreater(accepted, 5_000)
        self.assertLess(accepted, 8_000)
        self.assertEqual([r for r in reasons if r.startswith("unexplained")], [])

    def explain_bwip(self, case, mine, verdict):
        if verdict == "ok" and no_prefix(case):
            return NO_PREFIX
        return "unexplained: %s: ours %s, theirs %s" % (case, mine, verdict)

    def test_libzint_encodes_what_we_accept(self):
        reasons = collections.Counter()
        for case, mine in zip(self.cases, self.ours):
            if mine["ok"] == (mine["zint"] == 0):
                continue
            reasons[self.explain_zint(case, mine)] += 1
        print("libzint: differing: %s" % dict(reasons))
        self.assertEqual([r for r in reasons if r.startswith("unexplained")], [])

    def explain_zint(self, case, mine):
        if mine["zint"] == 0 and no_prefix(case):
            return NO_PREFIX
        return "unexplained: %s: ours %s" % (case, mine)

    def test_stdnum_reads_the_same_values(self):
        """It is given the form with separators alone: it drops brackets."""
        reasons = collections.Counter()
        compared = 0
        for case, mine in zip(self.cases, self.elements):
            if not mine["ok"] or mine["companions"] < 0:  # it keeps one of two values alone
                continue
            try:
                theirs = gs1_128.info(elements(case), SEPARATOR)
            except ValidationError as error:
                reasons[self.explain_refusal(case, error)] += 1
                continue
            compared += 1
            for code, value, date in mine["elements"]:
                reason = self.explain_value(code, value, date, theirs, case)
                if reason:
                    reasons[reason] += 1
        print("python3-stdnum: %d read by both, differing: %s" % (compared, dict(reasons)))
        self.assertGreater(compared, 5_000)
        self.assertEqual([r for r in reasons if r.startswith("unexplained")], [])

    def explain_refusal(self, case, error):
        if any(set(value) <= set("()") for _, value in case):
            return "a value of brackets alone, which it drops"
        return "unexplained: %s: %s" % (case, type(error).__name__)

    def explain_value(self, code, value, date, all_theirs, case):
        theirs = all_theirs.get(code)
        if code.startswith("310"):  # it gives the weight, under the first three digits
            theirs = all_theirs.get("310")
            if theirs == decimal.Decimal(value).scaleb(-int(code[3])):
                return None
            if theirs is None:
                return "a weight beside another variable one, which it leaves out"
        if date and isinstance(theirs, datetime.date):
            day = theirs.date() if isinstance(theirs, datetime.datetime) else theirs
            if day.isoformat() == date:
                return None
            if day.isoformat()[2:] == date[2:]:
                return "century of a two-digit year: it takes 69 and more as 1900, GS1 the nearest"
            return "unexplained: date %s: %s, theirs %s" % (value, date, theirs)
        if theirs == value or (isinstance(theirs, int) and theirs == int(value)):
            return None
        if theirs == value.replace("(", "").replace(")", ""):
            return "brackets in a value, which are data and which it drops"
        if any(set(one) <= set("()") for _, one in case):
            return "a value of brackets alone, which it drops"
        return "unexplained: (%s)%s, theirs %r" % (code, value, theirs)


class OtherTexts(unittest.TestCase):

    def test_hibc_check_characters_as_bwip_js_wants_them(self):
        """The published example ends in C; the right character is H."""
        body = ("+H123PARTNO1234567890120/$$420020216LOT123456789012345/SXYZ456789012345678"
                "/16D20130202")
        texts = [body[1:] + c for c in "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-. $/+%"]
        texts += ["A123BJC5D6E71" + c for c in "ABCDEFGH"]
        theirs = bwip([{"kind": "hibc", "text": text} for text in texts])
        mine = ours([{"kind": "hibc", "text": "+" + text} for text in texts])
        for text, verdict, answer in zip(texts, theirs, mine):
            self.assertEqual(answer["ok"], verdict == "ok", text)
        self.assertEqual(sum(answer["ok"] for answer in mine), 2)

    def test_links_as_bwip_js_reads_them(self):
        texts = ["https://id.example.org/01/09506000134352/10/ABC/21/12345?17=261231",
                 "https://id.example.org/01/09506000134353",
                 "https://id.example.org/8004/4012345K-0417",
                 "https://id.example.org/01/09506000134352?17=261331",
                 "https://id.example.org/path/01/09506000134352/22/2A",
                 "https://id.example.org/"]
        theirs = bwip([{"kind": "link", "text": text} for text in texts])
        mine = ours([{"kind": "link", "text": text} for text in texts])
        self.assertEqual([answer["ok"] for answer in mine], [verdict == "ok" for verdict in theirs])

    def test_check_characters_of_tags_as_stdnum_computes_them(self):
        chance = random.Random(7)
        tags = ["".join(chance.choice("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ")
                        for _ in range(chance.randint(1, 20))) for _ in range(2_000)]
        mine = ours([{"kind": "tag", "text": tag} for tag in tags])
        self.assertEqual([answer["check"] for answer in mine],
                         [mod_37_36.calc_check_digit(tag) for tag in tags])


if __name__ == "__main__":
    unittest.main()
