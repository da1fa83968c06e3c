"""What the fault tests share: the published words, ferruled processes and a PostgreSQL of their own.

Everything that is started here is ended by its own process id.
"""

import glob
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time

from google.protobuf import descriptor_pb2, descriptor_pool, message_factory

SOURCE = os.environ.get("FERRULE_SOURCE_DIR") or os.path.abspath(
    os.path.join(os.path.dirname(os.path.abspath(__file__)), "../.."))
FERRULED = os.environ.get("FERRULED_BIN") or os.path.join(SOURCE, "build/checked/service/ferruled")
FERRULE = os.environ.get("FERRULE_BIN") or os.path.join(SOURCE, "build/checked/cli/ferrule")
POSTGRES = os.path.join(SOURCE, "tests/support/postgres.sh")


class Words:
    """Message classes by their short name, out of proto/."""

    def __init__(self):
        proto = os.path.join(SOURCE, "proto")
        with tempfile.NamedTemporaryFile() as out:
            subprocess.run(["protoc", "-I", proto, "--include_imports",
                            "--descriptor_set_out=" + out.name,
                            os.path.join(proto, "ferrule/v1/ledger_service.proto"),
                            os.path.join(proto, "ferrule/v1/intake_service.proto"),
                            os.path.join(proto, "ferrule/v1/depot_service.proto")], check=True)
            files = descriptor_pb2.FileDescriptorSet.FromString(out.read()).file
        self._pool = descriptor_pool.DescriptorPool()
        for file in files:
            self._pool.Add(file)
        self._factory = message_factory.MessageFactory(self._pool)
        self._known = {}

    def __getattr__(self, name):
        if name not in self._known:
            self._known[name] = self._factory.GetPrototype(
                self._pool.FindMessageTypeByName("ferrule.v1." + name))
        return self._known[name]


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


class Server:
    """ferruled; on a fixed port, so that it comes back where it was."""

    def __init__(self, store, log, *more, port=None, wrapper=(), environment=None):
        self.port = port or free_port()
        self.address = f"127.0.0.1:{self.port}"
        self._wrapped = bool(wrapper)
        self._command = [*wrapper, FERRULED, "serve", *store, "--listen", self.address, *more]
        self._log = log
        self._environment = {**os.environ, **(environment or {})}
        self.process = None
        self.said = ""

    def start(self, wait=True):
        with open(self._log, "ab") as log:
            self.process = subprocess.Popen(self._command, stdout=subprocess.PIPE, stderr=log,
                                            text=True, env=self._environment)
        if wait:
            self.said = self.process.stdout.readline()
            if "serving" not in self.said:
                self.end()
                with open(self._log, encoding="utf-8", errors="replace") as log:
                    raise RuntimeError("ferruled did not start: " + log.read()[-2000:])
        return self

    def program(self):
        """The process id of ferruled itself: a tracer keeps signals to itself."""
        if not self._wrapped:
            return self.process.pid
        with open(f"/proc/{self.process.pid}/task/{self.process.pid}/children",
                  encoding="ascii") as children:
            return int(children.read().split()[0])

    def kill(self):
        os.kill(self.program(), signal.SIGKILL)
        self._gone()

    def end(self, within_s=40):
        if self.process is None:
            return 0
        if self.process.poll() is None:
            os.kill(self.program(), signal.SIGTERM)
        return self._gone(within_s)

    def _gone(self, within_s=40):
        code = self.process.wait(timeout=within_s)
        self.process.stdout.close()
        self.process = None
        return code

    def resident_kib(self):
        with open(f"/proc/{self.program()}/status", encoding="ascii") as status:
            return int(re.search(r"VmRSS:\s+(\d+)", status.read()).group(1))


def postgres_programs():
    """The folder of the newest PostgreSQL's own programs."""
    found = glob.glob("/usr/lib/postgresql/*/bin")
    if not found:
        raise RuntimeError("no PostgreSQL server found: install postgresql")
    return max(found, key=lambda path: float(path.split("/")[4]))


def as_owner(command):
    """A command as the user that may run PostgreSQL, which root may not."""
    return ["runuser", "-u", "postgres", "--", *command] if os.geteuid() == 0 else command


class Postgres:
    """A PostgreSQL cluster in a folder of its own, or in one that is given."""

    def __init__(self, folder=None):
        self._folder = folder or tempfile.mkdtemp(prefix="ferrule-faults-pg-", dir="/tmp")
        os.chmod(self._folder, 0o755)
        self._port = str(free_port())
        self.conninfo = self._run("start").strip().splitlines()[-1]

    def _run(self, command):
        return subprocess.run([POSTGRES, command, self._folder, self._port], check=True,
                              capture_output=True, text=True, timeout=120).stdout

    def restart(self):
        """At once, as after a crash: nothing is finished, the log is replayed."""
        self._run("restart")

    def stop(self, how="fast"):
        """Stops it and keeps its data."""
        self._control("-m", how, "stop")

    def start_again(self):
        self._run("start")

    def promote(self):
        """A copy becomes the database."""
        self._control("promote")

    def data(self):
        return os.path.join(self._folder, "data")

    def _control(self, *words):
        command = [os.path.join(postgres_programs(), "pg_ctl"), "-D", self.data(), "-w", *words]
        subprocess.run(as_owner(command), check=True, capture_output=True, timeout=120, cwd="/")

    def sql(self, statement, conninfo=None, check=True):
        return subprocess.run(
            ["psql", "-X", "-q", "-A", "-t", "-v", "ON_ERROR_STOP=1", "-d", conninfo or
             self.conninfo, "-c", statement], check=check, capture_output=True, text=True,
            timeout=60)

    def end(self):
        try:
            self._run("stop")
        finally:
            shutil.rmtree(self._folder, ignore_errors=True)


def ferruled(*arguments, timeout=300, check=True):
    done = subprocess.run([FERRULED, *arguments], capture_output=True, text=True, timeout=timeout)
    if check and done.returncode != 0:
        raise AssertionError(f"ferruled {arguments}: {done.returncode} {done.stdout}{done.stderr}")
    return done


def say(text):
    print(time.strftime("%H:%M:%S"), text, file=sys.stderr, flush=True)
