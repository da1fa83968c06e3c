"""100,000 random day ledgers against an implementation of its own, over Python's zoneinfo.

The reference below was written from the rules as the headers of core/cover and core/order state
them, day by day and without their code: days are ordinals, spans are sets of days."""

import multiprocessing
import os
import random
import subprocess
import unittest
from datetime import date, datetime, timezone
from zoneinfo import ZoneInfo

CASES = int(os.environ.get("FERRULE_ORACLE_CASES", "100000"))
CHUNK = 10000
SEED = int(os.environ.get("FERRULE_ORACLE_SEED", "20260302"))
PROGRAM = os.environ["FERRULE_DAY_ORACLE"]

ZONES = ["America/New_York", "America/Los_Angeles", "Europe/Berlin", "Europe/London",
         "America/Sao_Paulo", "Australia/Lord_Howe", "Asia/Kathmandu", "Pacific/Apia",
         "America/Havana", "UTC"]
EPOCH = date(1970, 1, 1).toordinal()

COVERED, NOT_COVERED, AWAY, IDLE = 1, 2, 3, 4
REASON = {"within": 1, "paid": 2, "after_cover": 10, "late": 11, "anchor": 12, "no_terms": 13,
          "not_paid_for": 14, "hole": 15, "after_prescription": 16, "after_stop": 17,
          "not_authorised": 18, "used_up": 19, "last_day": 20, "cancelled": 21, "hospital": 30,
          "facility": 31, "before_surgery": 40, "before_discharge": 41, "before_use": 42,
          "after_use": 43, "after_death": 44}

_begins = {}


def begin_of(zone, day):
    """The instant at which a local day begins, seconds since 1970."""
    key = (zone, day)
    if key not in _begins:
        d = date.fromordinal(day)
        local = datetime(d.year, d.month, d.day, tzinfo=ZoneInfo(zone), fold=0)
        _begins[key] = int(local.timestamp())
    return _begins[key]


def local_day(zone, seconds):
    return datetime.fromtimestamp(seconds, ZoneInfo(zone)).date().toordinal()


def utc(seconds):
    return datetime.fromtimestamp(seconds, timezone.utc).strftime("%Y-%m-%dT%H:%M:%SZ")


def iso(day):
    return date.fromordinal(day).isoformat()


class Case:
    """A random rental: its text for the program and its values for the reference."""

    def __init__(self, rng):
        self.zone = rng.choice(ZONES)
        years = (2011, 2012) if self.zone == "Pacific/Apia" and rng.random() < 0.7 else (2016, 2031)
        self.surgery = date(rng.randint(*years), 1, 1).toordinal() + rng.randrange(364)
        if rng.random() < 0.15:  # about a change of the clocks
            self.surgery = date(2018, rng.choice((3, 10, 11)), 1).toordinal() + rng.randrange(14)
        base = begin_of(self.zone, self.surgery)
        self.has_surgery = rng.random() < 0.9
        self.surgery_at = base + rng.randrange(86400) if rng.random() < 0.6 else None
        self.planned = self.surgery + rng.randint(0, 6) if rng.random() < 0.7 else None
        hours = lambda low, high: base + rng.randint(low * 60, high * 60) * 60
        self.legs = []
        start = hours(-72, 24 * 8)
        end = start + rng.randint(600, 3600 * 24 * 50)
        is_open = rng.random() < 0.2
        if rng.random() < 0.2:  # an exchange, or a second unit
            middle = rng.randint(start, end)
            self.legs.append(("K-1", start, middle))
            start = middle + rng.choice((0, 0, -3600, 90000))
            end = max(start, end)
        self.legs.append(("K-2", start, None if is_open else end))
        self.stays = []
        if rng.random() < 0.8:
            at = base + rng.randint(0, 3600 * 24 * 8)
            first = rng.choice(("home", "home", "home", "home", "facility", "hospital"))
            self.stays.append((first, at))
            for _ in range(rng.choice((0, 0, 1, 2, 3))):
                at += rng.randint(3600, 3600 * 24 * 12)
                self.stays.append((rng.choice(("home", "hospital", "facility", "home")), at))
            if rng.random() < 0.05:
                self.stays.append(("died", at + rng.randint(3600, 3600 * 24 * 20)))
        self.uses = []
        if rng.random() < 0.75:
            at = base + rng.randint(0, 3600 * 24 * 9)
            change = "started" if rng.random() < 0.95 else "stopped"
            self.uses.append((change, at))
            for _ in range(rng.choice((0, 0, 1, 2))):
                at += rng.randint(600, 3600 * 24 * 25)
                change = "stopped" if change == "started" else "started"
                self.uses.append((change, at))
        self.lon = rng.choice((0, 14, 21, 28, 42)) if rng.random() < 0.9 else 0
        self.papers = []
        for _ in range(rng.choice((0, 0, 1, 2, 3))):
            first = self.surgery + rng.randint(0, 50)
            if rng.random() < 0.35:
                self.papers.append(("stop", None, first))
            else:
                begin = first if rng.random() < 0.5 else None
                self.papers.append(("extension", begin, first + rng.randint(0, 25)))
        self.auths = []
        self.needs_auth = rng.random() < 0.3
        for _ in range(rng.choice((0, 1, 2, 3))):
            first = self.surgery + rng.randint(-3, 40)
            self.auths.append((first, first + rng.randint(0, 40), rng.choice((0, 5, 14, 21))))
        self.cancelled = rng.random() < 0.03
        self.payer = rng.random() > 0.03
        self.other = self.surgery + rng.randint(0, 30) if rng.random() < 0.1 else None
        self.away = rng.choice(("not-paid", "stop", "paid", "not-paid"))
        self.home_only = self.away != "paid" and rng.random() < 0.5
        self.admission = rng.random() < 0.3
        self.last_day = rng.random() < 0.2
        self.monthly = rng.random() < 0.2
        self.interruption = rng.choice((0, 5, 60))
        self.month_rule = rng.choice(("last", "next"))
        self.most_months = rng.choice((0, 0, 1, 2))
        self.not_covered = rng.random() < 0.02
        self.amount = rng.randrange(0, 5000)
        self.holidays = [self.surgery + rng.randint(-2, 8) for _ in range(rng.choice((0, 0, 2)))]
        anchors = ("surgery", "surgery", "discharge", "use", "hand-over")
        self.readings = []
        for _ in range(rng.choice((1, 2, 3))):
            window = None
            if rng.random() < 0.5:
                measure = rng.choice(("days", "hours", "working"))
                most = rng.choice((24, 48, 72)) if measure == "hours" else rng.randint(0, 6)
                window = (rng.choice(anchors), measure, most)
            self.readings.append((rng.choice(anchors), rng.randint(0, 1),
                                  rng.choice((0, 17, 21, 21, 42)), window))
        self.through = self.surgery + rng.randint(-5, 60)

    def text(self):
        words = [iso(self.through), "zone=" + self.zone]
        for unit, start, end in self.legs:
            words.append(f"leg={unit}/{utc(start)}/{'' if end is None else utc(end)}")
        if self.has_surgery:
            words.append("surgery=" + iso(self.surgery))
        if self.surgery_at is not None:
            words.append("surgery_at=" + utc(self.surgery_at))
        if self.planned is not None:
            words.append("planned=" + iso(self.planned))
        words += [f"stay={where}:{utc(at)}" for where, at in self.stays]
        words += [f"use={change}:{utc(at)}" for change, at in self.uses]
        if self.lon:
            words.append(f"lon={self.lon}")
        for kind, first, last in self.papers:
            begin = "" if first is None else iso(first)
            words.append(f"stop={iso(last)}" if kind == "stop" else f"extension={begin}:{iso(last)}")
        words += [f"auth={iso(a)}:{iso(b)}:{n}" for a, b, n in self.auths]
        words += [f"holiday={iso(d)}" for d in self.holidays]
        for anchor, number, length, window in self.readings:
            words.append(f"reading={anchor}:{number}:{length}" +
                         ("" if window is None else ":%s:%s:%d" % window))
        words += [f"away={self.away}", f"interruption={self.interruption}",
                  f"month_rule={self.month_rule}", f"most_months={self.most_months}",
                  f"amount={self.amount}"]
        for flag, name in ((self.home_only, "home_only"), (self.admission, "admission"),
                           (self.last_day, "last_day"), (self.needs_auth, "needs_auth"),
                           (self.monthly, "monthly"), (self.not_covered, "not_covered"),
                           (self.cancelled, "cancelled")):
            if flag:
                words.append(name + "=1")
        if not self.payer:
            words.append("payer=none")
        if self.other is not None:
            words.append("other=" + iso(self.other))
        return " ".join(words)


class Reference:
    """The ledgers of a case, by the rules as stated."""

    def __init__(self, case):
        self.c = case
        zone = case.zone
        self.stays = [(local_day(zone, at), where, at) for where, at in case.stays]
        self.uses = [(local_day(zone, at), change, at) for change, at in case.uses]
        self.hand_over = local_day(zone, case.legs[0][1])
        self.surgery = case.surgery if case.has_surgery else None
        self.first_use = next(((day, at) for day, change, at in self.uses if change == "started"),
                              None)
        self.known = {}
        self._find_discharge()
        self._prescribe()
        self._touch()

    def _find_discharge(self):
        """A first note of a hospital is the admission for the operation when it is not later."""
        first = self.stays[0] if self.stays else None
        self.admitted = (first is not None and first[1] == "hospital" and self.surgery is not None
                         and first[0] <= self.surgery)
        self.discharge_note = None
        if first is not None and (first[1] in ("home", "facility") or self.admitted):
            self.discharge_note = next((s for s in self.stays if s[1] == "home"), None)
        self.discharge = self.discharge_note[0] if self.discharge_note else self.c.planned

    def _prescribe(self):
        """Sets of days, one a paper; a stop takes what lies behind it out of all of them."""
        spans = []
        if self.c.lon:
            spans.append(set(range(self.hand_over, self.hand_over + self.c.lon)))
        self.stopped = None
        for kind, first, last in self.c.papers:
            if kind == "stop":
                spans = [s for s in ({d for d in span if d <= last} for span in spans) if s]
                self.stopped = last
                continue
            if first is None:
                first = max(max(s) for s in spans) + 1 if spans else self.hand_over
            if last >= first:
                spans.append(set(range(first, last + 1)))
            if self.stopped is not None and last > self.stopped:
                self.stopped = None
        self.prescribed = set().union(*spans) if spans else None
        self.prescribed_end = max(self.prescribed) if spans else None

    def _touch(self):
        """Every day with its seconds in the home."""
        c, zone = self.c, self.c.zone
        until = begin_of(zone, c.through + 1)
        self.touched = {}
        intervals = []
        for _, start, end in c.legs:
            first = local_day(zone, start)
            if end is None:
                stop, last = max(start, until), c.through
            else:
                stop, last = end, local_day(zone, end)
                if last > first and begin_of(zone, last) == end:
                    last -= 1
            if last < first:
                continue
            intervals.append((start, stop))
            for day in range(first, last + 1):
                self.touched.setdefault(day, 0)
        intervals.sort()
        merged = []
        for start, stop in intervals:
            if merged and start <= merged[-1][1]:
                merged[-1][1] = max(merged[-1][1], stop)
            else:
                merged.append([start, stop])
        self.length = {}
        for day in sorted(self.touched):
            begin, end = begin_of(zone, day), begin_of(zone, day + 1)
            if end <= begin:  # the place's calendar leaves the day out
                del self.touched[day]
                continue
            self.length[day] = end - begin
            self.touched[day] = sum(max(0, min(stop, end) - max(start, begin))
                                    for start, stop in merged)
        self.days = sorted(self.touched)

    def where(self, day, leaving_is_home):
        key = day, leaving_is_home
        if key not in self.known:
            self.known[key] = self.where_by(day, leaving_is_home, self.stays)
        return self.known[key]

    def where_by(self, day, leaving_is_home, stays):
        past = [i for i, s in enumerate(stays) if s[0] <= day]
        if not past:
            if self.stays and self.stays[0][1] in ("home", "facility"):
                return "not_discharged"
            if self.c.planned is not None and day < self.c.planned:
                return "not_discharged"
            return "home"
        i = past[-1]
        noted, where, _ = stays[i]
        if where == "home":
            return "home"
        if where == "died":
            return self.where_by(day, leaving_is_home, stays[:i]) if noted == day else "died"
        if where == "hospital" and i == 0 and self.admitted:
            return "not_discharged"
        if noted == day and leaving_is_home and self.where_by(day - 1, False, stays[:i]) == "home":
            return "home"
        return where

    def use(self, day):
        past = [u for u in self.uses if u[0] <= day]
        if not past:
            return "not_yet" if self.uses and self.uses[0][1] == "started" else "used"
        noted, change, _ = past[-1]
        return "no_longer" if change == "stopped" and noted < day else "used"

    def anchor(self, name):
        return {"surgery": self.surgery, "discharge": self.discharge,
                "use": self.first_use[0] if self.first_use else None,
                "hand-over": self.hand_over}[name]

    def anchor_at(self, name):
        return {"surgery": self.c.surgery_at,
                "discharge": self.discharge_note[2] if self.discharge_note else None,
                "use": self.first_use[1] if self.first_use else None,
                "hand-over": self.c.legs[0][1]}[name]

    def too_late(self, window):
        if window is None or self.first_use is None:
            return False
        name, measure, most = window
        if measure == "hours":
            start = self.anchor_at(name)
            return start is not None and self.first_use[1] - start > most * 3600
        start = self.anchor(name)
        if start is None:
            return False
        if measure == "days":
            return self.first_use[0] - start > most
        working = [d for d in range(start + 1, self.first_use[0] + 1)
                   if date.fromordinal(d).weekday() < 5 and d not in self.c.holidays]
        return len(working) > most

    def last_of(self, reading):
        name, number, length, _ = reading
        start = self.anchor(name)
        if start is None or length == 0:
            return None
        if self.c.away != "stop":
            return start - number + length
        # Days are dealt out one by one; a day away takes none where it stops the count.
        left, day = length - number + 1, start - 1
        while left > 0:
            day += 1
            stops = (self.c.away == "stop" and
                     self.where(day, self.c.admission) in ("hospital", "facility"))
            if stops and day > self.stays[-1][0]:
                return None  # away until somebody says otherwise
            left -= 0 if stops else 1
        return day

    def payer(self, day):
        if self.c.other is not None and self.c.other <= day:
            return "other"
        return "payer" if self.c.payer else ""

    def terms_known(self, payer):
        return payer == "payer" or (payer == "other" and self.c.payer)

    def ledgers(self):
        most = 1
        first_payer = self.payer(self.hand_over)
        payers = {first_payer, "payer" if self.c.payer else ""}
        if "payer" in payers and not self.c.not_covered:
            most = len(self.c.readings)
        return [self.ledger(i) for i in range(most)]

    def ledger(self, index):
        c = self.c
        used = [0] * len(c.auths)
        out = {}
        lasts = {}

        def last_of(reading):
            if reading not in lasts:
                lasts[reading] = self.last_of(reading)
            return lasts[reading]

        def ask(day, payer, reading):
            if c.cancelled:
                return "cancelled"
            if not self.terms_known(payer):
                return "no_terms"
            if c.not_covered:
                return "not_paid_for"
            start = self.anchor(reading[0])
            if start is None or day < start:
                return "anchor"
            if self.too_late(reading[3]):
                return "late"
            if self.prescribed is None or day not in self.prescribed:
                if self.stopped is not None and day > self.stopped:
                    return "after_stop"
                if self.prescribed is not None:
                    return "hole" if day < self.prescribed_end else "after_prescription"
            last = last_of(reading)
            if last is not None and day > last:
                return "after_cover"
            if not c.needs_auth:
                return "within"
            fitting = [i for i, a in enumerate(c.auths) if a[0] <= day <= a[1]]
            if not fitting:
                return "not_authorised"
            for i in fitting:
                units = c.auths[i][2]
                if units == 0 or c.monthly:
                    return "within"
                if used[i] < units:
                    used[i] += 1
                    return "within"
            return "used_up"

        def judge(day):
            payer = self.payer(day)
            known = self.terms_known(payer)
            reading = c.readings[0] if payer == "other" else c.readings[index]
            where = self.where(day, c.admission and known)
            if where == "died":
                return IDLE, "after_death"
            if self.surgery is not None and day < self.surgery:
                return IDLE, "before_surgery"
            if where == "not_discharged":
                return IDLE, "before_discharge"
            if where in ("hospital", "facility"):
                if known and c.away == "paid" and ask(day, payer, reading) == "within":
                    return COVERED, "paid"
                return AWAY, where
            use = self.use(day)
            if use != "used":
                return IDLE, "before_use" if use == "not_yet" else "after_use"
            reason = ask(day, payer, reading)
            return (COVERED if reason == "within" else NOT_COVERED), reason

        for day in self.days:
            out[day] = judge(day)
        in_use = [d for d in self.days if out[d][0] in (COVERED, NOT_COVERED)]
        if in_use and c.last_day and self.terms_known(self.payer(in_use[-1])):
            day = in_use[-1]
            over = c.legs[-1][2] is not None or self.use(day + 1) == "no_longer"
            if over and out[day][0] == COVERED:
                out[day] = NOT_COVERED, "last_day"
        months = self.months(out, used) if (
            c.monthly and self.terms_known(self.payer(self.hand_over))) else []
        return self.line(out, months, index)

    def month_begin(self, first, k):
        d = date.fromordinal(first)
        month = d.month - 1 + k
        year, month = d.year + month // 12, month % 12 + 1
        try:
            return date(year, month, d.day).toordinal()
        except ValueError:
            following = date(year + month // 12, month % 12 + 1, 1).toordinal()
            return following if self.c.month_rule == "next" else following - 1

    def months(self, out, used):
        """Months of use: [period, number, first day, covered, the days]."""
        c, months = self.c, []
        first = end = before = None
        for day in [d for d in self.days if out[d][0] == COVERED]:
            gap = end is not None and day > before + 1 and day >= end
            if end is None or gap and day > end - 1 + c.interruption:
                first, k = day, 0
                months.append([months[-1][0] + 1 if months else 1, 1, day, True, []])
            elif day >= end:
                while self.month_begin(first, k + 1) <= day:
                    k += 1
                months.append([months[-1][0], months[-1][1] + 1, self.month_begin(first, k), True,
                               []])
            end, before = self.month_begin(first, k + 1), day
            months[-1][4].append(day)
        for month in months:
            month[3] = c.most_months == 0 or month[1] <= c.most_months
            if month[3] and c.needs_auth:
                month[3] = False
                for i, (a, b, units) in enumerate(c.auths):
                    if a <= month[4][0] <= b and (units == 0 or used[i] < units):
                        used[i] += 1
                        month[3] = True
                        break
            if not month[3]:
                for day in month[4]:
                    out[day] = NOT_COVERED, "used_up"
        return months

    def line(self, out, months, index):
        c = self.c
        first_payer = self.payer(self.hand_over)
        known = self.terms_known(first_payer)
        reading = c.readings[0] if first_payer == "other" else c.readings[index]
        reasons, previous = "", None
        for day in self.days:
            if previous is not None:
                reasons += "," if day == previous + 1 else "_"
            reasons += f"{out[day][0]}.{REASON[out[day][1]]}"
            previous = day
        custody = sum(self.touched.values())
        thousandths = sum((1000 * self.touched[d] * 2 + self.length[d]) // (2 * self.length[d])
                          for d in self.days)
        last = self.last_of(reading) if known and not c.not_covered else None
        if c.monthly:
            amount = c.amount * sum(1 for m in months if m[3]) if known else 0
        else:
            amount = c.amount * sum(1 for d in self.days if out[d][0] == COVERED)
        month_words = ",".join(f"{m[0]}.{m[1]}.{m[2] - EPOCH}.{1 if m[3] else 0}" for m in months)
        return " ".join([str(self.days[0] - EPOCH) if self.days else "-", reasons or "-",
                         str(custody), str(thousandths), "-" if last is None else str(last - EPOCH),
                         str(amount), month_words or "-"])


def check(seed, count):
    """The first differing cases of one chunk, how many there are, and the reasons that came up."""
    rng = random.Random(seed)
    cases = [Case(rng) for _ in range(count)]
    texts = [case.text() for case in cases]
    answer = subprocess.run([PROGRAM], input="\n".join(texts) + "\n", capture_output=True,
                            text=True, check=True, timeout=240)
    lines = answer.stdout.splitlines()
    if len(lines) != count:
        raise AssertionError(f"{len(lines)} answers to {count} cases")
    wrong, examples, seen = 0, [], set()
    for case, text, line in zip(cases, texts, lines):
        expected = "|".join(Reference(case).ledgers())
        for ledger in expected.split("|"):
            seen.update(ledger.split(" ")[1].replace("_", ",").split(","))
        if expected == line:
            continue
        wrong += 1
        if len(examples) < 2:
            examples.append(f"case:     {text}\nexpected: {expected}\nfound:    {line}")
    return wrong, examples, {int(s.split(".")[1]) for s in seen if "." in s}


def work(chunks, answers):
    for seed, count in chunks:
        answers.put(check(seed, count))


class DayOracle(unittest.TestCase):
    def test_every_random_ledger_agrees(self):
        chunks = [(SEED + i, min(CHUNK, CASES - i * CHUNK)) for i in range(-(-CASES // CHUNK))]
        fork = multiprocessing.get_context("fork")
        answers = fork.Queue()
        workers = [fork.Process(target=work, args=(chunks[i::2], answers)) for i in range(2)]
        for worker in workers:
            worker.start()
        wrong, examples, reasons = 0, [], set()
        for _ in chunks:
            more, some, seen = answers.get(timeout=250)
            wrong, examples, reasons = wrong + more, examples + some, reasons | seen
        for worker in workers:
            worker.join()
        self.assertEqual(wrong, 0, f"{wrong} of {CASES} differ\n" + "\n".join(examples[:3]))
        self.assertEqual(reasons, set(REASON.values()), "some reason never came up")


if __name__ == "__main__":
    unittest.main()
