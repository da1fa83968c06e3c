"""The source tree as the tests of this folder see it, and the include table of DEVELOPERS.md."""

import os
import re

ROOT = os.environ["FERRULE_SOURCE_DIR"]
BINARY = os.environ["FERRULE_BINARY_DIR"]
TOP = {"CMakeLists.txt", "CMakePresets.json", "DEVELOPERS.md", "LICENSE", "README.md",
       "cli", "core", "deploy", "proto", "service", "tests"}
# Folders of values alone: no files, clocks, randomness, threads, store or network.
PURE = ["core/fact", "core/finding", "core/depot", "core/unit", "core/order", "core/cover",
        "core/stock", "core/fold", "core/demo", "core/label", "core/papers", "core/plan",
        "core/promise", "core/reliability", "core/bench", "core/exchange"]


def read(path):
    with open(os.path.join(ROOT, path), encoding="utf-8", errors="replace") as file:
        return file.read()


def exists(path):
    return os.path.exists(os.path.join(ROOT, path))


def files(*tops, ends=()):
    """Paths from the root, sorted; build folders and hidden ones left out."""
    found = []
    for top in tops or sorted(TOP):
        if os.path.isfile(os.path.join(ROOT, top)):
            found.append(top)
        for folder, folders, names in os.walk(os.path.join(ROOT, top)):
            folders[:] = [f for f in folders if not f.startswith((".", "__pycache__"))]
            found += [os.path.relpath(os.path.join(folder, name), ROOT) for name in names]
    return sorted(path for path in found if not ends or path.endswith(tuple(ends)))


def sources(*tops):
    return files(*tops, ends=(".h", ".cc"))


def include_table():
    """Row by row from DEVELOPERS.md: {folder or file: (own folders and headers, libraries)}."""
    section = re.search(r"^## Include table\n(.*?)(?=^## |\Z)", read("DEVELOPERS.md"),
                        re.M | re.S).group(1)
    table = {}
    for line in section.splitlines():
        cells = [cell.strip() for cell in line.split("|")[1:-1]]
        if len(cells) != 3 or not cells[0].startswith("`"):
            continue
        table[cells[0].strip("`")] = tuple(set(re.findall(r"`([^`]+)`", c)) for c in cells[1:])
    return table


def includes(path):
    """The files that a source file includes, without quotes or brackets, with line numbers."""
    return [(number, match.group(1))
            for number, line in enumerate(read(path).splitlines(), 1)
            for match in [re.match(r'\s*#\s*include\s*[<"]([^>"]+)[>"]', line)] if match]
