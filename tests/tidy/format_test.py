"""Layout: clang-format as .clang-format says."""

import os
import subprocess
import unittest

import tree


class Format(unittest.TestCase):
    maxDiff = None

    def test_sources_are_as_clang_format_lays_them_out(self):
        paths = tree.sources()
        self.assertGreater(len(paths), 50)
        run = subprocess.run(["clang-format", "--dry-run", "-Werror", *paths], cwd=tree.ROOT,
                             capture_output=True, text=True)
        wrong = sorted({line.split(":")[0] for line in run.stderr.splitlines() if ": error:" in line})
        self.assertEqual(wrong, [], "run: clang-format -i " + " ".join(wrong))
        self.assertEqual(run.returncode, 0, run.stderr)

    def test_scripts_are_no_bash_nonsense(self):
        for path in tree.files("deploy") + tree.files("tests", ends=(".sh",)) + [".ci/run"]:
            text = tree.read(path)
            if not text.startswith("#!/bin/bash"):
                continue
            with self.subTest(path):
                self.assertTrue(os.access(os.path.join(tree.ROOT, path), os.X_OK), "not executable")
                self.assertIn("\nset -euo pipefail\n", text)
                subprocess.run(["bash", "-n", path], cwd=tree.ROOT, check=True)


if __name__ == "__main__":
    unittest.main()
