"""Counts the cases that ctest's programs ran and ends with "N passed, N failed".

    count.py BUILD[:LABEL]...

A program that wrote no report (it died, or ran into its time limit), one that ran no case, and one
that ended badly although its cases passed (a leak, a race) count as one failed case each. Exit code
1 when anything failed or nothing passed.
"""

import json
import os
import subprocess
import sys
import xml.etree.ElementTree


def tests_of(build, label):
    """Names of the tests that ctest knows, with that label if any."""
    command = ["ctest", "--test-dir", build, "--show-only=json-v1"]
    if label:
        command += ["-L", f"^{label}$"]
    found = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
    return [test["name"] for test in found["tests"]]


def ended_badly(build):
    """Names of the tests that ctest saw fail."""
    path = os.path.join(build, "Testing", "Temporary", "LastTestsFailed.log")
    if not os.path.exists(path):
        return set()
    with open(path, encoding="utf-8") as file:
        return {line.strip().split(":", 1)[1] for line in file if ":" in line}


def cases_of(build, name):
    """(run, failed) of one program's report; None when it wrote none."""
    path = os.path.join(build, "reports", name + ".xml")
    try:
        suites = xml.etree.ElementTree.parse(path).getroot()
    except (OSError, xml.etree.ElementTree.ParseError):
        return None
    failed = int(suites.get("failures")) + int(suites.get("errors"))
    return int(suites.get("tests")) - int(suites.get("disabled")), failed


def main(arguments):
    passed = failed = 0
    for argument in arguments:
        build, _, label = argument.partition(":")
        bad = ended_badly(build)
        names = tests_of(build, label)
        if not names:
            print(f"{build}: ctest knows no test")
            failed += 1
        for name in names:
            cases = cases_of(build, name)
            if cases is None:
                print(f"{build}: {name} ended without a report")
                failed += 1
                continue
            ran, wrong = cases
            if ran == 0:
                print(f"{build}: {name} ran no case")
                wrong = 1
            elif name in bad and wrong == 0:
                print(f"{build}: {name} ended badly after its cases passed")
                wrong = 1
            passed += max(ran - wrong, 0)
            failed += wrong
    print(f"{passed} passed, {failed} failed")
    return 0 if failed == 0 and passed > 0 else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
