"""An administrator's first hour: certificates, tokens and access rules typed at a terminal, a server
with TLS, and a client in another language that knows it by its certificate and is known by a token."""

import json
import os
import signal
import subprocess
import sys
import tempfile
import time
import unittest
import urllib.request

import environments

SOURCE = os.environ["FERRULE_SOURCE_DIR"]
sys.path.insert(0, os.path.join(SOURCE, "tests/faults"))
import depot_servers  # noqa: E402 pylint: disable=wrong-import-position
import lossy  # noqa: E402 pylint: disable=wrong-import-position

FERRULE = os.environ["FERRULE_BIN"]
FERRULED = os.environ["FERRULED_BIN"]
SETTINGS = os.path.join(SOURCE, "tests/data/settings.textproto")
FOLLOW = os.path.join(SOURCE, "deploy/clients/python/follow.py")

RULES = """version: "2026-01"
grants { principal: "tech-ada" role: "technician" branches: "north" }
grants { principal: "hub" role: "integrator" }
grants { principal: "comp-fay" role: "compliance" }
"""


class Secure(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.mkdtemp(prefix="ferrule-")
        self.depot = self.path("depot.ferrule")
        self.server = None
        self.run_openssl("req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256",
                         "-nodes", "-days", "2", "-keyout", "key.pem", "-out", "cert.pem",
                         "-subj", "/CN=localhost", "-addext",
                         "subjectAltName=DNS:localhost,IP:127.0.0.1")
        os.chmod(self.path("key.pem"), 0o600)

    def tearDown(self):
        self.stop()
        subprocess.run(["rm", "-r", self.folder], check=True)

    def path(self, name):
        return os.path.join(self.folder, name)

    def run_openssl(self, *words):
        subprocess.run(["openssl", *words], cwd=self.folder, check=True, capture_output=True)

    def ferrule(self, *words, env=None, code=0):
        done = subprocess.run([FERRULE, *words], capture_output=True, text=True, timeout=60,
                              env={**environments.bare(), "FERRULE_DEPOT": self.depot,
                                   "FERRULE_ACTOR": "tech-ada", "FERRULE_BRANCH": "north", **(env or {})})
        self.assertEqual(done.returncode, code, done.stdout + done.stderr)
        return done.stdout if code == 0 else done.stderr

    def token(self, name):
        file = self.path(name + ".token")
        with open(os.open(file, os.O_WRONLY | os.O_CREAT, 0o600), "w", encoding="ascii") as out:
            out.write(self.ferrule("token", "issue", name))
        return file

    def serve(self, *more):
        self.server = subprocess.Popen(
            [FERRULED, "serve", "--depot", self.depot, "--listen", "127.0.0.1:0",
             "--tls-certificate", self.path("cert.pem"), "--tls-key", self.path("key.pem"),
             *more],
            stdout=subprocess.PIPE, stderr=open(self.path("log"), "w", encoding="utf-8"), text=True)
        line = self.server.stdout.readline()
        self.assertIn("serving", line)
        return "localhost:" + line.split("127.0.0.1:")[1].split(",")[0].strip()

    def stop(self):
        if self.server is None:
            return
        self.server.send_signal(signal.SIGTERM)
        self.assertEqual(self.server.wait(30), 0)
        self.server.stdout.close()
        self.server = None

    def remote(self, server, name):
        return {"FERRULE_DEPOT": "", "FERRULE_SERVER": server,
                "FERRULE_TLS_CA": self.path("cert.pem"),
                "FERRULE_TOKEN_FILE": self.path(name + ".token")}

    def furnish(self):
        self.ferrule("init")
        self.ferrule("settings", "apply", SETTINGS, "--from", "2026-03-01")
        self.ferrule("add-unit", "K-1", "knee-a", "north-dock", "--at", "2026-03-02 08:00",
                     "--branch", "north")
        with open(self.path("access.textproto"), "w", encoding="utf-8") as out:
            out.write(RULES)
        self.assertIn("3 grants", self.ferrule("access", "apply", self.path("access.textproto")))
        for name in ("tech-ada", "hub", "comp-fay"):
            self.token(name)

    def test_first_hour(self):
        self.furnish()
        server = self.serve()
        ada = self.remote(server, "tech-ada")
        self.assertIn("tech-ada, by a token", self.ferrule("whoami", env=ada))
        self.assertIn("K-1", self.ferrule("show", "K-1", env=ada))
        self.assertIn("recorded", self.ferrule("move", "K-1", "north-bay", "--branch", "north",
                                               env=ada))
        self.assertIn("read access", self.ferrule("token", "list", env=ada, code=1).lower()
                      .replace("_", " "))
        # The owner works on over the depot's own socket, without a token.
        self.assertIn("the owner", self.ferrule("whoami"))
        listed = json.loads(self.ferrule("token", "list", "--format", "json"))["tokens"]
        self.assertEqual(len(listed), 3)
        ada_id = next(one["id"] for one in listed if one["principal"] == "tech-ada")
        self.ferrule("token", "revoke", ada_id)
        self.assertIn("revoked", self.ferrule("show", "K-1", env=ada, code=4))
        with open(self.path("tech-ada.token"), encoding="ascii") as file:
            secret = file.read().strip().split(".")[1]
        with open(self.path("log"), encoding="utf-8") as log:
            self.assertNotIn(secret, log.read())

    def test_sample_client(self):
        self.furnish()
        server = self.serve()
        done = subprocess.run(
            [sys.executable, FOLLOW, server, self.path("state"), "--until", "2", "--tls-ca",
             self.path("cert.pem"), "--token-file", self.path("hub.token")],
            capture_output=True, text=True, timeout=60, check=False)
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertIn("at entry 2", done.stdout)
        refused = subprocess.run(
            [sys.executable, FOLLOW, server, self.path("other"), "--until", "2", "--tls-ca",
             self.path("cert.pem")], capture_output=True, text=True, timeout=60, check=False)
        self.assertIn("UNAUTHENTICATED", refused.stderr)

    def test_other_programs_clients(self):
        """grpc-js and h2load, which share no code with the server, over TLS and with a token."""
        self.furnish()
        metrics = depot_servers.free_port()
        server = self.serve("--metrics", f"127.0.0.1:{metrics}")
        trust = ["--tls-ca", self.path("cert.pem")]
        token = ["--token-file", self.path("hub.token")]
        node, environment = lossy.sample_clients()["node"]

        def follow(state, *more):
            return subprocess.run([*node, server, self.path(state), "--until", "2", *more],
                                  env=environment, capture_output=True, text=True, timeout=60,
                                  check=False)
        done = follow("state", *trust, *token)
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertIn("at entry 2", done.stdout)
        self.assertIn("UNAUTHENTICATED", follow("other", *trust).stderr)

        def load(*more):
            with open(self.path("empty"), "wb") as body:
                body.write(bytes(5))  # an empty message
            subprocess.run(
                ["h2load", "-n", "200", "-c", "4", "-m", "10", "-d", self.path("empty"),
                 "-H", "content-type: application/grpc", "-H", "te: trailers", *more,
                 f"https://{server}/ferrule.v1.LedgerService/GetServerInfo"],
                capture_output=True, text=True, timeout=60, check=True)
        with open(self.path("hub.token"), encoding="ascii") as file:
            load("-H", "authorization: Bearer " + file.read().strip())
        load()
        with urllib.request.urlopen(f"http://127.0.0.1:{metrics}/metrics", timeout=10) as answer:
            text = answer.read().decode()
        for code in ("OK", "UNAUTHENTICATED"):
            self.assertRegex(text, f'method="GetServerInfo",code="{code}"}} 200\n')

    def test_particulars(self):
        self.furnish()
        self.ferrule("patient", "put", "P-31", "--address", "1 Canary Lane")
        self.assertIn("Canary", self.ferrule("patient", "show", "P-31"))
        self.assertIn("GetPatient", self.ferrule("reads", "--of", "patients/P-31"))
        self.ferrule("patient", "erase", "P-31", code=2)
        # What is held for a dispute stays, whoever wants it gone, until that has ended.
        self.ferrule("take-order", "R-1", "--branch", "north", "--class", "knee", "--side", "left",
                     "--patient", "P-31", "--prescriber", "D-7", "--at", "2026-03-02 11:00")
        self.ferrule("records-hold", "R-1", "claim-4", "the payer disputes a claim", "--at",
                     "2026-03-03 11:00")
        said = self.ferrule("patient", "erase", "P-31", "--because", "retention has ended", code=1)
        self.assertIn("held for claim-4", said)
        self.assertIn("ferrule records-release", said)
        self.assertIn("Canary", self.ferrule("patient", "show", "P-31"))
        self.ferrule("records-release", "R-1", "claim-4", "settled", "--at", "2026-03-04 11:00")
        self.ferrule("patient", "erase", "P-31", "--because", "retention has ended")
        self.ferrule("patient", "show", "P-31", code=3)
        verified = subprocess.run([FERRULED, "verify", "--depot", self.depot], capture_output=True,
                                  text=True, check=False)
        self.assertEqual(verified.returncode, 0, verified.stdout)

    def test_mistyped(self):
        self.furnish()
        self.assertIn("1 to 400", self.ferrule("token", "issue", "x", "--days", "4000", code=2))
        self.assertIn("before the dot", self.ferrule("token", "revoke", "t-1.secret", code=2))
        self.assertIn("no token t-1", self.ferrule("token", "revoke", "t-1", code=3))
        os.chmod(self.path("hub.token"), 0o644)
        self.assertIn("chmod 600", self.ferrule("whoami", env=self.remote("localhost:1", "hub"),
                                                code=2))
        plain = {"FERRULE_DEPOT": "", "FERRULE_SERVER": "depot.example:7443"}
        self.assertIn("--tls-ca", self.ferrule("whoami", env=plain, code=2))
        with open(self.path("wrong.textproto"), "w", encoding="utf-8") as out:
            out.write('version: "1"\ngrants { principal: "x" rolle: "rep" }\n')
        self.assertIn("wrong.textproto:2", self.ferrule("access", "apply",
                                                        self.path("wrong.textproto"), code=2))


if __name__ == "__main__":
    unittest.main()
