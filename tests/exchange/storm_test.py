"""Exactly once: a sender that is killed and started again, a server that is killed again and again,
messages twice, out of order and cancelled; two readers of the feed in two languages.

FERRULE_STORM_MESSAGES sets how many messages are sent (2,000 by default), FERRULE_STORM_LANES over
how many connections at once (4 by default).
"""

import json
import os
import random
import subprocess
import sys
import threading
import time
import unittest

import hl7

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import packages  # noqa: E402
from depot import Depot, Sender, SOURCE  # noqa: E402
import grpc  # noqa: E402
import reflected  # noqa: E402

MESSAGES = int(os.environ.get("FERRULE_STORM_MESSAGES", "2000"))
# The server is killed each time that so many more were answered: a fast machine has as many kills.
KILL_EVERY = min(2000, MESSAGES // 6)
LANES = int(os.environ.get("FERRULE_STORM_LANES", "4"))
SIDES = ["LT", "RT"]


def message(order, version, control, side):
    """A message about an order; the count in MSH-13 is its version, its clock may be wrong."""
    minute = (version * 7 + order * 13) % 60  # a clock that contradicts the count
    body = "" if control == "CA" else f"OBR|1|||E0935{'|' * 41}{side}\r"
    return (f"MSH|^~\\&|COUNTED|LAB|DEPOT|HOME|2026030110{minute:02d}00-0500||OMG^O19|"
            f"S{order}-{version}|P|2.5.1|{version}\rPID|1||PT{order}\rORC|{control}|N{order}\r{body}")


def plan(rng):
    """Messages in the order in which they are sent, and how each order must end."""
    sent = []
    expected = {}
    order = 0
    while len(sent) < MESSAGES:
        order += 1
        side = rng.choice(SIDES)
        story = [("NW", side)]
        for _ in range(rng.randrange(4)):
            if story[-1][0] == "CA":
                side = rng.choice(SIDES)
                story.append(("NW", side))
            elif rng.random() < 0.3:
                story.append(("CA", side))
            else:
                side = rng.choice(SIDES)
                story.append(("XO", side))
        expected[f"C-N{order}"] = (story[-1][0] == "CA", side)
        sent += [message(order, i + 1, c, s) for i, (c, s) in enumerate(story)]
    # Moved about within a window, and one in ten is sent twice.
    keyed = sorted(enumerate(sent), key=lambda pair: pair[0] + rng.random() * 40)
    out = []
    for _, text in keyed:
        out.append(text)
        if rng.random() < 0.1:
            out.append(text)
    return out, len(sent), expected


class Storm(unittest.TestCase):
    def setUp(self):
        self.depot = Depot()
        self.depot.serve()
        self.over = threading.Event()

    def tearDown(self):
        self.over.set()
        self.depot.close()

    def killer(self, answers):
        next_kill = KILL_EVERY
        while not self.over.wait(0.01):
            if len(answers) < next_kill:
                continue
            self.depot.kill()
            self.depot.serve()
            self.kills += 1
            next_kill = len(answers) + KILL_EVERY

    def lane(self, messages, answers):
        """A sender with a list: what was not answered is sent again on a new connection; now and
        then it forgets its last few answers, as one does that is killed itself."""
        rng = random.Random(len(messages))
        sender = None
        at = 0
        while at < len(messages):
            try:
                if sender is None:
                    sender = Sender(self.depot.hl7, patience_s=20)
                answer = sender.ask(messages[at])
                code = str(hl7.parse(answer).segment("MSA")[1])
                if code == "AR":
                    continue  # not kept: send it again
                answers.append(code)
                at += 1
                if rng.random() < 0.002:
                    sender.close()
                    sender = None
                    at = max(0, at - rng.randrange(10))
            except OSError:
                sender = None
                time.sleep(0.05)
        if sender is not None:
            sender.close()

    def follow(self, words, folder, until):
        return subprocess.Popen([*words, "--until", str(until)], cwd=folder,
                                stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
                                env={**os.environ,
                                     "NODE_PATH": os.path.join(packages.folder(), "node_modules")})

    def test_every_message_counts_once(self):
        rng = random.Random(20260301)
        messages, distinct, expected = plan(rng)
        self.kills = 0
        # Readers that run all along, and are stopped and started again.
        states = {}
        readers = {}
        for name, words in (("python", ["/usr/bin/python3", "deploy/clients/python/follow.py"]),
                            ("node", ["node", "deploy/clients/node/follow.js"])):
            states[name] = os.path.join(self.depot.folder.name, name + ".json")
            readers[name] = [*words, self.depot.server, states[name]]
        running = {n: self.follow(w, SOURCE, 10**9) for n, w in readers.items()}
        answers = []
        killer = threading.Thread(target=self.killer, args=(answers,))
        killer.start()
        lanes = [threading.Thread(target=self.lane, args=(messages[i::LANES], answers))
                 for i in range(LANES)]
        for lane in lanes:
            lane.start()
        while any(lane.is_alive() for lane in lanes):
            time.sleep(max(2, MESSAGES / 5_000))
            for name, process in running.items():
                process.kill()
                process.communicate()
                running[name] = self.follow(readers[name], SOURCE, 10**9)
        self.over.set()
        killer.join()
        for process in running.values():
            process.kill()
            process.communicate()
        self.assertGreater(self.kills, 2)
        self.assertEqual(set(answers), {"AA"})

        client = reflected.Client(grpc.insecure_channel(self.depot.server))
        head = client.call("ferrule.v1.LedgerService", "GetServerInfo", {}).head_sequence
        for name, words in readers.items():
            out, error = self.follow(words, SOURCE, head).communicate(timeout=120)
            self.assertIn(f"at entry {head}", out, error)

        # The sender's list.
        got = {}
        token = ""
        while True:
            page = client.call("ferrule.v1.DepotService", "ListOrders",
                               {"pageSize": 1000, "pageToken": token})
            for row in page.orders:
                state = client.call("ferrule.v1.DepotService", "GetOrder",
                                    {"name": "orders/" + row.order}).state
                cancelled = state.order.status == 5
                side = {1: "LT", 2: "RT"}[state.order.details.side]
                got[row.order] = (cancelled, side)
                self.assertEqual(len(state.questions), 0, state.questions)
            token = page.next_page_token
            if not token:
                break
        self.assertEqual(got, expected)

        # Control totals: every message once, none waiting, each an entry; both readers agree.
        applied = []
        token = ""
        while True:
            page = client.call("ferrule.v1.IntakeService", "ListMessages",
                               {"state": "MESSAGE_STATE_APPLIED", "pageSize": 1000,
                                "pageToken": token})
            applied += [m.name for m in page.messages]
            token = page.next_page_token
            if not token:
                break
        self.assertEqual(len(applied), distinct)
        self.assertEqual(len(set(applied)), distinct)
        waiting = client.call("ferrule.v1.IntakeService", "ListMessages", {})
        self.assertEqual(len(waiting.messages), 0)
        self.assertEqual(head, distinct + 1)  # and the settings
        pictures = []
        for path in states.values():
            with open(path) as file:
                pictures.append(json.load(file))
        self.assertEqual(pictures[0], pictures[1])
        self.assertEqual(pictures[0]["sequence"], head)
        self.assertEqual(sum(pictures[0]["orders"].values()), distinct)
        print(f"{len(messages)} sent, {distinct} distinct, {len(expected)} orders, "
              f"{self.kills} kills of the server", file=sys.stderr)


if __name__ == "__main__":
    unittest.main()
