"""Known clock-change answers, checked twice: against zoneinfo and against the program.

What it checks
    A table of literal answers: wall times that are skipped or repeated, two
    elapsed hours across a change, how long a night from 22:30 to 06:30 really
    is, the changes of 2026 that older zone tables do not have, and the instants
    at which clocks change. Where a plan can reach the moment, an order is built
    whose bedtime and waking hit it, and the printed plan must give the answer.

Against which outside sources
    Python `zoneinfo` over PyPI `tzdata` 2026.6 (IANA 2026f), with the skipped
    and repeated times settled by RFC 5545 section 3.3.5, whose two printed
    examples are in the table. The answers themselves are written out here, so a
    fault shared by zoneinfo and the program would still show.

    python zone_vectors.py --binary PATH
    python zone_vectors.py --python-only
"""

import argparse
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import oracle
from oracle import DAY, HOUR


# ------------------------------------------------------------------- tables


@dataclass(frozen=True)
class Wall:
    """A wall time and the local time, with offset, that it stands for."""

    zone: str
    wall: str
    kind: str  # "plain", "gap" or "fold"
    answer: str


# The first two are RFC 5545's own examples; too long ago for an order.
RFC_EXAMPLES = [
    Wall("America/New_York", "2007-11-04T01:30", "fold", "2007-11-04T01:30:00-04:00"),
    Wall("America/New_York", "2007-03-11T02:30", "gap", "2007-03-11T03:30:00-04:00"),
]

WALLS = [
    # repeated: the first
    Wall("America/New_York", "2026-11-01T01:30", "fold", "2026-11-01T01:30:00-04:00"),
    Wall("America/New_York", "2026-11-01T01:00", "fold", "2026-11-01T01:00:00-04:00"),
    Wall("America/New_York", "2026-11-01T02:00", "plain", "2026-11-01T02:00:00-05:00"),
    Wall("Australia/Lord_Howe", "2027-04-04T01:45", "fold", "2027-04-04T01:45:00+11:00"),
    Wall("Europe/Berlin", "2026-10-25T02:30", "fold", "2026-10-25T02:30:00+02:00"),
    Wall("Pacific/Chatham", "2026-04-05T03:00", "fold", "2026-04-05T03:00:00+13:45"),
    Wall("America/Santiago", "2026-04-04T23:30", "fold", "2026-04-04T23:30:00-03:00"),
    Wall("Africa/Cairo", "2027-10-28T23:30", "fold", "2027-10-28T23:30:00+03:00"),
    Wall("Antarctica/Troll", "2027-10-31T01:30", "fold", "2027-10-31T01:30:00+02:00"),
    # skipped: the offset from before the gap, so later on the clock
    Wall("America/New_York", "2027-03-14T02:30", "gap", "2027-03-14T03:30:00-04:00"),
    Wall("America/New_York", "2027-03-14T02:00", "gap", "2027-03-14T03:00:00-04:00"),
    Wall("America/New_York", "2027-03-14T03:00", "plain", "2027-03-14T03:00:00-04:00"),
    Wall("Europe/London", "2027-03-28T01:30", "gap", "2027-03-28T02:30:00+01:00"),
    Wall("Australia/Lord_Howe", "2026-10-04T02:15", "gap", "2026-10-04T02:45:00+11:00"),
    Wall("America/Santiago", "2026-09-06T00:30", "gap", "2026-09-06T01:30:00-03:00"),
    Wall("Africa/Cairo", "2027-04-30T00:30", "gap", "2027-04-30T01:30:00+03:00"),
    Wall("Antarctica/Troll", "2027-03-28T02:30", "gap", "2027-03-28T04:30:00+02:00"),
    Wall("Pacific/Chatham", "2026-09-27T03:00", "gap", "2026-09-27T04:00:00+13:45"),
    # only so since 2026f: once for certain, where older tables repeat the hour
    Wall("America/Vancouver", "2026-11-01T01:30", "plain", "2026-11-01T01:30:00-07:00"),
    Wall("America/Havana", "2026-11-01T00:30", "plain", "2026-11-01T00:30:00-04:00"),
    Wall("America/Edmonton", "2026-11-01T01:30", "plain", "2026-11-01T01:30:00-06:00"),
    Wall("America/Winnipeg", "2026-11-01T01:30", "plain", "2026-11-01T01:30:00-05:00"),
    # only so since 2026f: the European hour of change, an hour later than before
    Wall("Europe/Chisinau", "2026-10-25T03:30", "fold", "2026-10-25T03:30:00+03:00"),
    # only so since 2026f: the offset of an ordinary winter morning
    Wall("America/Vancouver", "2026-12-01T07:00", "plain", "2026-12-01T07:00:00-07:00"),
    Wall("America/Edmonton", "2026-12-01T07:00", "plain", "2026-12-01T07:00:00-06:00"),
    Wall("America/Inuvik", "2026-12-01T07:00", "plain", "2026-12-01T07:00:00-06:00"),
    Wall("America/Winnipeg", "2026-12-01T07:00", "plain", "2026-12-01T07:00:00-05:00"),
    Wall("Africa/Casablanca", "2026-12-01T07:00", "plain", "2026-12-01T07:00:00+00:00"),
    Wall("Africa/El_Aaiun", "2026-12-01T07:00", "plain", "2026-12-01T07:00:00+00:00"),
    Wall("America/Havana", "2026-12-01T07:00", "plain", "2026-12-01T07:00:00-04:00"),
    Wall("Europe/Chisinau", "2026-12-01T07:00", "plain", "2026-12-01T07:00:00+02:00"),
    # given up some years ago: the hour in which clocks used to change
    Wall("America/Mexico_City", "2026-04-05T02:30", "plain", "2026-04-05T02:30:00-06:00"),
    Wall("Asia/Amman", "2026-12-01T07:00", "plain", "2026-12-01T07:00:00+03:00"),
    Wall("Asia/Damascus", "2026-12-01T07:00", "plain", "2026-12-01T07:00:00+03:00"),
    Wall("Asia/Tehran", "2026-07-01T07:00", "plain", "2026-07-01T07:00:00+03:30"),
    Wall("Pacific/Apia", "2026-12-01T07:00", "plain", "2026-12-01T07:00:00+13:00"),
    Wall("Pacific/Fiji", "2026-12-01T07:00", "plain", "2026-12-01T07:00:00+12:00"),
    Wall("America/Sao_Paulo", "2026-12-01T07:00", "plain", "2026-12-01T07:00:00-03:00"),
    Wall("America/Asuncion", "2026-07-01T07:00", "plain", "2026-07-01T07:00:00-03:00"),
    Wall("Asia/Almaty", "2026-07-01T07:00", "plain", "2026-07-01T07:00:00+05:00"),
    Wall("Asia/Kathmandu", "2026-07-01T07:00", "plain", "2026-07-01T07:00:00+05:45"),
]


@dataclass(frozen=True)
class Later:
    """Waking, and the local time two elapsed hours after it."""

    zone: str
    wall: str
    answer: str


LATERS = [
    Later("America/New_York", "2026-11-01T00:30", "2026-11-01T01:30:00-05:00"),
    Later("America/New_York", "2027-03-14T01:30", "2027-03-14T04:30:00-04:00"),
    Later("Australia/Lord_Howe", "2026-10-04T01:00", "2026-10-04T03:30:00+11:00"),
    Later("Europe/London", "2027-03-28T00:15", "2027-03-28T03:15:00+01:00"),
    Later("America/Vancouver", "2026-11-01T00:30", "2026-11-01T02:30:00-07:00"),
]


@dataclass(frozen=True)
class Night:
    """In bed at 22:30 on a date, up at 06:30: how many hours that was."""

    zone: str
    evening: str
    hours: float


NIGHTS = [
    Night("America/New_York", "2026-10-31", 9),
    Night("America/New_York", "2027-03-13", 7),
    Night("Australia/Lord_Howe", "2026-10-03", 7.5),
    Night("Europe/Berlin", "2026-10-24", 9),
    Night("America/Vancouver", "2026-10-31", 8),
    Night("America/Winnipeg", "2026-10-31", 8),
    Night("America/Phoenix", "2026-10-31", 8),
]


@dataclass(frozen=True)
class Change:
    """An instant of change, and the clock before and after it."""

    zone: str
    instant: str
    before: str
    after: str


CHANGES = [
    Change("America/New_York", "2026-03-08T07:00Z", "02:00", "03:00"),
    Change("America/New_York", "2027-03-14T07:00Z", "02:00", "03:00"),
    Change("America/New_York", "2026-11-01T06:00Z", "02:00", "01:00"),
    Change("America/New_York", "2027-11-07T06:00Z", "02:00", "01:00"),
    Change("Europe/London", "2026-03-29T01:00Z", "01:00", "02:00"),
    Change("Europe/London", "2027-03-28T01:00Z", "01:00", "02:00"),
    Change("Europe/London", "2026-10-25T01:00Z", "02:00", "01:00"),
    Change("Europe/London", "2027-10-31T01:00Z", "02:00", "01:00"),
    Change("Europe/Berlin", "2026-03-29T01:00Z", "02:00", "03:00"),
    Change("Europe/Berlin", "2027-03-28T01:00Z", "02:00", "03:00"),
    Change("Europe/Berlin", "2026-10-25T01:00Z", "03:00", "02:00"),
    Change("Europe/Berlin", "2027-10-31T01:00Z", "03:00", "02:00"),
    Change("Europe/Chisinau", "2026-10-25T01:00Z", "04:00", "03:00"),
    Change("Australia/Lord_Howe", "2026-10-03T15:30Z", "02:00", "02:30"),
    Change("Australia/Lord_Howe", "2027-10-02T15:30Z", "02:00", "02:30"),
    Change("Australia/Lord_Howe", "2026-04-04T15:00Z", "02:00", "01:30"),
    Change("Australia/Lord_Howe", "2027-04-03T15:00Z", "02:00", "01:30"),
    Change("Australia/Sydney", "2026-10-03T16:00Z", "02:00", "03:00"),
    Change("Australia/Sydney", "2027-10-02T16:00Z", "02:00", "03:00"),
    Change("Australia/Sydney", "2026-04-04T16:00Z", "03:00", "02:00"),
    Change("Australia/Sydney", "2027-04-03T16:00Z", "03:00", "02:00"),
    Change("Pacific/Auckland", "2026-09-26T14:00Z", "02:00", "03:00"),
    Change("Pacific/Auckland", "2027-09-25T14:00Z", "02:00", "03:00"),
    Change("Pacific/Auckland", "2026-04-04T14:00Z", "03:00", "02:00"),
    Change("Pacific/Auckland", "2027-04-03T14:00Z", "03:00", "02:00"),
    Change("Pacific/Chatham", "2026-09-26T14:00Z", "02:45", "03:45"),
    Change("Pacific/Chatham", "2026-04-04T14:00Z", "03:45", "02:45"),
    Change("America/Santiago", "2026-09-06T04:00Z", "00:00", "01:00"),
    Change("America/Santiago", "2026-04-05T03:00Z", "00:00", "23:00"),
    Change("Africa/Cairo", "2027-04-29T22:00Z", "00:00", "01:00"),
    Change("Africa/Cairo", "2027-10-28T21:00Z", "00:00", "23:00"),
    Change("Antarctica/Troll", "2027-03-28T01:00Z", "01:00", "03:00"),
    Change("Antarctica/Troll", "2027-10-31T01:00Z", "03:00", "01:00"),
    Change("America/Havana", "2027-11-07T05:00Z", "01:00", "00:00"),
]

UNCHANGING = [
    "America/Phoenix", "America/Regina", "America/Mexico_City", "Asia/Tehran", "Pacific/Apia",
]


# ------------------------------------------------------- against zoneinfo


def parse_wall(zone, text):
    """(zone, date, time) of a wall time written as 2026-11-01T01:30."""
    naive = datetime.fromisoformat(text)
    return ZoneInfo(zone), naive.date(), naive.time()


def resolve_text(zone, text):
    return oracle.resolve(*parse_wall(zone, text))


def check_walls(tally):
    for row in RFC_EXAMPLES + WALLS:
        found = resolve_text(row.zone, row.wall)
        answer = oracle.show(ZoneInfo(row.zone), found.instant)
        lines = oracle.differences([row.kind, row.answer], [found.kind, answer])
        tally.record(f"zoneinfo: {row.zone} {row.wall}", lines)


def check_laters(tally):
    for row in LATERS:
        instant = resolve_text(row.zone, row.wall).instant + 2 * HOUR
        lines = oracle.differences(row.answer, oracle.show(ZoneInfo(row.zone), instant))
        tally.record(f"zoneinfo: {row.zone} {row.wall} and two hours", lines)


def check_nights(tally):
    for row in NIGHTS:
        evening = datetime.fromisoformat(row.evening).date()
        bed = resolve_text(row.zone, f"{evening}T22:30").instant
        up = resolve_text(row.zone, f"{evening + DAY}T06:30").instant
        lines = oracle.differences(float(row.hours), (up - bed) / HOUR)
        tally.record(f"zoneinfo: {row.zone} night of {evening}", lines)


def check_changes(tally):
    """The clock just before an instant, rounded up to it, and the clock at it."""
    second = timedelta(seconds=1)
    for row in CHANGES:
        instant = datetime.fromisoformat(row.instant)
        zone = ZoneInfo(row.zone)
        last = (instant - second).astimezone(zone).replace(tzinfo=None) + second
        first = instant.astimezone(zone).replace(tzinfo=None)
        clocks = [last.strftime("%H:%M"), first.strftime("%H:%M")]
        lines = oracle.differences([row.before, row.after], clocks)
        tally.record(f"zoneinfo: {row.zone} changes at {row.instant}", lines)
    for name in UNCHANGING:
        found = [c for c in oracle.find_transitions(name) if c.instant.year < 2028]
        tally.record(f"zoneinfo: {name} does not change", [str(change) for change in found])


# ------------------------------------------------------ against the program


@dataclass(frozen=True)
class Case:
    """An order and the values its printed plan must hold."""

    title: str
    text: str
    check: Callable[[dict], list]


def make_order(number, zone, bed, wake):
    """Dinner is three hours before bedtime, so that waking falls on wake's date."""
    dinner = bed - timedelta(hours=3)
    return f"""\
order = "{number}"
protocol = "four-card"
start = {dinner.date()}
zone = "{zone}"

[patient]
family = "Lindqvist"
given = "Tove"
born = 1979-05-17
weight = "150 lb"

[routine]
lunch = {(dinner - timedelta(hours=5)).time().isoformat()}
dinner = {dinner.time().isoformat()}
bedtime = {bed.time().isoformat()}
wake = {wake.time().isoformat()}

[provider]
name = "Dr. Imre Salvatierra"
phone = "555-0142"
"""


def waking_order(number, zone, wall):
    """Wakes at the wall time, after an evening well clear of any change."""
    wake = datetime.fromisoformat(wall)
    return make_order(number, zone, wake - timedelta(hours=8), wake)


def bedtime_order(number, zone, wall):
    """Goes to bed at the wall time."""
    bed = datetime.fromisoformat(wall)
    return make_order(number, zone, bed, bed + timedelta(hours=8))


def slot_of(plan, name):
    return next(slot for slot in plan["slots"] if slot["slot"] == name)


def zone_codes(plan, anchor):
    """What is found of the anchor's own time; an emptying or a card has findings of its
    own, which oracle.py compares."""
    return sorted(
        finding["code"]
        for finding in plan["findings"]
        if finding["code"] in ("zone-gap", "zone-fold")
        and f"{anchor} is planned at" in finding["text"]
    )


def codes_for(kind):
    return [] if kind == "plain" else [f"zone-{kind}"]


def wall_check(row, slot):
    def check(plan):
        found = [slot_of(plan, slot)["collect_at"], zone_codes(plan, slot)]
        return oracle.differences([row.answer, codes_for(row.kind)], found)

    return check


def later_check(row):
    return lambda plan: oracle.differences(row.answer, slot_of(plan, "later")["collect_at"])


def night_check(row):
    def check(plan):
        bed, up = (
            datetime.fromisoformat(slot_of(plan, name)["collect_at"])
            for name in ("bedtime", "waking")
        )
        return oracle.differences(float(row.hours), (up - bed) / HOUR)

    return check


def change_wall(row):
    """A minute after the change, or after the repeated stretch it makes: a plain
    time whose offset is right only if the change is at the right instant. This
    answer comes from zoneinfo, whose changes the table has already settled."""
    zone = ZoneInfo(row.zone)
    fold_ends = max(datetime.fromisoformat(row.instant), fold_end(row, zone))
    local = (fold_ends + timedelta(minutes=1)).astimezone(zone)
    return Wall(row.zone, local.strftime("%Y-%m-%dT%H:%M"), "plain", local.isoformat())


def fold_end(row, zone):
    """When a repeated stretch is over; at once, if clocks went forward."""
    instant = datetime.fromisoformat(row.instant)
    before, after = (
        (instant - timedelta(seconds=s)).astimezone(zone).utcoffset() for s in (1, 0)
    )
    return instant + max(before - after, timedelta(0))


def build_cases():
    cases = []

    def add(title, order_maker, row, check, wall=None):
        number = f"ZV-{len(cases):04d}"
        text = order_maker(number, row.zone, wall or row.wall)
        cases.append(Case(f"plan: {title}", text, check))

    for row in WALLS:
        add(f"{row.zone} waking {row.wall}", waking_order, row, wall_check(row, "waking"))
        add(f"{row.zone} bedtime {row.wall}", bedtime_order, row, wall_check(row, "bedtime"))
    for row in LATERS:
        add(f"{row.zone} {row.wall} and two hours", waking_order, row, later_check(row))
    for row in NIGHTS:
        wall = f"{row.evening}T22:30"
        add(f"{row.zone} night of {row.evening}", bedtime_order, row, night_check(row), wall)
    for change in CHANGES:
        row = change_wall(change)
        add(f"{row.zone} after the change", waking_order, row, wall_check(row, "waking"))
    return {f"ZV-{n:04d}": case for n, case in enumerate(cases)}


def check_program(binary, tally):
    cases = build_cases()
    with tempfile.TemporaryDirectory(prefix="zone-vectors-") as name:
        folder = Path(name)
        oracle.write_folder(folder, {number: case.text for number, case in cases.items()})
        plans, complaints = oracle.run_plan(binary, [folder])
    complaints += oracle.sequence_complaints(plans, sorted(cases), "in name order")
    if complaints:
        tally.record("the run itself", complaints)
    printed = oracle.plans_by_order(plans)
    for number, case in cases.items():
        tally.record(case.title, case_faults(case, printed.get(number)), case.text)


def case_faults(case, plan):
    if plan is None:
        return ["no plan was printed for this order"]
    try:
        version = oracle.differences(oracle.ZONE_DATA, plan.get("zone_data"), "zone_data")
        return version + case.check(plan)
    except (KeyError, StopIteration, TypeError, ValueError) as fault:
        return [f"the plan has not the expected shape: {fault!r}"]


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--binary", help="the program to check")
    parser.add_argument("--python-only", action="store_true", help="check zoneinfo alone")
    options = parser.parse_args()
    if not options.binary and not options.python_only:
        parser.error("give --binary PATH, or --python-only")
    tally = oracle.Tally(None)
    for check in (check_walls, check_laters, check_nights, check_changes):
        check(tally)
    if not options.python_only:
        check_program(oracle.check_binary_path(options.binary), tally)
    return tally.close()


if __name__ == "__main__":
    sys.exit(main())
