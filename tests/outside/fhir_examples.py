"""Read the official FHIR R4 examples and compare what is accepted with them.

What it checks
    1. Each example ServiceRequest, as it stands, in a bundle with all example
       patients, weights and prescriptions: the program ends in time, does not
       panic, and takes none that is not an active order.
    2. Each example Patient with a request made acceptable: a patient that is
       taken has the official family and given names of the example and a whole
       birth date.
    3. Each example MedicationRequest for one patient: one that is taken gives
       its times of day (timeOfDay) and no others; one without them, one that is
       taken as needed, or one with a text, is never taken.
    4. The example body weight gives the drink of 185 lb.
    5. As much of the package as a bundle may have, in one bundle.

Against which outside source
    The npm package `hl7.fhir.r4.examples` 4.0.1 (CC0-1.0), the official examples
    of HL7 FHIR R4. `npm pack` gets it, unless its unpacked folder is given.

It shares no code with the program. Needs Python 3.11 and, to get the package, npm.

    python fhir_examples.py --binary PATH [--package FOLDER]
"""

import argparse
import copy
import json
import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path

PACKAGE = "hl7.fhir.r4.examples@4.0.1"
TODAY = "2026-09-01"
START = "2026-12-02"
TIMEOUT = 120
MOST_BYTES = 15_000_000
# Larger ones are definitions, not data of patients.
LARGE_BYTES = 20_000

# What a request for a kit is called here.
KIT = "Timed cards at home"

LAB = """
name = "Harbor Bend Laboratory"
address = ["12 Quay Street", "Harbor Bend"]
phone = "555-0100"
hours = "Monday to Friday, 9 am to 5 pm"
zone = "America/Denver"
[columns]
default_protocol = "four-card"
requests = [{ordered}]
"""

# A cup for each 100 lb, rounded down to a quarter cup: 1.75 US cups (236.588 mL)
# for 185 lb are 414 mL, rounded down to 10. The rule is common practice, no
# source; the cup is NIST's.
DRINK_OF_185_LB = (7, 410)


class Checks:
    """Counts what was checked and what was at fault."""

    def __init__(self):
        self.done = 0
        self.faults = []

    def check(self, good, text):
        self.done += 1
        if not good:
            self.faults.append(text)


class Program:
    """Runs the binary on bundles."""

    def __init__(self, binary, folder, checks, ordered):
        self.binary = binary
        self.folder = folder
        self.checks = checks
        lab = LAB.format(ordered=", ".join(json.dumps(name) for name in ordered))
        (folder / "lab.toml").write_text(lab, encoding="utf-8")

    def plan(self, name, resources, *more):
        bundle = {
            "resourceType": "Bundle",
            "type": "collection",
            "entry": [{"resource": resource} for resource in resources],
        }
        path = self.folder / "bundle.json"
        path.write_text(json.dumps(bundle, ensure_ascii=False), encoding="utf-8")
        try:
            done = subprocess.run(
                [self.binary, "plan", path, "--today", TODAY, *more],
                capture_output=True,
                text=True,
                timeout=TIMEOUT,
            )
        except subprocess.TimeoutExpired:
            self.checks.check(False, f"{name}: not done after {TIMEOUT} s")
            return "", ""
        ended = done.returncode in (0, 1) and "panicked" not in done.stderr
        self.checks.check(ended, f"{name}: ended with {done.returncode}\n{done.stderr}")
        return done.stdout, done.stderr

    def plans(self, name, resources):
        out, _ = self.plan(name, resources, "--json")
        return [json.loads(line) for line in out.splitlines()]


def get_package(folder):
    subprocess.run(
        ["npm", "pack", "--silent", PACKAGE],
        cwd=folder,
        check=True,
        stdout=subprocess.DEVNULL,
    )
    archive = next(Path(folder).glob("*.tgz"))
    with tarfile.open(archive) as files:
        files.extractall(folder, filter="data")
    return Path(folder) / "package"


def load(package):
    """The examples by kind. Definitions and bundles are no patients' data."""
    kinds = {}
    for path in sorted(package.glob("*.json")):
        resource = json.loads(path.read_text(encoding="utf-8-sig"))
        if isinstance(resource, dict) and "resourceType" in resource:
            kinds.setdefault(resource["resourceType"], []).append(resource)
    return kinds


def ordered_by(requests):
    """A name for what each request orders, where it has one."""
    names = {KIT}
    for request in requests:
        code = request.get("code", {})
        names.update(c["code"] for c in code.get("coding", []) if "code" in c)
        names.update([code["text"]] if "text" in code else [])
    return sorted(names)


def request_for(patient):
    return {
        "resourceType": "ServiceRequest",
        "id": "made",
        "identifier": [{"value": "HB-30101"}],
        "status": "active",
        "intent": "order",
        "code": {"text": KIT},
        "subject": {"reference": f"Patient/{patient['id']}"},
        "occurrenceDateTime": START,
    }


def about(resource, patient):
    moved = copy.deepcopy(resource)
    moved["subject"] = {"reference": f"Patient/{patient['id']}"}
    return moved


PLAIN = {
    "resourceType": "Patient",
    "id": "plain",
    "name": [{"use": "official", "family": "Pemberton", "given": ["Rosalind"]}],
    "birthDate": "1988-02-29",
}


def check_requests(program, checks, kinds):
    others = kinds["Patient"] + kinds["MedicationRequest"]
    others += [o for o in kinds["Observation"] if o["id"] == "example"]
    taken = 0
    for request in kinds["ServiceRequest"]:
        name = f"ServiceRequest/{request['id']}"
        plans = program.plans(name, [request, *others])
        taken += len(plans)
        if plans:
            in_force = request["status"] == "active" and request["intent"] == "order"
            checks.check(in_force, f"{name}: taken, but not an active order")
            checks.check(not request.get("doNotPerform"), f"{name}: not to be done")
    print(f"{len(kinds['ServiceRequest'])} requests as they stand, {taken} taken")


def check_patients(program, checks, kinds):
    taken = 0
    for patient in kinds["Patient"]:
        name = f"Patient/{patient['id']}"
        # Its languages are mostly ones that there is no catalog for.
        plain = {key: patient[key] for key in patient if key != "communication"}
        out, _ = program.plan(name, [request_for(plain), plain])
        if not out:
            continue
        taken += 1
        names = patient["name"]
        official = [n for n in names if n.get("use") == "official"] or names
        shown = out.splitlines()[0].split("  ")[1]
        want = [
            f"{n['family'].upper()}, {' '.join(n['given'])}"
            for n in official
            if "family" in n and "given" in n
        ]
        checks.check(shown in want, f"{name}: {shown} is not among {want}")
        checks.check(len(patient["birthDate"]) == 10, f"{name}: taken without a day")
        gone = patient.get("deceasedDateTime") or patient.get("deceasedBoolean")
        checks.check(not gone, f"{name}: taken, but has died")
        checks.check(patient.get("active", True), f"{name}: taken, but not active")
    checks.check(taken > 0, "no example patient was taken")
    print(f"{len(kinds['Patient'])} patients, {taken} taken")


def check_medicines(program, checks, kinds):
    taken = 0
    for example in kinds["MedicationRequest"]:
        name = f"MedicationRequest/{example['id']}"
        request = about(example, PLAIN)
        medications = kinds.get("Medication", [])
        plans = program.plans(name, [request_for(PLAIN), PLAIN, request, *medications])
        if not plans:
            continue
        if example["status"] in ("completed", "stopped", "cancelled", "entered-in-error"):
            checks.check(not plans[0]["doses"], f"{name}: not in force, but planned")
            continue
        taken += 1
        dosages = example.get("dosageInstruction", [])
        repeats = [d.get("timing", {}).get("repeat", {}) for d in dosages]
        want = sorted(t for repeat in repeats for t in repeat.get("timeOfDay", []))
        got = sorted({dose["usual_at"][11:19] for dose in plans[0]["doses"]})
        checks.check(want and got == want, f"{name}: {got}, not {want}")
        needed = any(d.get("asNeededBoolean") or "asNeededCodeableConcept" in d for d in dosages)
        checks.check(not needed, f"{name}: taken as needed, but planned")
        said = any("text" in d for d in dosages)
        checks.check(not said, f"{name}: has a text that nobody read, but planned")
        asked = all(dose["action"] != "after-card" for dose in plans[0]["doses"])
        checks.check(asked, f"{name}: moved without anybody's leave")
    print(f"{len(kinds['MedicationRequest'])} prescriptions, {taken} taken with their times")
    # One example has times of day and no more than an order can say, once its text, which
    # could say anything, is taken out of it.
    [timed] = [
        m
        for m in kinds["MedicationRequest"]
        if any("timeOfDay" in d.get("timing", {}).get("repeat", {}) for d in m["dosageInstruction"])
    ]
    request = about(timed, PLAIN)
    times = []
    request["dosageInstruction"] = request["dosageInstruction"][:1]
    for dosage in request["dosageInstruction"]:
        times = dosage["timing"]["repeat"]["timeOfDay"]
        dosage["timing"]["repeat"] = {"timeOfDay": times}
    request["status"] = "active"
    bundle = [request_for(PLAIN), PLAIN, request, *kinds.get("Medication", [])]
    checks.check(not program.plans("text", bundle), "taken with a text that is not read")
    del request["dosageInstruction"][0]["text"]
    plans = program.plans("timeOfDay", bundle)
    checks.check(len(plans) == 1, "the example with times of day was not taken")
    for plan in plans:
        got = sorted({dose["usual_at"][11:19] for dose in plan["doses"]})
        checks.check(got == sorted(times), f"timeOfDay: {got}, not {times}")


def check_weight(program, checks, kinds):
    [weight] = [o for o in kinds["Observation"] if o["id"] == "example"]
    plans = program.plans("weight", [request_for(PLAIN), PLAIN, about(weight, PLAIN)])
    checks.check(len(plans) == 1, "the example weight was not taken")
    for plan in plans:
        drinks = [(d["quarter_cups"], d["ml"]) for d in plan["drinks"]]
        checks.check(DRINK_OF_185_LB in drinks, f"weight: {drinks}")


def check_all(program, kinds):
    resources, size = [], 0
    for kind in ["ServiceRequest", "Patient", *sorted(kinds)]:
        for resource in kinds.pop(kind, []):
            weight = len(json.dumps(resource, ensure_ascii=False).encode())
            if weight < LARGE_BYTES and size + weight < MOST_BYTES:
                size += weight
                resources.append(resource)
    program.plan("the package", resources)
    print(f"{len(resources)} resources in one bundle")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--binary", required=True)
    parser.add_argument("--package", type=Path)
    args = parser.parse_args()
    checks = Checks()
    with tempfile.TemporaryDirectory() as folder:
        package = args.package or get_package(folder)
        kinds = load(package)
        ordered = ordered_by(kinds["ServiceRequest"])
        program = Program(str(Path(args.binary).resolve()), Path(folder), checks, ordered)
        check_requests(program, checks, kinds)
        check_patients(program, checks, kinds)
        check_medicines(program, checks, kinds)
        check_weight(program, checks, kinds)
        check_all(program, kinds)
    for fault in checks.faults:
        print(fault)
    print(f"{checks.done} checks, {len(checks.faults)} faults")
    sys.exit(1 if checks.faults else 0)


if __name__ == "__main__":
    main()
