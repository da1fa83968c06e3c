"""The measuring program runs to its end on a small depot and reports what it says it reports."""

import json
import os
import subprocess
import unittest

BENCH = os.environ["FERRULE_BENCH"]


def run(*arguments):
    return subprocess.run([BENCH, *arguments], capture_output=True, text=True, timeout=100)


class Bench(unittest.TestCase):
    def test_floors_are_reported(self):
        done = run("--seconds", "0.1", "--repeats", "1", "echo", "sqlite")
        self.assertEqual(done.returncode, 0, done.stderr)
        report = json.loads(done.stdout)
        for section in ("echo_calls_per_s", "sqlite_group_commit_entries_per_s"):
            self.assertEqual(set(report[section]), {"1", "8", "64"})
            for figure in report[section].values():
                self.assertGreater(figure, 0)

    def test_a_mistake_says_what_is_possible(self):
        done = run("ecko")
        self.assertEqual(done.returncode, 2)
        self.assertIn("not known", done.stderr)
        self.assertIn("echo", done.stderr)
        self.assertEqual(run("--seconds", "soon").returncode, 2)


if __name__ == "__main__":
    unittest.main()
