"""Tables as others write them: every case of csv-spectrum 2.0.0 (npm, BSD-2-Clause), and a file of
5,000 rows with 300 bad ones of 30 kinds."""

import csv
import glob
import io
import json
import os
import re
import sys
import unittest

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import packages  # noqa: E402
from depot import Depot  # noqa: E402
from probe import Probe  # noqa: E402


class CsvSpectrum(unittest.TestCase):
    def test_every_case(self):
        probe = Probe()
        cases = sorted(glob.glob(packages.path("csv-spectrum", "csvs", "*.csv")))
        self.assertGreaterEqual(len(cases), 12)
        for path in cases:
            name = os.path.splitext(os.path.basename(path))[0]
            with open(path, encoding="utf-8", newline="") as file:
                records = probe("csv", text=file.read())
            with open(packages.path("csv-spectrum", "json", name + ".json"),
                      encoding="utf-8") as file:
                expected = json.load(file)
            if name == "location_coordinates":
                # The data set's own two files differ in the number; the coordinates are the case.
                self.assertEqual(records[1]["fields"][0], "2095257564")
                expected = [{**expected, "Contact Phone Number": "2095257564"}]
            self.assertEqual([r["wrong"] for r in records], [""] * len(records), name)
            header = records[0]["fields"]
            self.assertEqual([dict(zip(header, r["fields"])) for r in records[1:]], expected, name)
        probe.close()

    def test_what_the_outside_writer_writes_is_read_the_same(self):
        probe = Probe()
        rows = [["a", "b,c", 'd"e', "f\ng", "h\r\ni", " j ", ""], ["ä", "", "", "x", "", "", "y"]]
        for quoting in (csv.QUOTE_MINIMAL, csv.QUOTE_ALL):
            out = io.StringIO(newline="")
            csv.writer(out, quoting=quoting).writerows(rows)
            self.assertEqual([r["fields"] for r in probe("csv", text=out.getvalue())], rows)
        probe.close()


GOOD = {"order_number": "", "patient": "", "device_code": "E0935", "side": "left",
        "stated_time": "2026-03-02 08:00:00", "surgery_date": "2026-03-05",
        "needed_date": "2026-03-06", "length_of_need_days": "21", "flexion_deg": "90",
        "extension_deg": "0", "speed_deg_per_min": "60", "pause_s": "2", "daily_use_h": "6",
        "prescriber": "D-5", "facility": "clinic-2", "control": "", "reason": "",
        "discharge_date": "", "signed_date": "2026-03-01", "authorisation_end_date": "",
        "cover_end_date": "", "branch": "", "device_class": "", "procedure": "", "version": ""}
# Thirty ways in which a row can be wrong, each with the field that must be named.
BAD = [("order_number", ""), ("patient", ""), ("device_code", "E9999"), ("device_code", ""),
       ("side", "up"), ("stated_time", ""), ("stated_time", "yesterday"),
       ("surgery_date", "2026-02-30"), ("surgery_date", "05.03.2026"), ("needed_date", "soon"),
       ("length_of_need_days", "0"), ("length_of_need_days", "three"),
       ("length_of_need_days", "999"), ("flexion_deg", "900"), ("flexion_deg", "ninety"),
       ("extension_deg", "-90"), ("speed_deg_per_min", "0"), ("speed_deg_per_min", "fast"),
       ("pause_s", "-1"), ("daily_use_h", "25"), ("daily_use_h", "nan"),
       ("prescriber", "x" * 65), ("facility", "y" * 65), ("control", "maybe"),
       ("discharge_date", "2026-13-01"), ("signed_date", "2026-00-10"),
       ("authorisation_end_date", "x"), ("cover_end_date", "2026-04-31"), ("branch", "no where"),
       ("procedure", "z" * 501)]


def row_file():
    lines = [",".join(GOOD)]
    wrong = {}
    for i in range(5000):
        row = dict(GOOD, order_number=f"N{i}", patient=f"PT{i}")
        if i % 16 == 3 and len(wrong) < 300:
            field, value = BAD[len(wrong) % len(BAD)]
            row[field] = value
            wrong[i + 2] = field
        lines.append(",".join(row.values()))
    return "\r\n".join(lines) + "\r\n", wrong


def head(depot):
    """The last position in the ledger."""
    return json.loads(depot.ferrule("info", "--format", "json"))["headSequence"]


class Rows(unittest.TestCase):
    def test_good_rows_go_in_bad_ones_are_named_and_again_adds_nothing(self):
        """Exception 92."""
        self.assertEqual(len(BAD), 30)
        text, wrong = row_file()
        self.assertEqual(len(wrong), 300)
        depot = Depot()
        try:
            path = os.path.join(depot.folder.name, "orders.csv")
            bad = os.path.join(depot.folder.name, "bad.csv")
            with open(path, "w", newline="") as file:
                file.write(text)
            words = ["import", path, "--kind", "orders", "--sender", "clinic-ehr", "--bad", bad]
            self.assertIn("4700 would be recorded", depot.ferrule(*words, "--check"))
            said = depot.ferrule(*words)
            self.assertRegex(said, r"^5000 rows read: 4700 recorded, 0 recorded before, ")
            with open(bad, newline="") as file:
                named = {int(r["line"]): r["field"] for r in csv.DictReader(file)}
            self.assertEqual(named, wrong)
            before = head(depot)
            again = depot.ferrule(*words, "--again")
            self.assertRegex(again, r"^5000 rows read: 0 recorded, ")
            self.assertEqual(before, head(depot))
            # The bad rows put right: only they are new.
            fixed = [line for line in text.split("\r\n") if line]
            for number in list(wrong)[:30]:
                fixed[number - 1] = ",".join(
                    dict(GOOD, order_number=f"FIX{number}", patient=f"PX{number}").values())
            with open(path, "w", newline="") as file:
                file.write("\r\n".join(fixed) + "\r\n")
            said = depot.ferrule(*words)
            self.assertEqual(int(re.search(r"(\d+) recorded,", said).group(1)), 30)
        finally:
            depot.close()


if __name__ == "__main__":
    unittest.main()
