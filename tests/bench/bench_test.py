"""The measuring program runs to its end on a small depot and reports what it says it reports."""

import json
import os
import subprocess
import unittest

BENCH = os.environ["FERRULE_BENCH"]


def run(*arguments):
    return subprocess.run([BENCH, *arguments], capture_output=True, text=True, timeout=100)


class Bench(unittest.TestCase):
    def test_figures_stand_beside_their_floors(self):
        done = run("--seconds", "0.1", "--repeats", "1", "--units", "100", "record", "get-unit")
        self.assertEqual(done.returncode, 0, done.stderr)
        report = json.loads(done.stdout)
        for section in ("echo_calls_per_s", "rows_sqlite_entries_per_s"):
            self.assertEqual(set(report[section]), {"1", "8", "64"})
            for figure in report[section].values():
                self.assertGreater(figure, 0)
        for section in ("record_sqlite_entries_per_s", "get_unit_calls_per_s"):
            for row in report[section].values():
                self.assertGreater(row["figure"], 0)
                self.assertAlmostEqual(row["share_of_floor"], row["figure"] / row["floor"],
                                       delta=0.02 * row["share_of_floor"] + 0.001)

    def test_cost_is_told_from_size_to_size_for_each_shape(self):
        done = run("--growth", "20000", "--units", "100", "growth")
        self.assertEqual(done.returncode, 0, done.stderr)
        report = json.loads(done.stdout)
        for shape in ("fleet", "fleet_newest", "long_histories"):
            for what in ("cpu_us_per_entry", "us_per_entry", "written_kib_per_entry"):
                for size in ("10000", "20000"):
                    row = report[f"growth_{shape}_{what}"][size]
                    self.assertGreater(row["floor"], 0)
                    self.assertGreater(row["times_floor"], 0.5, row)
            cpu = report[f"growth_{shape}_cpu_us_per_entry"]
            self.assertAlmostEqual(cpu["last_by_first"]["figure"],
                                   cpu["20000"]["figure"] / cpu["10000"]["figure"], delta=0.05)

    def test_ids_that_carry_a_time_go_to_few_pages(self):
        written = {}
        for ids in ("timed", "foreign"):
            done = run("--growth", "20000", "--shape", "fleet_newest", "--ids", ids, "growth")
            self.assertEqual(done.returncode, 0, done.stderr)
            report = json.loads(done.stdout)
            written[ids] = report["growth_fleet_newest_written_kib_per_entry"]["20000"]
        # Of some 90 pages of the index an entry that is filed anywhere changes one more.
        for whose in ("figure", "floor"):
            self.assertGreater(written["foreign"][whose], written["timed"][whose] + 1.5)

    def test_a_mistake_says_what_is_possible(self):
        done = run("ecko")
        self.assertEqual(done.returncode, 2)
        self.assertIn("not known", done.stderr)
        self.assertIn("echo", done.stderr)
        self.assertEqual(run("--seconds", "soon").returncode, 2)
        self.assertIn("timed or foreign", run("--ids", "random", "growth").stderr)


if __name__ == "__main__":
    unittest.main()
