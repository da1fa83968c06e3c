"""Files of rows that are stopped in the middle and go on: nothing is lost, nothing is doubled, and
every bad row is reported once. In a real terminal, where the import says how far it is."""

import csv
import json
import os
import pty
import re
import signal
import subprocess
import sys
import unittest

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
from depot import Depot, FERRULE  # noqa: E402

UNITS = 100
HOURS = 200
# Of a sender that writes tables with semicolons, and remarks over several lines.
SEMICOLONS = """
senders {
  id: "clinic-list" order_prefix: "L-" branch: "north" version_from: VERSION_SOURCE_TIME
  codes { code: "E0935" device_class: "knee" }
  csv { id: "list" kind: IMPORT_KIND_ORDERS delimiter: ";"
    columns { column: "Number" field: "order_number" } columns { column: "Patient" field: "patient" }
    columns { column: "Device" field: "device_code" } columns { column: "Side" field: "side" }
    columns { column: "Written" field: "stated_time" } columns { column: "Why" field: "procedure" }
    columns { column: "Operation" field: "surgery_date" } }
}
"""


def head(depot):
    return int(json.loads(depot.ferrule("info", "--format", "json"))["headSequence"])


class Import(unittest.TestCase):
    def setUp(self):
        self.depot = Depot()
        self.addCleanup(self.depot.close)

    def path(self, name, text):
        path = os.path.join(self.depot.folder.name, name)
        with open(path, "w", newline="", encoding="utf-8") as file:
            file.write(text)
        return path

    def units(self):
        rows = ["unit,model,place,time,meter_h"]
        rows += [f"K-{i:04d},knee-a,north-dock,2026-03-01 08:00,0" for i in range(UNITS)]
        self.depot.ferrule("import", self.path("units.csv", "\r\n".join(rows) + "\r\n"), "--kind",
                           "units")

    def readings(self):
        """A file of readings with a bad row in 997, and the lines of the bad ones."""
        lines = ["unit,time,meter_h"]
        bad = []
        for hour in range(1, HOURS + 1):
            for i in range(UNITS):
                time = f"2026-03-{2 + hour // 24:02d} {hour % 24:02d}:00"
                value = hour / 2
                if len(lines) % 997 == 0:
                    bad.append(len(lines) + 1)
                    value = "half"
                lines.append(f"K-{i:04d},{time},{value}")
        return self.path("readings.csv", "\r\n".join(lines) + "\r\n"), bad

    def stopped(self, words):
        """Runs an import in a terminal and stops it when it has told a second figure."""
        ours, theirs = pty.openpty()
        process = subprocess.Popen(
            [FERRULE, *words], stdin=subprocess.DEVNULL, stdout=theirs, stderr=theirs,
            env={**os.environ, "FERRULE_ACTOR": "clerk-eve", "FERRULE_DEPOT": self.depot.file})
        os.close(theirs)
        said = ""
        while True:
            try:
                more = os.read(ours, 4096).decode()
            except OSError:
                more = ""
            said += more
            if not more or len(set(re.findall(r"(\d+) rows, (\d+) %", said))) >= 2:
                break
        process.send_signal(signal.SIGINT)
        self.assertEqual(process.wait(timeout=60), -signal.SIGINT, said)
        os.close(ours)
        told = [int(rows) for rows, _ in re.findall(r"(\d+) rows, (\d+) %", said)]
        self.assertEqual(told, sorted(told))
        self.assertLess(told[-1], UNITS * HOURS, "it was done before it was stopped")
        return told[-1]

    def test_an_import_that_is_stopped_goes_on_where_it_was(self):
        self.units()
        path, bad = self.readings()
        self.assertGreater(len(bad), 10)
        before = head(self.depot)
        report = os.path.join(self.depot.folder.name, "bad.csv")
        words = ["import", path, "--kind", "readings", "--bad", report]
        first = self.stopped(words)
        second = self.stopped(words)
        done = subprocess.run([FERRULE, *words], capture_output=True, text=True, timeout=300,
                              env={**os.environ, "FERRULE_ACTOR": "clerk-eve",
                                   "FERRULE_DEPOT": self.depot.file})
        self.assertEqual(done.returncode, 0, done.stderr)
        found = re.search(r"goes on at line (\d+), (\d+) rows were read before", done.stderr)
        self.assertTrue(found, done.stderr)
        already = int(found.group(2))
        self.assertGreaterEqual(already, first + second)
        rest = int(re.match(r"(\d+) rows read", done.stdout).group(1))
        self.assertEqual(already + rest, UNITS * HOURS, "the control total of the file")
        self.assertEqual(head(self.depot) - before, UNITS * HOURS - len(bad))
        with open(report, newline="") as file:
            self.assertEqual([int(row["line"]) for row in csv.DictReader(file)], bad)
        again = self.depot.ferrule(*words)
        self.assertRegex(again, rf"^{UNITS * HOURS} rows read: 0 recorded, "
                                rf"{UNITS * HOURS - len(bad)} recorded before")
        self.assertEqual(head(self.depot) - before, UNITS * HOURS - len(bad))

    def test_a_table_with_semicolons_and_texts_over_lines_is_cut_between_its_rows(self):
        self.depot.put_settings(SEMICOLONS, "2026-02")
        lines = ["Number;Patient;Device;Side;Written;Why;Operation"]
        for i in range(1200):
            lines.append(f"N{i};PT{i};E0935;left;2026-03-02 08:00:00;"
                         f"\"total knee,\r\nleft; \"\"first\"\" side {i}\";2026-03-05")
        # The mark of UTF-8, and names in quotes, as spreadsheets write them.
        header = ";".join(f'"{name}"' for name in lines[0].split(";"))
        text = "\ufeff" + "\r\n".join([header, *lines[1:]]) + "\r\n"
        words = ["import", self.path("list.csv", text), "--kind", "orders", "--sender",
                 "clinic-list"]
        self.assertRegex(self.depot.ferrule(*words), r"^1200 rows read: 1200 recorded, 0 recorded")
        order = json.loads(self.depot.ferrule("show", "L-N700", "--format", "json"))
        self.assertIn("left; \\\"first\\\" side 700", json.dumps(order))


if __name__ == "__main__":
    unittest.main()
