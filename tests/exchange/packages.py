"""The npm packages of the exchange tests, installed once for each lock file."""

import fcntl
import hashlib
import os
import shutil
import subprocess

HERE = os.path.dirname(os.path.abspath(__file__))


def folder():
    """The folder that holds node_modules; the packages are installed when they are not there."""
    root = os.path.join(os.environ["FERRULE_BINARY_DIR"], "npm")
    os.makedirs(root, exist_ok=True)
    with open(os.path.join(HERE, "package-lock.json"), "rb") as file:
        wanted = hashlib.sha256(file.read()).hexdigest()
    stamp = os.path.join(root, "installed")
    with open(os.path.join(root, "lock"), "w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if os.path.exists(stamp) and open(stamp).read() == wanted:
            return root
        for name in ("package.json", "package-lock.json"):
            shutil.copy(os.path.join(HERE, name), root)
        subprocess.run(
            ["npm", "ci", "--ignore-scripts", "--no-audit", "--no-fund", "--loglevel=error"],
            cwd=root, check=True, timeout=300)
        with open(stamp, "w") as file:
            file.write(wanted)
    return root


def path(*parts):
    return os.path.join(folder(), "node_modules", *parts)
