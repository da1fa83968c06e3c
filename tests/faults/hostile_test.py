"""Hostile peers before the front that deploy/nghttpx.conf describes, shortly: hostile.py has more."""

import unittest

import hostile

MOST_MIB = 512  # half of the unit's MemoryMax


class Hostile(unittest.TestCase):
    def test_behind_the_front_memory_stays_and_others_are_served(self):
        found = hostile.hostile(["--front", "--seconds", "3", "--only", "rapid", "garbage", "large"])
        self.assertTrue(found["alive_after"])
        self.assertEqual(found["exit_code"], 0)
        for name in ("rapid", "garbage", "large"):
            with self.subTest(name):
                self.assertLess(found[name]["peak_mib"], MOST_MIB)
                self.assertEqual(found[name]["honest"]["failed"], 0)
                self.assertLess(found[name]["honest"]["p99_ms"], 1000)
        # The peers must have been at it.
        self.assertGreater(found["rapid"]["peer"]["resets"], 10_000)
        self.assertGreater(found["garbage"]["peer"]["connections"], 100)
        self.assertGreater(found["large"]["peer"]["answers"].get("RESOURCE_EXHAUSTED", 0), 0)


if __name__ == "__main__":
    unittest.main()
