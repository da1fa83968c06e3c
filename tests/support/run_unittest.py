"""Runs a file of unittest cases and writes a report in the form that GoogleTest writes.

    run_unittest.py FILE REPORT

A file with no case in it fails.
"""

import importlib.util
import os
import sys
import unittest
from xml.sax.saxutils import quoteattr


class Result(unittest.TextTestResult):
    """Remembers how each case ended."""

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.bad = {}

    def addError(self, test, err):
        super().addError(test, err)
        self.bad[test.id()] = "error"

    def addFailure(self, test, err):
        super().addFailure(test, err)
        self.bad[test.id()] = "failure"

    def addSubTest(self, test, subtest, err):
        super().addSubTest(test, subtest, err)
        if err is not None:
            self.bad[test.id()] = "failure"

    def addSkip(self, test, reason):
        super().addSkip(test, reason)
        self.bad[test.id()] = "skipped"


def main(path, report):
    if os.path.exists(report):
        os.remove(report)
    sys.path.insert(0, os.path.dirname(os.path.abspath(path)))
    name = os.path.splitext(os.path.basename(path))[0]
    spec = importlib.util.spec_from_file_location(name, path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    suite = unittest.defaultTestLoader.loadTestsFromModule(module)
    result = unittest.TextTestRunner(stream=sys.stdout, verbosity=2, resultclass=Result).run(suite)
    total = result.testsRun
    bad = len(result.bad)
    with open(report, "w", encoding="utf-8") as out:
        out.write('<?xml version="1.0" encoding="UTF-8"?>\n')
        out.write(f'<testsuites tests="{total}" failures="{bad}" disabled="0" errors="0"'
                  f" name={quoteattr(name)}>\n")
        for case, how in sorted(result.bad.items()):
            out.write(f"  <testcase name={quoteattr(case)}><failure message={quoteattr(how)}/>"
                      "</testcase>\n")
        out.write("</testsuites>\n")
    if total == 0:
        print(f"{path} has no test case")
    return 0 if total and not bad and result.wasSuccessful() else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], sys.argv[2]))
