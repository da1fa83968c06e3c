"""A line that cuts, swallows, tears and delays: the short form of lossy.py."""

import unittest

import lossy


class Lossy(unittest.TestCase):
    def test_every_outcome_is_settled_once_over_a_line_that_loses(self):
        found = lossy.lossy(["--seconds", "8"])
        self.assertEqual(found["wrong"], [])
        self.assertEqual(found["exit_code"], 0)
        self.assertRegex(found["verify"], "^ok")
        # The line must have been bad, and answers must have been lost after the entry was recorded.
        self.assertGreater(found["line"]["cuts"], 10)
        self.assertGreater(found["line"]["swallows"], 10)
        self.assertGreater(found["sent again"], 10)
        self.assertGreater(found["found done"], 0)
        self.assertGreater(found["acknowledged"], 50)


if __name__ == "__main__":
    unittest.main()
