"""A unit's turn, typed at a terminal on a depot file and sent by a client in another language to a
server on PostgreSQL, ends in the same states, field for field."""

import datetime
import json
import os
import re
import shlex
import subprocess
import tempfile
import unittest
import uuid
import zoneinfo

import grpc
from google.protobuf import json_format, text_format

import environments
import reflected

FERRULE = os.environ["FERRULE_BIN"]
FERRULED = os.environ["FERRULED_BIN"]
SETTINGS = os.path.join(os.environ["FERRULE_SOURCE_DIR"], "tests/data/settings.textproto")
ZONE = zoneinfo.ZoneInfo("America/New_York")  # of the branch "north" in the settings
LEDGER = "ferrule.v1.LedgerService"
DEPOT = "ferrule.v1.DepotService"
SUBJECTS = ["units/K-1", "orders/R-1", "parts/PEN-1", "parts/FP-1", "lots/L5"]

# When it happened, local to the branch, and what is typed. Daylight saving time begins in between.
TYPED = [
    ("2026-03-02 08:00", "add-unit K-1 knee-a north-dock --serial 77123 --meter 100"
                         " --part pendant=PEN-1 --part foot-plate=FP-1"),
    ("2026-03-02 09:00", "clean K-1 wipe-q --wet-min 12 --seal 8812"),
    ("2026-03-02 09:05", "erase K-1 --method menu"),
    ("2026-03-02 10:00", "inspect K-1 visual=yes stop=yes earth-ohm=0.12 insulation-mohm=20"
                         " leakage-ua=85 --tester T-3"),
    ("2026-03-02 10:10", "move K-1 north-shelf"),
    ("2026-03-02 11:00", "take-order R-1 --class knee --side left --days 21 --needed 2026-03-03"
                         " --patient P-7 --prescriber D-5 --procedure 'total knee'"
                         " --surgery 2026-03-02 --signed 2026-03-01 --extension 0 --flexion 90"),
    ("2026-03-02 11:05", "reserve K-1 R-1 --firm"),
    ("2026-03-03 10:00", "hand-over K-1 R-1 --kit pad-set=L5*2 --meter 100.5 --accessory pendant"
                         " --paper instructions --signed-by patient --extension 0 --flexion 40"),
    ("2026-03-20 10:00", "pick-up K-1 north-van-dirty --meter 140.3 --accessory pendant"),
    ("2026-03-20 16:00", "receive K-1 north-dock"),
    ("2026-03-20 17:00", "clean K-1 wipe-q --wet-min 12"),
    ("2026-03-20 17:05", "erase K-1 --method menu"),
    ("2026-03-21 09:00", "inspect K-1 visual=yes stop=yes earth-ohm=0.14 insulation-mohm=18.5"
                         " leakage-ua=90 --tester T-3"),
    ("2026-03-21 09:05", "move K-1 north-shelf"),
]


def utc(local, minutes=0):
    """A local time at the branch, so many minutes later, as protobuf's JSON writes it."""
    instant = datetime.datetime.fromisoformat(local).replace(tzinfo=ZONE)
    instant = instant.astimezone(datetime.timezone.utc) + datetime.timedelta(minutes=minutes)
    return instant.strftime("%Y-%m-%dT%H:%M:%SZ")


def day(text):
    year, month, number = map(int, text.split("-"))
    return {"year": year, "month": month, "day": number}


def cleaning(at, **finished):
    return [(utc(at, -12), {"cleaningStarted": {"unit": "K-1"}}),
            (utc(at), {"cleaningFinished": {
                "unit": "K-1", "product": "wipe-q", "wetFromTime": utc(at, -12),
                "wetToTime": utc(at), **finished}})]


def inspection(at, earth, insulation, leakage):
    readings = {"visual": 1, "stop": 1, "earth-ohm": earth, "insulation-mohm": insulation,
                "leakage-ua": leakage}
    return [(utc(at), {"inspectionDone": {
        "unit": "K-1", "checklist": "class1-check", "checklistVersion": "3", "tester": "T-3",
        "readings": [{"item": item, "value": value} for item, value in readings.items()]}})]


def sent():
    """The same turn as the other client says it: each entry's facts with their times."""
    at = [time for time, _ in TYPED]
    erased = {"memoryErased": {"unit": "K-1", "method": "menu"}}
    shelved = {"unitMoved": {"unit": "K-1", "toPlace": "north-shelf"}}
    return [
        [(utc(at[0]), {"unitReceived": {
            "unit": "K-1", "model": "knee-a", "place": "north-dock", "serial": "77123",
            "purpose": "PURPOSE_RENTAL", "meterS": 360000,
            "parts": [{"position": "pendant", "part": "PEN-1"},
                      {"position": "foot-plate", "part": "FP-1"}]}})],
        cleaning(at[1], seal="8812"),
        [(utc(at[2]), erased)],
        inspection(at[3], 0.12, 20, 85),
        [(utc(at[4]), shelved)],
        [(utc(at[5]), {"orderTaken": {"order": "R-1", "details": {
            "branch": "north", "deviceClass": "knee", "side": "SIDE_LEFT", "patient": "P-7",
            "prescriber": "D-5", "procedure": "total knee", "lengthOfNeedDays": 21,
            "surgeryDate": day("2026-03-02"), "neededDate": day("2026-03-03"),
            "signedDate": day("2026-03-01"),
            "motion": {"extensionDeg": 0, "flexionDeg": 90}}}})],
        [(utc(at[6]), {"unitHeldForOrder": {"unit": "K-1", "order": "R-1", "firm": True}})],
        [(utc(at[7]), {"handedOver": {
            "unit": "K-1", "order": "R-1", "unitModel": "knee-a", "meterS": 361800,
            "kit": [{"item": "pad-set", "lot": "L5", "pieceCount": 2}],
            "accessories": ["pendant"], "papers": ["instructions"], "signedBy": "patient",
            "motion": {"extensionDeg": 0, "flexionDeg": 40}}})],
        [(utc(at[8]), {"pickedUp": {
            "unit": "K-1", "order": "R-1", "toPlace": "north-van-dirty", "meterS": 505080,
            "accessories": ["pendant"]}})],
        [(utc(at[9]), {"receivedBack": {"unit": "K-1", "place": "north-dock"}})],
        cleaning(at[10]),
        [(utc(at[11]), erased)],
        inspection(at[12], 0.14, 18.5, 90),
        [(utc(at[13]), shelved)],
    ]


class Schema:
    """A schema of its own in the database that FERRULE_TEST_POSTGRES names."""

    def __init__(self):
        self._server = os.environ.get("FERRULE_TEST_POSTGRES", "")
        if not self._server:
            raise RuntimeError("FERRULE_TEST_POSTGRES is not set. Run: tests/support/postgres.sh "
                               "start DIR PORT, and set it to the connection string it prints")
        self._name = "turn_" + uuid.uuid4().hex
        self._run(f"CREATE SCHEMA {self._name}")
        self.conninfo = f"{self._server} options='-c search_path={self._name}'"

    def _run(self, statement):
        subprocess.run(["psql", "-X", "-q", "-v", "ON_ERROR_STOP=1", "-d", self._server, "-c",
                        "SET client_min_messages = warning; " + statement], check=True, timeout=30)

    def drop(self):
        self._run(f"DROP SCHEMA {self._name} CASCADE")


class Terminal:
    """ferrule on a depot file, as typed by tech-ada at the branch north."""

    def __init__(self, folder):
        self._environment = environments.bare(
            TMPDIR=folder, HOME=folder, FERRULE_DEPOT=os.path.join(folder, "turn.ferrule"),
            FERRULE_ACTOR="tech-ada", FERRULE_BRANCH="north")

    def run(self, line, *more):
        done = subprocess.run([FERRULE, *shlex.split(line), *more], env=self._environment,
                              capture_output=True, text=True, timeout=30, check=False)
        if done.returncode != 0:
            raise AssertionError(f"ferrule {line}: {done.returncode}\n{done.stderr}")
        return done.stdout

    def turn(self):
        self.run("init")
        self.run("settings apply", SETTINGS, "--from", "2026-01-01", "--at", "2026-01-01 08:00",
                 "--entry-id", "settings")
        for number, (at, line) in enumerate(TYPED):
            self.run(line, "--at", at, "--entry-id", f"turn-{number}")


class Server:
    """ferruled on a database; ended by its own process id."""

    def __init__(self, conninfo):
        self._process = subprocess.Popen(
            [FERRULED, "serve", "--postgres", conninfo, "--create", "--listen", "127.0.0.1:0"],
            stdout=subprocess.PIPE, text=True)
        said = self._process.stdout.readline()
        address = re.search(r"127\.0\.0\.1:[1-9]\d*", said)
        if address is None:
            self.end()
            raise RuntimeError(f"the server did not start: {said}")
        self.address = address.group(0)

    def end(self):
        self._process.terminate()
        self._process.stdout.read()
        self._process.stdout.close()
        return self._process.wait(timeout=30)


def send_turn(client):
    def record(entry_id, facts):
        client.call(LEDGER, "Record", {"entry": {
            "entryId": entry_id, "actor": "tech-ada", "channel": "counter",
            "mode": "ENTRY_MODE_ENFORCED",
            "facts": [{"happenedTime": time, **what} for time, what in facts]}})

    with open(SETTINGS, encoding="utf-8") as file:
        settings = text_format.Parse(file.read(), client.messages.of("ferrule.v1.Settings")())
    record("settings", [(utc("2026-01-01 08:00"), {"settingsPut": {
        "settings": json_format.MessageToDict(settings), "fromTime": utc("2026-01-01 00:00")}})])
    for number, facts in enumerate(sent()):
        record(f"turn-{number}", facts)


class Turn(unittest.TestCase):
    maxDiff = None

    @classmethod
    def setUpClass(cls):
        folder = tempfile.TemporaryDirectory()
        cls.addClassCleanup(folder.cleanup)
        schema = Schema()
        cls.addClassCleanup(schema.drop)
        server = Server(schema.conninfo)
        cls.addClassCleanup(server.end)
        channel = grpc.insecure_channel(server.address)
        cls.addClassCleanup(channel.close)
        cls.client = reflected.Client(channel)
        cls.terminal = Terminal(folder.name)
        cls.terminal.turn()
        send_turn(cls.client)

    def assert_same(self, line, method, request):
        """What is printed as JSON is what the server answers, and there is something in it."""
        answer = self.client.call(DEPOT, method, request)
        printed = json_format.Parse(self.terminal.run(line, "--format", "json"), type(answer)())
        self.assertEqual(json_format.MessageToDict(printed), json_format.MessageToDict(answer))
        self.assertEqual(printed.SerializeToString(deterministic=True),
                         answer.SerializeToString(deterministic=True))
        self.assertGreater(answer.ByteSize(), 50)
        return answer

    def test_a_turn_is_typed_in_under_15_short_commands(self):
        self.assertLess(len(TYPED), 15)
        self.assertEqual(len(TYPED), len(sent()))
        for _, line in TYPED:
            self.assertLess(len(line), 200, line)

    def test_the_server_lists_its_services(self):
        for service in (LEDGER, DEPOT, "grpc.health.v1.Health", reflected.REFLECTION +
                        ".ServerReflection"):
            self.assertIn(service, self.client.services)

    def test_both_depots_hold_the_same_states(self):
        for name in SUBJECTS:
            with self.subTest(name):
                # An order is shown with its ends, so its line's answer is another message.
                if name.startswith("orders/"):
                    answer = self.assert_same("show " + name, "GetOrder", {"name": name})
                    whole = self.client.call(DEPOT, "GetSubject", {"name": name})
                    self.assertEqual(whole.state, answer.state)
                else:
                    answer = self.assert_same("show " + name, "GetSubject", {"name": name})
                self.assertEqual(answer.state.name, name)
                self.assertEqual(len(answer.state.questions), 0)

    def test_the_states_are_those_of_a_finished_turn(self):
        unit = self.client.call(DEPOT, "GetUnit", {"name": "units/K-1"}).state.unit
        self.assertEqual((unit.place, unit.turn_count, unit.inspection.passed, unit.serial),
                         ("north-shelf", 1, True, "77123"))
        self.assertEqual((unit.meter.segment_first_s, unit.meter.reading_s), (360000, 505080))
        self.assertEqual(unit.received.time.ToJsonString(), "2026-03-02T13:00:00Z")
        self.assertEqual(unit.custody_since.time.ToJsonString(), "2026-03-21T13:05:00Z")
        lot = self.client.call(DEPOT, "GetSubject", {"name": "lots/L5"}).state.lot
        self.assertEqual(lot.used_count, 2)
        order = self.client.call(DEPOT, "GetOrder", {"name": "orders/R-1"})
        self.assertEqual(len(order.state.order.legs), 1)
        self.assertEqual(json_format.MessageToDict(order.due.date), day("2026-03-23"))

    def test_settings_histories_and_assessments_are_the_same_but_for_when_they_came_in(self):
        self.assert_same("settings show", "GetSettings", {})
        self.assert_same("why K-1 --at 2026-03-21T14:00:00Z", "AssessUnit",
                         {"name": "units/K-1", "atTime": "2026-03-21T14:00:00Z"})
        for name in SUBJECTS:
            told = json.loads(self.terminal.run("history " + name, "--format", "json"))["rows"]
            answer = json_format.MessageToDict(
                self.client.call(DEPOT, "ListHistory", {"name": name}),
                including_default_value_fields=True)["rows"]
            self.assertGreater(len(told), 0)
            self.assertEqual([row["text"] for row in told], [row["text"] for row in answer])
            self.assertEqual([row["ref"] for row in told], [row["ref"] for row in answer])

    def test_a_refusal_has_its_code_and_records_nothing(self):
        with self.assertRaises(grpc.RpcError) as refused:
            self.client.call(LEDGER, "Record", {"entry": {
                "entryId": "late", "actor": "tech-ada", "mode": "ENTRY_MODE_ENFORCED",
                "facts": [{"happenedTime": utc("2026-03-22 09:00"), "pickedUp": {
                    "unit": "K-1", "order": "R-1", "toPlace": "north-van-dirty"}}]}})
        self.assertEqual(refused.exception.code(), grpc.StatusCode.FAILED_PRECONDITION)
        head = self.client.call(LEDGER, "GetServerInfo", {})
        self.assertEqual(head.head_sequence, 1 + len(TYPED))
        self.assertTrue(head.engine.startswith("postgresql"), head.engine)


if __name__ == "__main__":
    unittest.main()
