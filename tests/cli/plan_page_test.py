"""The pages of the planner as a browser shows them: whole, silent on its console, at the width of a
phone and of a desk, in light and in dark."""

import os
import re
import subprocess
import tempfile
import unittest

FERRULE = os.environ["FERRULE_BIN"]
BROWSER = ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars",
           "--enable-logging=stderr", "--virtual-time-budget=2000"]


class Pages(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.TemporaryDirectory()
        cls.depot = os.path.join(cls.folder.name, "demo.ferrule")
        cls.run_ferrule("demo", "--years", "1", "--units", "40", "--seed", "3")

    @classmethod
    def tearDownClass(cls):
        cls.folder.cleanup()

    @classmethod
    def run_ferrule(cls, *words):
        return subprocess.run([FERRULE, *words, "--depot", cls.depot], check=True,
                              capture_output=True, text=True).stdout

    def browse(self, page, *flags):
        """What the browser makes of a page, after its console was found silent."""
        done = subprocess.run([*BROWSER, f"--user-data-dir={self.folder.name}/profile", *flags,
                               "file://" + page], capture_output=True, text=True, timeout=120,
                              cwd=self.folder.name)
        self.assertNotIn("CONSOLE", done.stderr)
        return done.stdout

    def page_of(self, *words):
        page = os.path.join(self.folder.name, words[0] + ".html")
        self.run_ferrule(*words, "--html", page)
        return page

    def test_every_page_is_drawn(self):
        for words in (("forecast", "--known-at", "2024-12-20T12:00:00Z"),
                      ("fleet-size", "--known-at", "2024-12-20T12:00:00Z", "--class", "knee", "--paths", "200"),
                      ("measures", "--known-at", "2024-12-20T12:00:00Z"), ("board",)):
            with self.subTest(page=words[0]):
                page = self.page_of(*words)
                dom = self.browse(page, "--dump-dom")
                self.assertRegex(dom, r"<h1>[^<]+</h1>")
                pictures = re.findall(r"<svg[^>]*role=\"img\"[^>]*>.*?</svg>", dom, re.S)
                self.assertGreater(len(pictures), 0)
                for picture in pictures:
                    self.assertRegex(picture, r"<title id=\"t\d+\">[^<]+</title>")
                    self.assertRegex(picture, r"<desc id=\"d\d+\">[^<]+</desc>")
                self.assertIn("<table>", dom)

    def test_a_page_fits_phone_and_desk(self):
        page = self.page_of("forecast", "--known-at", "2024-12-20T12:00:00Z", "--class", "knee")
        for name, flags in (("phone", ["--window-size=390,844"]), ("desk", ["--window-size=1200,900"]),
                            ("dark", ["--window-size=900,900", "--force-dark-mode",
                                      "--blink-settings=preferredColorScheme=0"])):
            with self.subTest(size=name):
                shot = os.path.join(os.environ.get("FERRULE_SHOTS", self.folder.name), name + ".png")
                self.browse(page, *flags, f"--screenshot={shot}")
                self.assertGreater(os.path.getsize(shot), 10_000)


if __name__ == "__main__":
    unittest.main()
