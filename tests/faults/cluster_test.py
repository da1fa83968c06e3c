"""Three servers on one database under kills and restarts: the short form of cluster_storm.py."""

import unittest

import cluster_storm


class Cluster(unittest.TestCase):
    def test_nothing_acknowledged_is_lost_doubled_or_half_applied(self):
        found = cluster_storm.storm(["--seconds", "20", "--callers", "16", "--restart-every", "6"])
        self.assertEqual(found["anomalies"], {}, found["examples"])
        # The storm must have blown.
        self.assertGreater(found["kills"], 3)
        self.assertGreaterEqual(found["database_restarts"], 1)
        self.assertGreater(found["recorded"], 100)
        self.assertGreater(found["refused"], 0)
        self.assertGreater(found["unknown_outcomes"], 0)


if __name__ == "__main__":
    unittest.main()
