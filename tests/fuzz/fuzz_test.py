"""The fuzz targets over their corpus, and for a few seconds from there on."""

import os
import pathlib
import subprocess
import tempfile
import unittest

CORPUS = pathlib.Path(__file__).parent / "corpus"
FOLDER = pathlib.Path(os.environ["FUZZ_FOLDER"])


class Fuzz(unittest.TestCase):

    def run_target(self, name, runs):
        seeds = CORPUS / name
        self.assertGreater(len(list(seeds.iterdir())), 3)
        with tempfile.TemporaryDirectory() as fresh:
            done = subprocess.run(
                [FOLDER / ("fuzz_" + name), fresh, seeds, "-seed=1", "-runs=%d" % runs,
                 "-max_len=2048", "-timeout=10", "-artifact_prefix=%s/" % fresh],
                capture_output=True, text=True, errors="replace", timeout=100)
            found = [path for path in pathlib.Path(fresh).iterdir()
                     if path.name.startswith(("crash-", "timeout-", "oom-", "leak-"))]
            inputs = [path.read_bytes() for path in found]
        self.assertEqual(done.returncode, 0, "%r\n%s" % (inputs, done.stderr[-4000:]))
        self.assertIn("DONE", done.stderr)

    def test_labels(self):
        self.run_target("label", 30_000)

    def test_lines_of_the_station(self):
        self.run_target("station", 30_000)

    def test_settings(self):
        self.run_target("settings", 2_000)

    def test_tables(self):
        self.run_target("csv", 30_000)

    def test_frames(self):
        self.run_target("mllp", 30_000)

    def test_hl7_messages(self):
        self.run_target("hl7", 10_000)

    def test_fhir_resources(self):
        self.run_target("fhir", 5_000)


if __name__ == "__main__":
    unittest.main()
