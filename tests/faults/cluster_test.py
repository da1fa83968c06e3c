"""Three servers on one database under kills and restarts: the short form of cluster_storm.py."""

import os
import tempfile
import unittest

import cluster_storm
from caller import START_S, Caller, entry, settings, unit
from depot_servers import Postgres, Server


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

    def test_what_one_server_acknowledged_the_other_answers_with_at_once(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        postgres = Postgres()
        self.addCleanup(postgres.end)
        callers = []
        for name in ("a", "b"):
            server = Server(["--postgres", postgres.conninfo, "--create"],
                            os.path.join(folder.name, name)).start()
            self.addCleanup(server.end)
            callers.append(Caller(server.address))
            self.addCleanup(callers[-1].close)
        callers[0].record(settings())
        callers[0].record(unit(1))
        places = ("north-bench", "north-dock")
        for number in range(40):
            one, other = callers[number % 2], callers[(number + 1) % 2]
            other.unit(1)  # which it may keep, but not believe
            place = places[number % 2]
            one.record(entry(f"move-{number}", f"unit_moved {{ unit: 'K-1' to_place: '{place}' }}",
                             at=START_S + 60 * (number + 1)))
            self.assertEqual(other.unit(1).unit.place, place, number)


if __name__ == "__main__":
    unittest.main()
