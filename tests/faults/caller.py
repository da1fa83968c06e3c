"""A caller of a served depot, as the fault tests need one: entries under ids of its own, sent again
until their outcome is known, and the ledger as a server gives it."""

import random
import time

import grpc
from google.protobuf import text_format

from depot_servers import Words

WORDS = Words()
START_S = 1_772_438_400  # 2026-03-02 08:00 UTC
SETTINGS = """version: '1' currency: 'EUR'
  branches { id: 'north' time_zone: 'Europe/Berlin'
    places { id: 'north-dock' kind: PLACE_KIND_DOCK }
    places { id: 'north-bench' kind: PLACE_KIND_BENCH } }
  device_classes { id: 'knee' sided: true }
  models { id: 'knee-a' device_class: 'knee' }"""
# A channel of its own that is soon back after a fault. The second is also how long one attempt to
# connect may take: gRPC would wait 20 s for a peer that takes a connection and says nothing, and
# 100 ms would never reach one on a busy machine.
CHANNEL = [("grpc.use_local_subchannel_pool", 1), ("grpc.min_reconnect_backoff_ms", 5_000),
           ("grpc.initial_reconnect_backoff_ms", 100), ("grpc.max_reconnect_backoff_ms", 500)]
# What leaves it open whether an entry was recorded.
UNKNOWN = {grpc.StatusCode.UNAVAILABLE, grpc.StatusCode.DEADLINE_EXCEEDED,
           grpc.StatusCode.ABORTED, grpc.StatusCode.CANCELLED}


def timed_id(number):
    """A UUID of version 7 (RFC 9562), of either case, two of a millisecond."""
    name = f"019cad73-{0x1000 + number // 2:04x}-7abc-9def-{number:012x}"
    return name.upper() if number % 3 == 0 else name


def entry(entry_id, *facts, at=START_S, enforced=False):
    """An entry of facts in text form, all of one instant."""
    out = WORDS.Entry(entry_id=entry_id, actor="tech", channel="test")
    text_format.Parse("mode: ENTRY_MODE_" + ("ENFORCED" if enforced else "OBSERVED"), out)
    for fact in facts:
        text_format.Parse(fact, out.facts.add())
        out.facts[-1].happened_time.seconds = at
    return out


def settings():
    return entry("settings", f"settings_put {{ settings {{ {SETTINGS} }} "
                 "from_time { seconds: 1767225600 } }", at=START_S - 86_400)


def unit(number, note=""):
    """A unit comes in."""
    out = entry(f"e-{number}", f"unit_received {{ unit: 'K-{number}' model: 'knee-a' "
                "place: 'north-dock' side: SIDE_LEFT }")
    out.facts[0].note = note
    return out


class Caller:
    def __init__(self, address, *options):
        self.channel = grpc.insecure_channel(address, options=[*CHANNEL, *options])
        self.repeats = 0

    def close(self):
        self.channel.close()

    def call(self, method, request, answer, timeout=20, **more):
        return self.channel.unary_unary(
            "/ferrule.v1." + method, request_serializer=request.__class__.SerializeToString,
            response_deserializer=answer.FromString)(request, timeout=timeout, **more)

    def record(self, what, timeout=20):
        return self.call("LedgerService/Record", WORDS.RecordRequest(entry=what),
                         WORDS.RecordResponse, timeout).receipt

    def settle(self, what, seconds=60, timeout=5):
        """Sends an entry until its outcome is known."""
        until = time.monotonic() + seconds
        tries = 0
        while True:
            try:
                return self.record(what, timeout)
            except grpc.RpcError as error:
                if error.code() not in UNKNOWN or time.monotonic() > until:
                    raise
            tries += 1
            self.repeats += 1
            time.sleep(min(0.02 * 2 ** min(tries, 5), 0.5) * random.random())

    def info(self, timeout=20):
        return self.call("LedgerService/GetServerInfo", WORDS.GetServerInfoRequest(),
                         WORDS.GetServerInfoResponse, timeout)

    def unit(self, number, timeout=20):
        return self.call("DepotService/GetUnit", WORDS.GetUnitRequest(name=f"units/K-{number}"),
                         WORDS.GetUnitResponse, timeout).state

    def ledger(self):
        """Every entry, in the order of the ledger."""
        request = WORDS.ListEntriesRequest(page_size=1000)
        entries = []
        while True:
            page = self.call("LedgerService/ListEntries", request, WORDS.ListEntriesResponse, 60)
            entries += page.entries
            request.after_sequence = page.next_after_sequence
            if not page.next_after_sequence:
                return entries


def anomalies(ledger, acknowledged, sent=None):
    """What is wrong with a ledger, given the sequence each acknowledged entry id got, and the ids
    that were sent at all."""
    wrong = []
    places = {}
    for number, recorded in enumerate(ledger, 1):
        if recorded.sequence != number:
            wrong.append(f"position {number} holds {recorded.sequence}")
        if recorded.entry.entry_id in places:
            wrong.append(f"{recorded.entry.entry_id} is there twice")
        if sent is not None and recorded.entry.entry_id not in sent:
            wrong.append(f"{recorded.entry.entry_id} was never sent")
        places[recorded.entry.entry_id] = number
    for entry_id, sequence in acknowledged.items():
        if places.get(entry_id) != sequence:
            wrong.append(f"{entry_id} was acknowledged as {sequence}, is {places.get(entry_id)}")
    return wrong
