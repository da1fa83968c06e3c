"""A reader that holds up the checkpoint for seconds: the short form of long_reader.py."""

import unittest

import long_reader


class LongReader(unittest.TestCase):
    def test_the_log_grows_while_one_reads_and_is_short_again_afterwards(self):
        found = long_reader.long_reader(8)
        self.assertEqual(found["failed"], [])
        self.assertEqual(found["wrong"], [])
        self.assertRegex(found["verify"], "^ok")
        self.assertEqual(found["exit_code"], 0)
        self.assertEqual(*found["reader_saw"])
        self.assertFalse(found["log_left_when_ended"])
        # It must have stood in the way: of 64 MiB the log begins anew else.
        self.assertGreater(found["log_mib_while_read"], 64 * 1.1, found)
        self.assertLess(found["log_mib_after"], 2 * long_reader.LOG_LIMIT / (1 << 20))


if __name__ == "__main__":
    unittest.main()
