#!/usr/bin/python3 -B
"""One hostile peer after the other against a ferruled, while an honest caller works: how much memory
the server takes, and how long the honest caller waits.

    hostile.py [--seconds 10] [--front | --front-plain] [--only NAME ...]

  calm      no peer: how long the honest caller waits on this machine now
  rapid     opens streams and resets them at once, as fast as the socket takes it
  slow      hundreds of connections that send their first bytes one by one
  idle      10,000 feeds opened and never read
  garbage   connections that send random bytes, raw and as frames
  large     messages of 64 MiB
  h2load    an independent load generator, full speed

With --front the peer and the caller reach the server through nghttpx over TLS (deploy/nghttpx.conf
shows the same), with --front-plain through nghttpx without TLS. Prints one JSON object.
"""

import argparse
import json
import multiprocessing
import os
import random
import resource
import shutil
import socket
import ssl
import struct
import subprocess
import sys
import tempfile
import threading
import time

import grpc

from depot_servers import Server, Words, free_port, say

PREFACE = b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n"
SETTINGS, HEADERS, DATA, RESET, WINDOW = 4, 1, 0, 3, 8
WATCH = "/ferrule.v1.LedgerService/WatchEntries"
INFO = "/ferrule.v1.LedgerService/GetServerInfo"


def frame(kind, flags, stream, payload=b""):
    return struct.pack(">I", len(payload))[1:] + bytes((kind, flags)) + struct.pack(
        ">I", stream) + payload


def header_block(path, secure):
    """HPACK without compression: static names, literal values."""
    te = b"\x00\x02te\x08trailers"
    kind = b"\x0f\x10" + bytes((len("application/grpc"),)) + b"application/grpc"
    return (b"\x83" + (b"\x87" if secure else b"\x86") + b"\x04" + bytes((len(path),)) +
            path.encode() + b"\x01\x09localhost" + te + kind)


class Target:
    def __init__(self, port, ca):
        self.port = port
        self.ca = ca

    def connect(self, timeout=5):
        plain = socket.create_connection(("127.0.0.1", self.port), timeout=timeout)
        if self.ca is None:
            return plain
        context = ssl.create_default_context(cafile=self.ca)
        context.set_alpn_protocols(["h2"])
        return context.wrap_socket(plain, server_hostname="localhost")

    def channel(self, *options):
        own = [("grpc.use_local_subchannel_pool", 1), *options]
        if self.ca is None:
            return grpc.insecure_channel(f"127.0.0.1:{self.port}", options=own)
        with open(self.ca, "rb") as file:
            trust = grpc.ssl_channel_credentials(file.read())
        return grpc.secure_channel(f"localhost:{self.port}", trust, options=own)


def drain(sock):
    """Reads what has come, without waiting; False when the peer has closed."""
    sock.setblocking(False)
    try:
        while True:
            if not sock.recv(65536):
                return False
    except (BlockingIOError, ssl.SSLWantReadError):
        return True
    except OSError:
        return False
    finally:
        sock.setblocking(True)


def calm(_, until):
    time.sleep(max(0, until - time.monotonic()))
    return {}


def rapid(target, until):
    block = header_block(INFO, target.ca is not None)
    resets = 0
    while time.monotonic() < until:
        try:
            with target.connect() as sock:
                sock.sendall(PREFACE + frame(SETTINGS, 0, 0))
                stream = 1
                while time.monotonic() < until and stream < 1 << 20:
                    burst = b""
                    for _ in range(50):
                        burst += frame(HEADERS, 4, stream, block)
                        burst += frame(RESET, 0, stream, struct.pack(">I", 8))
                        stream += 2
                    sock.sendall(burst)
                    resets += 50
                    if not drain(sock):
                        break
        except OSError:
            pass
    return {"resets": resets}


def slow(target, until):
    socks = []
    for _ in range(500):
        try:
            sock = socket.create_connection(("127.0.0.1", target.port), timeout=2)
            socks.append(sock)
        except OSError:
            break
    sent = 0
    while time.monotonic() < until:
        for sock in socks:
            try:
                sock.send(PREFACE[sent % len(PREFACE):][:1])
            except OSError:
                pass
        sent += 1
        time.sleep(0.5)
    for sock in socks:
        sock.close()
    return {"connections": len(socks)}


def idle(target, until, streams=10_000, per_connection=100):
    block = header_block(WATCH, target.ca is not None)
    socks = []
    opened = 0
    while opened < streams and time.monotonic() < until:
        try:
            sock = target.connect()
        except OSError:
            break
        socks.append(sock)
        burst = PREFACE + frame(SETTINGS, 0, 0)
        for i in range(per_connection):
            burst += frame(HEADERS, 4, 2 * i + 1, block)
            burst += frame(DATA, 1, 2 * i + 1, b"\0" * 5)
        try:
            sock.sendall(burst)
            opened += per_connection
        except OSError:
            continue
    while time.monotonic() < until:
        time.sleep(0.2)
    alive = sum(drain(sock) for sock in socks)
    for sock in socks:
        sock.close()
    return {"streams": opened, "connections": len(socks), "still_open": alive}


def garbage(target, until):
    chance = random.Random(4711)
    count = 0
    while time.monotonic() < until:
        try:
            plain = socket.create_connection(("127.0.0.1", target.port), timeout=2)
            with plain:
                if count % 2:
                    plain.sendall(PREFACE + b"".join(
                        frame(chance.randrange(12), chance.randrange(256), chance.randrange(8),
                              chance.randbytes(chance.randrange(300))) for _ in range(20)))
                else:
                    plain.sendall(chance.randbytes(chance.randrange(1, 4000)))
                drain(plain)
        except OSError:
            pass
        count += 1
    return {"connections": count}


def large(target, until):
    codes = {}
    body = bytes(64 << 20)
    channel = target.channel(("grpc.max_send_message_length", -1))
    call = channel.unary_unary(INFO)
    while time.monotonic() < until:
        try:
            call(body, timeout=20)
            code = "OK"
        except grpc.RpcError as error:
            code = error.code().name
        codes[code] = codes.get(code, 0) + 1
    channel.close()
    return {"answers": codes}


def h2load(target, until):
    seconds = max(1, int(until - time.monotonic()))
    with tempfile.NamedTemporaryFile() as body:
        body.write(b"\0" * 5)
        body.flush()
        scheme = "http" if target.ca is None else "https"
        done = subprocess.run(
            ["h2load", "-c", "20", "-m", "50", "-D", str(seconds), "-d", body.name,
             "-H", "content-type: application/grpc", "-H", "te: trailers",
             f"{scheme}://localhost:{target.port}{INFO}"],
            capture_output=True, text=True, timeout=seconds + 60, check=False)
    lines = [line.strip() for line in done.stdout.splitlines()
             if line.startswith(("finished", "requests", "status"))]
    return {"said": lines, "exit": done.returncode}


ATTACKS = {"calm": calm, "rapid": rapid, "slow": slow, "idle": idle, "garbage": garbage, "large": large,
           "h2load": h2load}


def honest(port, ca, seconds, out):
    """A process of its own: a look-up every 10 ms, each with its time."""
    channel = Target(port, ca).channel()
    words = Words()
    call = channel.unary_unary(INFO, request_serializer=words.GetServerInfoRequest.SerializeToString,
                               response_deserializer=words.GetServerInfoResponse.FromString)
    call(words.GetServerInfoRequest(), timeout=60)
    out.put("ready")
    times, failed = [], 0
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        begun = time.monotonic()
        try:
            call(words.GetServerInfoRequest(), timeout=10)
        except grpc.RpcError:
            failed += 1
        times.append(1000 * (time.monotonic() - begun))
        time.sleep(0.01)
    times.sort()
    out.put({"calls": len(times), "failed": failed, "p50_ms": round(times[len(times) // 2], 2),
             "p99_ms": round(times[len(times) * 99 // 100], 1), "max_ms": round(times[-1], 1)})


class Front:
    """nghttpx before the server, with TLS or without."""

    def __init__(self, folder, backend, tls=True):
        self.port = free_port()
        self.ca, certificate = None, []
        if tls:
            certificate = self._certificate(folder)
            self.ca = certificate[1]
        self._log = open(os.path.join(folder, "front.log"), "wb")
        self._process = subprocess.Popen(
            ["nghttpx", f"--frontend=127.0.0.1,{self.port}{'' if tls else ';no-tls'}",
             f"--backend=127.0.0.1,{backend};;proto=h2", "--workers=1",
             "--worker-frontend-connections=600", "--frontend-http2-max-concurrent-streams=100",
             "--errorlog-file=/dev/stderr", "--accesslog-file=/dev/null", *certificate],
            stderr=self._log, stdout=self._log)
        for _ in range(50):
            try:
                Target(self.port, self.ca).connect().close()
                return
            except OSError:
                time.sleep(0.1)
        raise RuntimeError("nghttpx does not start")

    @staticmethod
    def _certificate(folder):
        """A key and its own certificate, in files."""
        certificate = os.path.join(folder, "front.pem")
        key = os.path.join(folder, "front.key")
        subprocess.run(["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt",
                        "ec_paramgen_curve:P-256", "-nodes", "-days", "2", "-subj", "/CN=localhost",
                        "-addext", "subjectAltName=DNS:localhost", "-keyout", key, "-out", certificate],
                       check=True, capture_output=True)
        return [key, certificate]

    def end(self):
        self._process.terminate()
        self._process.wait(timeout=20)
        self._log.close()


def attack(name, server, target, seconds):
    peak = [server.resident_kib()]
    over = threading.Event()

    def look():
        while not over.wait(0.1):
            peak.append(server.resident_kib())

    queue = multiprocessing.Queue()
    caller = multiprocessing.Process(target=honest, args=(target.port, target.ca, seconds, queue))
    caller.start()
    queue.get(timeout=90)
    watch = threading.Thread(target=look)
    watch.start()
    did = ATTACKS[name](target, time.monotonic() + seconds)
    waited = queue.get(timeout=120)
    caller.join()
    time.sleep(1)
    over.set()
    watch.join()
    return {"before_mib": peak[0] // 1024, "peak_mib": max(peak) // 1024,
            "after_mib": server.resident_kib() // 1024, "cpu_load": os.getloadavg()[0], "honest": waited, "peer": did}


def hostile(arguments):
    parser = argparse.ArgumentParser(description="Hostile peers")
    parser.add_argument("--seconds", type=float, default=10)
    way = parser.add_mutually_exclusive_group()
    way.add_argument("--front", action="store_true")
    way.add_argument("--front-plain", action="store_true")
    parser.add_argument("--only", nargs="*", choices=sorted(ATTACKS), default=list(ATTACKS))
    options = parser.parse_args(arguments)
    resource.setrlimit(resource.RLIMIT_NOFILE, (4096, resource.getrlimit(resource.RLIMIT_NOFILE)[1]))
    folder = tempfile.mkdtemp(prefix="ferrule-hostile-")
    server = Server(["--depot", os.path.join(folder, "depot.ferrule"), "--create"],
                    os.path.join(folder, "server.log")).start()
    front = None
    found = {}
    try:
        if options.front or options.front_plain:
            front = Front(folder, server.port, tls=options.front)
        target = Target(front.port, front.ca) if front else Target(server.port, None)
        for name in options.only:
            found[name] = attack(name, server, target, options.seconds)
            say(f"{name}: {found[name]}")
        found["alive_after"] = server.process.poll() is None
    finally:
        if front:
            front.end()
        found["exit_code"] = server.end()
        shutil.rmtree(folder, ignore_errors=True)
    return found


if __name__ == "__main__":
    print(json.dumps(hostile(sys.argv[1:]), indent=2))
