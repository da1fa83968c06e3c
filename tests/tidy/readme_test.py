"""The tour of README.md prints what the page says that it prints."""

import unittest

import tour


class Readme(unittest.TestCase):
    maxDiff = None

    def test_the_tour_prints_what_the_page_says(self):
        with open(tour.PAGE, encoding="utf-8") as file:
            steps = tour.steps_of(file.read())
        self.assertGreater(len(steps), 12)
        outputs = tour.run(steps)
        self.assertEqual(len(outputs), len(steps))
        for (command, expected), printed in zip(steps, outputs):
            with self.subTest(command):
                self.assertEqual(tour.alike(printed), tour.alike(expected),
                                 "when it is right: tests/tidy/tour.py --write")


if __name__ == "__main__":
    unittest.main()
