"""Read the calendar of every demo order with another reader, and compare it with its plan.

The file is not called calendar.py: beside the other checks that name would hide
Python's own module `calendar`, which the holiday and calendar packages need.

What it checks
    The calendar of each dated order is a sound file, and each of its events is
    a moment of the printed plan, whether the zone is taken from the file itself
    or from a zone table. No moment that a patient must act on is left out. An
    undated order is refused, and so is one on hold.

Against which outside sources
    * PyPI `icalendar` reads the file; with `dateutil` it builds the zone from
      the VTIMEZONE in the file and nothing else.
    * Python `zoneinfo` over PyPI `tzdata` 2026.6 (IANA 2026f).
    * RFC 5545: sections 3.1 (lines), 3.4 to 3.6.1 (what must be there), 3.6.5
      (zones), 3.6.6 (alarms), 3.8.4.7 (UIDs).

    python calendars.py --binary PATH --orders demo-orders
"""

import argparse
import subprocess
import sys
from collections import Counter
from datetime import UTC, date, datetime, time
from pathlib import Path
from zoneinfo import ZoneInfo

import icalendar

from oracle import Tally, check_binary_path, plans_by_order, run_plan, use_pinned_zone_data

LONGEST_LINE = 75  # octets, without the line break


def print_calendar(binary, path):
    return subprocess.run(
        [str(binary), "plan", str(path), "--ics"],
        capture_output=True, check=False, timeout=60, stdin=subprocess.DEVNULL,
    )


# ------------------------------------------------------------------ the bytes


def line_faults(data):
    """RFC 5545 section 3.1, on the bytes, before any reader forgives them."""
    faults = []
    if not data.endswith(b"\r\n"):
        faults.append("the file does not end with CRLF")
    for number, line in enumerate(data.removesuffix(b"\r\n").split(b"\r\n"), 1):
        if b"\n" in line or b"\r" in line:
            faults.append(f"line {number} holds a line break that is not CRLF")
        if len(line) > LONGEST_LINE:
            faults.append(f"line {number} is {len(line)} octets long")
        if not is_utf8(line):
            faults.append(f"line {number} is folded inside a character")
    return faults


def is_utf8(line):
    try:
        line.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


# ----------------------------------------------------------------- the parts


def missing(component, names, where):
    return [f"{where} has no {name}" for name in names if name not in component]


def calendar_faults(calendar):
    """RFC 5545 sections 3.4 and 3.6."""
    faults = missing(calendar, ["PRODID", "VERSION"], "the calendar")
    if str(calendar.get("VERSION")) != "2.0":
        faults.append(f"VERSION is {calendar.get('VERSION')}")
    if not calendar.events:
        faults.append("there is no event")
    faults += [f"not read: {error}" for part in calendar.walk() for error in part.errors]
    return faults


def event_faults(calendar):
    """RFC 5545 section 3.6.1; the stamp is in UTC (section 3.8.7.2)."""
    faults = []
    for event in calendar.events:
        where = event_name(event)
        faults += missing(event, ["UID", "DTSTAMP", "DTSTART", "SUMMARY"], where)
        if "DTSTAMP" in event and event["DTSTAMP"].dt.utcoffset() is None:
            faults.append(f"{where}: DTSTAMP is not in UTC")
    return faults


def event_name(event):
    return f"{event.get('UID')} `{event.get('SUMMARY')}`"


def alarm_faults(calendar):
    """RFC 5545 section 3.6.6: a DISPLAY alarm has a trigger and words to show."""
    faults = []
    for event in calendar.events:
        alarms = [alarm for alarm in event.walk("VALARM") if alarm.get("ACTION") == "DISPLAY"]
        if not alarms:
            faults.append(f"{event_name(event)} has no DISPLAY alarm")
        for alarm in alarms:
            where = f"the alarm of {event_name(event)}"
            faults += missing(alarm, ["TRIGGER", "DESCRIPTION"], where)
    return faults


def zone_faults(calendar, zone):
    """RFC 5545 section 3.6.5: one definition for the zone that the events name."""
    faults = []
    defined = [str(part["TZID"]) for part in calendar.walk("VTIMEZONE")]
    if defined != [zone]:
        faults.append(f"VTIMEZONE: expected {[zone]}, got {defined}")
    for event in calendar.events:
        named = event["DTSTART"].params.get("TZID")
        if named != zone:
            faults.append(f"{event_name(event)}: TZID is {named}, the plan's zone {zone}")
    return faults


# --------------------------------------------------------------- the moments


def to_utc(text):
    return datetime.fromisoformat(text).astimezone(UTC)


def moments_to_act(plan):
    """What a patient must be reminded of: {instant: what for}."""
    found = {}

    def add(text, purpose):
        if text is not None:
            found.setdefault(to_utc(text), purpose)

    if plan["caffeine"]:
        add(plan["caffeine"]["from"], "no caffeine")
    for slot in plan["slots"]:
        add(slot["empty_at"], f"empty before {slot['slot']}")
        add(slot["collect_at"], f"collect {slot['slot']}")
    for dose in plan["doses"]:
        if dose["action"] == "after-card":
            add(dose["take_at"], f"take {dose['medicine']}")
            if to_utc(dose["usual_at"]) < to_utc(dose["take_at"]):
                add(dose["usual_at"], f"wait with {dose['medicine']}")
    add(plan["pack_at"], "pack")
    packed = datetime.fromisoformat(plan["pack_at"])
    if packed.date().isoformat() != plan["post_on"]:
        day = date.fromisoformat(plan["post_on"])
        # After 5 pm the post has gone. Common practice, no source.
        at = packed.time() if packed.hour < 17 else time(12)
        wall = datetime.combine(day, at, ZoneInfo(plan["zone"]))
        add(wall.isoformat(), "post")
    return found


def starts(calendar, zone):
    """{event name: UTC instant}, the written wall times read in `zone`."""
    found = {}
    for event in calendar.events:
        wall = event["DTSTART"].dt.replace(tzinfo=None)
        found[event_name(event)] = wall.replace(tzinfo=zone).astimezone(UTC)
    return found


def moment_faults(calendar, zone, plan, reader):
    """Every event is a moment of the plan, every moment of the plan has an event."""
    planned = moments_to_act(plan)
    found = starts(calendar, zone)
    faults = [
        f"{reader}: {name} is at {instant}, which is no moment of the plan"
        for name, instant in found.items()
        if instant not in planned
    ]
    return faults + [
        f"{reader}: no event for {purpose} at {instant}"
        for instant, purpose in planned.items()
        if instant not in found.values()
    ]


def file_zone(calendar):
    """The zone as the file defines it, without a look at any zone table."""
    return calendar.walk("VTIMEZONE")[0].to_tz(lookup_tzid=False)


def card_faults(calendar, plan):
    """At each collection an event names the card, whatever the language."""
    found = starts(calendar, ZoneInfo(plan["zone"]))
    faults = []
    for slot in plan["slots"]:
        if slot["card"] is None:
            continue
        at = to_utc(slot["collect_at"])
        names = [name for name, instant in found.items() if instant == at]
        titles = [name.partition("`")[2] for name in names]
        if not any(str(slot["card"]) in title for title in titles):
            faults.append(f"no event at {at} names card {slot['card']}: {titles}")
    return faults


def all_moment_faults(calendar, plan):
    return [
        *card_faults(calendar, plan),
        *moment_faults(calendar, file_zone(calendar), plan, "VTIMEZONE"),
        *moment_faults(calendar, ZoneInfo(plan["zone"]), plan, "zoneinfo"),
    ]


# ------------------------------------------------------------------- the run


def attempt(check, *arguments):
    """The faults a check finds; a check that cannot be made has found one."""
    try:
        return check(*arguments)
    except Exception as fault:  # whatever a reader throws at a bad file
        return [f"the check itself failed: {type(fault).__name__}: {fault}"]


def check_dated(done, plan, uids, tally):
    number = plan["order"]
    if done.returncode != 0:
        tally.record(f"{number}: calendar printed", [done.stderr.decode("utf-8", "replace")])
        return
    tally.record(f"{number}: lines", attempt(line_faults, done.stdout))
    try:
        calendar = icalendar.Calendar.from_ical(done.stdout)
    except ValueError as fault:
        tally.record(f"{number}: can be read", [str(fault)])
        return
    uids.update(str(event.get("UID")) for event in calendar.events)
    tally.record(f"{number}: calendar", attempt(calendar_faults, calendar))
    tally.record(f"{number}: events", attempt(event_faults, calendar))
    tally.record(f"{number}: alarms", attempt(alarm_faults, calendar))
    tally.record(f"{number}: zone", attempt(zone_faults, calendar, plan["zone"]))
    tally.record(f"{number}: moments", attempt(all_moment_faults, calendar, plan))


def check_refused(done, plan, tally):
    faults = []
    if done.returncode != 1:
        faults.append(f"exit status {done.returncode}, expected 1")
    if not done.stderr.strip():
        faults.append("nothing is said about it")
    if done.stdout:
        faults.append("something was printed as a calendar")
    tally.record(f"{plan['order']}: {kind_of(plan)}, so refused", faults)


def kind_of(plan):
    if any(finding["level"] == "hold" for finding in plan["findings"]):
        return "on hold"
    return "undated" if plan["zone"] is None else "dated"


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--binary", required=True, help="the program to check")
    parser.add_argument("--orders", required=True, type=Path, help="a folder of orders")
    options = parser.parse_args()
    use_pinned_zone_data()
    binary = check_binary_path(options.binary)
    tally = Tally(None)
    uids, kinds = Counter(), Counter()
    for path in sorted(options.orders.glob("*.toml")):
        if path.name == "lab.toml":
            continue
        plans, complaints = run_plan(binary, [path])
        tally.record(f"{path.name}: has a plan", complaints)
        for plan in plans_by_order(plans).values():
            kind = kind_of(plan)
            kinds[kind] += 1
            done = print_calendar(binary, path)
            if kind == "dated":
                check_dated(done, plan, uids, tally)
            else:
                check_refused(done, plan, tally)
    # One person may have two orders, so a UID must not come back in another file.
    tally.record("UIDs are unique", [uid for uid, count in uids.items() if count > 1])
    tally.record(
        "all kinds of order were met",
        [f"no {kind} order" for kind in ("dated", "undated", "on hold") if not kinds[kind]],
    )
    return tally.close()


if __name__ == "__main__":
    sys.exit(main())
