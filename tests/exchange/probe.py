"""Asks core/exchange through its probe program."""

import json
import os
import subprocess


class Probe:
    def __init__(self):
        self._process = subprocess.Popen(
            [os.environ["EXCHANGE_PROBE"]], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def __call__(self, what, **more):
        self._process.stdin.write(json.dumps({"do": what, **more}) + "\n")
        self._process.stdin.flush()
        return json.loads(self._process.stdout.readline())

    def close(self):
        self._process.stdin.close()
        self._process.wait(timeout=20)
        self._process.stdout.close()
