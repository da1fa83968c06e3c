#!/usr/bin/python3
"""Which lines of core, service and cli the tests ran through, by gcov.

  coverage.py BUILD [FILES]    a line a folder, then the FILES (25) least covered files

BUILD was configured with -DFERRULE_COVERAGE=ON and its tests have run; counters add up over runs
until the .gcda files are removed. A program that is killed writes no counters, so what only a
killed server did does not count.
"""
import collections
import json
import os
import pathlib
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parents[2]
FOLDERS = ("core", "service", "cli")
AT_ONCE = 40
SHORT = 20  # lines; shorter files are not listed


def counts(build):
    """How often each line was run: {file: {line: count}}, the most of all programs."""
    counters = sorted(str(path) for path in build.rglob("*.gcda"))
    if not counters:
        sys.exit(f"coverage.py: no counters in {build}: configure it with -DFERRULE_COVERAGE=ON "
                 "and run its tests")
    files = collections.defaultdict(dict)
    with tempfile.TemporaryDirectory() as folder:
        for begin in range(0, len(counters), AT_ONCE):
            said = subprocess.run(["gcov", "--json-format", "--stdout",
                                   *counters[begin:begin + AT_ONCE]],
                                  cwd=folder, check=True, stdout=subprocess.PIPE,
                                  stderr=subprocess.DEVNULL, text=True).stdout
            for document in said.splitlines():
                if document.startswith("{"):
                    take(json.loads(document), files)
    return files


def take(document, files):
    for file in document["files"]:
        path = pathlib.Path(os.path.realpath(
            os.path.join(document["current_working_directory"], file["file"])))
        if not path.is_relative_to(ROOT) or path.relative_to(ROOT).parts[0] not in FOLDERS:
            continue
        lines = files[path.relative_to(ROOT)]
        for line in file["lines"]:
            number = line["line_number"]
            lines[number] = max(lines.get(number, 0), line["count"])


def share(lines):
    return sum(count > 0 for count in lines) / len(lines)


def main():
    if len(sys.argv) not in (2, 3):
        sys.exit(__doc__)
    build = pathlib.Path(sys.argv[1]).resolve()
    files = {path: list(lines.values()) for path, lines in counts(build).items() if lines}
    for folder in FOLDERS:
        lines = [count for path, all_of in files.items() if path.parts[0] == folder
                 for count in all_of]
        if lines:
            print(f"{folder:8} {100 * share(lines):5.1f} % of {len(lines)} lines")
    least = sorted((share(lines), path) for path, lines in files.items() if len(lines) > SHORT)
    for covered, path in least[:int(sys.argv[2]) if len(sys.argv) == 3 else 25]:
        print(f"{100 * covered:5.1f} % {path}")


if __name__ == "__main__":
    main()
