"""FHIR R4 held against HL7's own definitions and examples, and against two outside validators.

Source of the definitions and examples: npm package hl7.fhir.r4.examples 4.0.1 (CC0-1.0).
"""

import glob
import json
import os
import subprocess
import sys
import unittest

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import packages  # noqa: E402
from probe import Probe  # noqa: E402

TYPES = ["DeviceRequest", "ServiceRequest", "DeviceUseStatement", "SupplyDelivery", "SupplyRequest",
         "Device", "Procedure", "Coverage", "Task", "Patient"]
# The elements that every resource has; they are the same everywhere.
OF_RESOURCES = {"id", "meta", "implicitRules", "language", "text", "contained", "extension",
                "modifierExtension"}
OF_ELEMENTS = {"id", "extension", "modifierExtension"}


def hl7(name):
    with open(packages.path("hl7.fhir.r4.examples", name + ".json"), encoding="utf-8") as file:
        return json.load(file)


def code_systems():
    systems = {}
    for path in glob.glob(packages.path("hl7.fhir.r4.examples", "CodeSystem-*.json")):
        with open(path, encoding="utf-8") as file:
            system = json.load(file)
        systems[system["url"]] = system
    return systems


SYSTEMS = {}


def codes_of(value_set):
    """The codes of a value set made of whole, enumerated code systems; none for any other."""
    name = "ValueSet-" + value_set.split("|")[0].rsplit("/", 1)[1]
    if not os.path.exists(packages.path("hl7.fhir.r4.examples", name + ".json")):
        return None
    if not SYSTEMS:
        SYSTEMS.update(code_systems())
    out = []

    def walk(concepts):
        for concept in concepts:
            out.append(concept["code"])
            walk(concept.get("concept", []))

    for include in hl7(name)["compose"]["include"]:
        if "concept" in include:
            out.extend(c["code"] for c in include["concept"])
            continue
        system = SYSTEMS.get(include.get("system"))
        if "filter" in include or system is None or system.get("content") != "complete":
            return None
        walk(system.get("concept", []))
    return out


def elements(kind):
    """HL7's elements of a type in the form of our table."""
    out = []
    for e in hl7("StructureDefinition-" + kind)["snapshot"]["element"][1:]:
        name = e["path"].split(".")[-1]
        direct = e["path"].count(".") == 1
        if name in OF_ELEMENTS or (direct and kind in TYPES and name in OF_RESOURCES):
            continue
        types = []
        for one in e.get("type", []):
            code = "string" if one["code"].startswith("http") else one["code"]
            if code == "Reference" and one.get("targetProfile"):
                targets = [t.rsplit("/", 1)[1] for t in one["targetProfile"]]
                code = f"Reference({','.join(targets)})"
            types.append(code)
        if "contentReference" in e:
            types = ["@" + e["contentReference"][1:]]
        binding = e.get("binding", {})
        codes = codes_of(binding["valueSet"]) if binding.get("strength") == "required" else None
        out.append({"path": e["path"], "min": e["min"],
                    "max": -1 if e["max"] == "*" else int(e["max"]),
                    "types": "*" if len(types) > 20 else "|".join(types),
                    "codes": " ".join(codes or [])})
    return out


def examples():
    for kind in TYPES:
        for path in sorted(glob.glob(packages.path("hl7.fhir.r4.examples", kind + "-*.json"))):
            with open(path, encoding="utf-8") as file:
                resource = json.load(file)
            if resource["resourceType"] == kind:
                yield os.path.basename(path), resource


class FhirOutside(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.probe = Probe()

    @classmethod
    def tearDownClass(cls):
        cls.probe.close()

    def test_the_table_is_what_hl7_defines(self):
        ours = {}
        for element in self.probe("table"):
            ours.setdefault(element["path"].split(".")[0], []).append(element)
        self.assertTrue(set(TYPES) <= set(ours))
        for kind, rows in ours.items():
            # A code system that is no list (languages, currencies) is not in the table.
            self.assertEqual(rows, elements(kind), kind)

    def test_all_published_examples_pass_or_are_refused_with_the_right_reason(self):
        wrong = {}
        count = 0
        for name, resource in examples():
            count += 1
            troubles = self.probe("check", resource=resource)
            if troubles:
                wrong[name] = [(t["where"], t["kind"]) for t in troubles]
        self.assertGreaterEqual(count, 80)
        # Its reasonReference is a Procedure, which HL7's own definition does not allow there.
        self.assertEqual(wrong, {"DeviceUseStatement-example.json":
                                 [("R.reasonReference[0]", "FIELD_INVALID")]})

    def test_published_orders_are_read_or_say_what_they_lack(self):
        seen = {}
        for name, resource in examples():
            if resource["resourceType"] != "DeviceRequest":
                continue
            seen[name] = sorted({t["kind"] for t in self.probe("read", resource=resource)["troubles"]})
        self.assertGreaterEqual(len(seen), 4)
        for name, kinds in seen.items():
            # Their codes are in no depot's settings, and most give no number.
            self.assertTrue({"CODE_UNMAPPED", "FIELD_MISSING", "NOT_AN_ORDER"} & set(kinds),
                            (name, kinds))

    def test_mutations_are_caught(self):
        base = next(r for n, r in examples() if n == "DeviceRequest-example.json")

        def kinds(**change):
            mutant = json.loads(json.dumps(base))
            for key, value in change.items():
                if value is None:
                    mutant.pop(key, None)
                else:
                    mutant[key] = value
            return [t["where"] for t in self.probe("check", resource=mutant)]
        self.assertEqual(kinds(intent=None), ["R.intent"])
        self.assertEqual(kinds(intent="wish"), ["R.intent"])
        self.assertEqual(kinds(status="rented"), ["R.status"])
        self.assertEqual(kinds(priority="now"), ["R.priority"])
        self.assertEqual(kinds(performer=[{"reference": "Practitioner/1"}]), ["R.performer"])
        self.assertEqual(kinds(subject={"reference": "Observation/1"}), ["R.subject"])
        self.assertEqual(kinds(authoredOn="2026-3-1"), ["R.authoredOn"])
        self.assertEqual(kinds(authoredOn="2026-03-01T10:00:00"), ["R.authoredOn"])
        # What both outside validators let pass.
        self.assertEqual(kinds(authoredOn="2026-02-30"), ["R.authoredOn"])
        self.assertEqual(kinds(occurrenceDateTime="2026-03-01",
                               occurrencePeriod={"start": "2026-03-01"}), ["R.occurrence[x]"])


VALIDATE = """
const fs = require('fs');
const {Fhir} = require('fhir');
const first = new Fhir();
const Second = require('@asymmetrik/fhir-json-schema-validator');
const second = new Second();
const out = [];
for (const resource of JSON.parse(fs.readFileSync(0))) {
  const a = first.validate(resource, {errorOnUnexpected: true});
  const b = second.validate(resource);
  out.push({first: a.valid ? [] : a.messages, second: b});
}
console.log(JSON.stringify(out));
"""


def validate(resources):
    """What two outside validators say of resources."""
    done = subprocess.run(["node", "-e", VALIDATE], input=json.dumps(resources), text=True,
                          capture_output=True, cwd=packages.folder(), timeout=110)
    if done.returncode != 0:
        raise AssertionError(done.stderr[-2000:])
    return json.loads(done.stdout)


class FhirEmitted(unittest.TestCase):
    def test_what_is_emitted_passes_both_outside_validators_and_our_own_checks(self):
        from depot import Depot, Sender
        import mllp_test
        depot = Depot()
        try:
            depot.serve()
            sender = Sender(depot.hl7)
            for i in range(3):
                self.assertEqual(mllp_test.code(sender.ask(mllp_test.order(f"F{i}"))), "AA")
            sender.ask(mllp_test.order("F1", "CA", minute=5))
            sender.close()
            turn(depot, "E-F2")
            resources = []
            for i in range(3):
                text = depot.ferrule("export", f"E-F{i}", "--referrer", "clinic-ehr")
                bundle = json.loads(text)
                resources += [bundle] + [e["resource"] for e in bundle["entry"]]
            depot.ferrule("export", "E-F0", "--referrer", "counted", status=3)
        finally:
            depot.close()
        kinds = {r["resourceType"] for r in resources}
        self.assertEqual(kinds, {"Bundle", "DeviceRequest", "Task", "Device", "SupplyDelivery",
                                 "DeviceUseStatement"})
        # The validators look: a resource without its intent is no good.
        request = next(r for r in resources if r["resourceType"] == "DeviceRequest")
        mutant = {k: v for k, v in request.items() if k != "intent"}
        self.assertNotEqual(validate([mutant])[0]["first"], [])
        probe = Probe()
        for resource, outcome in zip(resources, validate(resources)):
            self.assertEqual(outcome["first"], [], resource)
            self.assertEqual(outcome["second"], [], resource)
            if resource["resourceType"] != "Bundle":
                self.assertEqual(probe("check", resource=resource), [])
        probe.close()


def turn(depot, order):
    """A unit that goes out with an order."""
    for words in (
            "add-unit K-1 knee-a north-dock --serial 77123 --part pendant=PEN-1"
            " --part foot-plate=FP-1 --at '2026-03-02 08:00'",
            "clean K-1 wipe-q --wet-min 12 --at '2026-03-02 09:00'",
            "erase K-1 --method menu --at '2026-03-02 09:05'",
            "inspect K-1 visual=yes stop=yes earth-ohm=0.12 insulation-mohm=20 leakage-ua=85"
            " --tester T-3 --at '2026-03-02 10:00'",
            "move K-1 north-shelf --at '2026-03-02 10:10'",
            f"hand-over K-1 {order} --accessory pendant --signed-by patient --observed"
            " --at '2026-03-03 10:00'"):
        import shlex
        depot.ferrule(*shlex.split(words))


if __name__ == "__main__":
    unittest.main()
