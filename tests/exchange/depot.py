"""A depot with senders, served with a port for HL7 messages; for the tests in this folder."""

import os
import re
import signal
import socket
import subprocess
import sys
import tempfile
import time

SOURCE = os.environ["FERRULE_SOURCE_DIR"]
sys.path.insert(0, os.path.join(SOURCE, "tests/service"))
FERRULE = os.environ["FERRULE_BIN"]
FERRULED = os.environ["FERRULED_BIN"]

SENDERS = """
senders {
  id: "clinic-ehr" issuer: "clinic" hl7_application: "EHR" order_prefix: "E-" branch: "north"
  version_from: VERSION_SOURCE_TIME
  codes { code: "E0935" device_class: "knee" } codes { code: "LT" side: SIDE_LEFT }
  codes { code: "RT" side: SIDE_RIGHT } codes { code: "FLEX" item: INTAKE_ITEM_FLEXION }
}
senders {
  id: "counted" hl7_application: "COUNTED" order_prefix: "C-" branch: "north"
  version_from: VERSION_SOURCE_COUNT
  codes { code: "E0935" device_class: "knee" } codes { code: "LT" side: SIDE_LEFT }
  codes { code: "RT" side: SIDE_RIGHT }
}
"""


def free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]


class Depot:
    def __init__(self):
        self.folder = tempfile.TemporaryDirectory()
        self.file = os.path.join(self.folder.name, "test.ferrule")
        self.settings = os.path.join(self.folder.name, "settings.textproto")
        self.put_settings(SENDERS, "2026-01", first=True)
        self.server = f"127.0.0.1:{free_port()}"
        self.hl7 = free_port()
        self.process = None

    def put_settings(self, more, version, first=False):
        with open(os.path.join(SOURCE, "tests/data/settings.textproto")) as file:
            text = file.read().replace('version: "2026-01"', f'version: "{version}"', 1)
        with open(self.settings, "w") as file:
            file.write(text + more)
        if first:
            self.ferrule("init")
        # Later than the first ones: of two for one instant either may rule.
        day = "2026-01-01" if first else "2026-01-02"
        self.ferrule("settings", "apply", self.settings, "--from", day, "--at", f"{day} 08:00")

    def ferrule(self, *words, depot=None, status=0):
        environment = {**os.environ, "FERRULE_ACTOR": "clerk-eve", "FERRULE_BRANCH": "north"}
        environment["FERRULE_DEPOT"] = depot or self.file
        done = subprocess.run([FERRULE, *words], env=environment, capture_output=True, text=True,
                              timeout=300)
        if status is not None and done.returncode != status:
            raise AssertionError(f"{words} gave {done.returncode}: {done.stdout}{done.stderr}")
        return done.stdout + (done.stderr if status else "")

    def serve(self):
        self.process = subprocess.Popen(
            [FERRULED, "serve", "--depot", self.file, "--listen", self.server, "--hl7",
             f"127.0.0.1:{self.hl7}"], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
        line = self.process.stdout.readline()
        if not re.match("serving ", line):
            raise AssertionError(line + self.process.stdout.read())

    def kill(self):
        self.process.send_signal(signal.SIGKILL)
        self.process.wait(timeout=60)
        self.process.stdout.close()

    def stop(self):
        if self.process is None:
            return
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
            self.process.wait(timeout=60)
        self.process.stdout.close()
        self.process = None

    def close(self):
        self.stop()
        self.folder.cleanup()


class Sender:
    """A sender of HL7 over MLLP."""

    def __init__(self, port, patience_s=30):
        self._socket = socket.create_connection(("127.0.0.1", port), timeout=patience_s)
        self._got = b""

    def send_bytes(self, data):
        self._socket.sendall(data)

    def send(self, message):
        data = message if isinstance(message, bytes) else message.encode()
        self._socket.sendall(b"\x0b" + data + b"\x1c\r")

    def receive(self):
        """The next framed answer, as text."""
        while b"\x1c\r" not in self._got:
            more = self._socket.recv(65536)
            if not more:
                raise ConnectionError("closed")
            self._got += more
        answer, _, self._got = self._got.partition(b"\x1c\r")
        assert answer[:1] == b"\x0b", answer
        return answer[1:].decode()

    def ask(self, message):
        self.send(message)
        return self.receive()

    def close(self):
        self._socket.close()


def wait_for(condition, seconds=30):
    end = time.monotonic() + seconds
    while not condition():
        if time.monotonic() > end:
            raise AssertionError("waited in vain")
        time.sleep(0.05)
