"""The tour of README.md: its commands, what the page says that they print, and what they print.

    tour.py --write    runs the tour and puts what it printed into the page

FERRULE_SOURCE_DIR, FERRULE_BIN and FERRULED_BIN say where the tree and the programs are.
"""

import os
import re
import subprocess
import sys
import tempfile

ROOT = os.environ["FERRULE_SOURCE_DIR"]
PAGE = os.path.join(ROOT, "README.md")
BLOCK = re.compile(r"^```console\n(.*?)^```\n", re.M | re.S)


def steps_of(page):
    """[[command, expected output], ...] in the order of the page."""
    steps = []
    for block in BLOCK.findall(page):
        more = False
        for line in block.splitlines():
            if more:
                steps[-1][0] += "\n" + line
            elif line.startswith("$ "):
                steps.append([line[2:], ""])
            else:
                steps[-1][1] += line + "\n"
                continue
            more = line.endswith("\\")
    return steps


def run(steps):
    """What each command prints, errors included, all in one shell in an empty folder."""
    with tempfile.TemporaryDirectory() as folder:
        os.symlink(os.path.join(ROOT, "tests"), os.path.join(folder, "tests"))
        programs = [os.path.dirname(os.environ[name]) for name in ("FERRULE_BIN", "FERRULED_BIN")]
        environment = {"PATH": ":".join(programs + ["/usr/bin", "/bin"]), "HOME": folder,
                       "LC_ALL": "C.UTF-8", "TMPDIR": folder}
        script = "exec 2>&1\n" + "".join(f"{command}\nprintf '\\001'\n" for command, _ in steps)
        done = subprocess.run(["bash", "-c", script], cwd=folder, env=environment, text=True,
                              stdout=subprocess.PIPE, timeout=100, check=False)
    return done.stdout.split("\001")[:-1]


def written(page, outputs):
    """The page with these outputs."""
    left = iter(outputs)

    def block(match):
        text = "```console\n"
        for command, _ in steps_of(match.group(0)):
            text += f"$ {command}\n{next(left)}"
        return text + "```\n"
    return BLOCK.sub(block, page)


def alike(text):
    """Without what differs from run to run: ids of entries, today, days overdue, spacing."""
    text = re.sub(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}", "ID", text)
    text = re.sub(r"As of \d{4}-\d\d-\d\d \d\d:\d\d", "As of NOW", text)
    text = re.sub(r"(prescription end\s+)\d+", r"\1DAYS", text)
    return re.sub(r"[ \t]+", " ", text)


if __name__ == "__main__":
    if sys.argv[1:] != ["--write"]:
        sys.exit(__doc__)
    with open(PAGE, encoding="utf-8") as file:
        content = file.read()
    content = written(content, run(steps_of(content)))
    with open(PAGE, "w", encoding="utf-8") as file:
        file.write(content)
