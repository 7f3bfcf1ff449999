"""Recompute every field of `kitwright plan --json` and compare, exactly.

What it checks
    Random orders (day and night workers, clock changes, odd routines, doses,
    weights, public holidays) are written to a folder and planned by the binary.
    Each printed plan is compared, field by field, with a plan worked out here
    from the same order text. Findings are compared as a set of codes.

Against which outside sources
    * Python `zoneinfo` over PyPI `tzdata` 2026.6 (IANA 2026f) for all local
      time; the system's own zone files are switched off.
    * RFC 5545 section 3.3.5 for wall times that are skipped or repeated.
    * PyPI `holidays` for the dates of US federal holidays.
    * PyPI `python-stdnum` for the ISO/IEC 7064 MOD 37-2 check character.
    * The US cup (236.5882365 mL) and the pound (0.45359237 kg), as exact fractions.

It shares no code with the program. Needs Python 3.11 and requirements.txt.

    python oracle.py --binary PATH --count 3000 --seed 1
    python oracle.py --self-test
"""

import argparse
import itertools
import json
import random
import subprocess
import sys
import tempfile
import tomllib
import zoneinfo
from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, timezone
from fractions import Fraction
from pathlib import Path

import holidays
from stdnum.iso7064 import mod_37_2

# ---------------------------------------------------------------- zone data

ZONE_DATA = "2026f"


def use_pinned_zone_data():
    """Make zoneinfo read the tzdata package only, and insist on its version."""
    zoneinfo.reset_tzpath(to=[])
    zoneinfo.ZoneInfo.clear_cache()
    try:
        import tzdata
    except ImportError:
        sys.exit("The package tzdata is missing: install the pins in requirements.txt.")
    if tzdata.IANA_VERSION != ZONE_DATA:
        sys.exit(
            f"Zone data is {tzdata.IANA_VERSION}, these checks need {ZONE_DATA}: "
            "install the pins in requirements.txt."
        )


use_pinned_zone_data()

UTC = timezone.utc
MINUTE = timedelta(minutes=1)
HOUR = timedelta(hours=1)
DAY = timedelta(days=1)


@dataclass(frozen=True)
class Occurrence:
    """One happening of a daily wall time: the date it was meant for, and when it is."""

    nominal: date
    instant: datetime
    kind: str  # "plain", "gap" or "fold"


def resolve(zone, day, wall):
    """RFC 5545 3.3.5: a skipped time keeps the offset from before the gap, a
    repeated time is its first happening. PEP 495 gives both with fold=0."""
    naive = datetime.combine(day, wall)
    first = naive.replace(tzinfo=zone, fold=0).utcoffset()
    second = naive.replace(tzinfo=zone, fold=1).utcoffset()
    kind = "plain" if first == second else "gap" if first < second else "fold"
    return Occurrence(day, (naive - first).replace(tzinfo=UTC), kind)


def occurrences_near(zone, wall, instant):
    """The daily occurrences around an instant, in order; three days each way is
    ample, since no rule here looks further than the next or last one."""
    middle = instant.astimezone(zone).date()
    return [resolve(zone, middle + DAY * n, wall) for n in range(-3, 4)]


def first_after(zone, wall, instant):
    return next(o for o in occurrences_near(zone, wall, instant) if o.instant > instant)


def first_at_or_after(zone, wall, instant):
    return next(o for o in occurrences_near(zone, wall, instant) if o.instant >= instant)


def last_before(zone, wall, instant):
    return [o for o in occurrences_near(zone, wall, instant) if o.instant < instant][-1]


# ------------------------------------------------------------------ anchors

ROUTINE_DEFAULTS = {
    "lunch": time(12, 30),
    "dinner": time(18, 0),
    "bedtime": time(22, 30),
    "wake": time(6, 30),
}


@dataclass(frozen=True)
class Anchors:
    zone: zoneinfo.ZoneInfo
    walls: dict
    lunch: Occurrence
    dinner: Occurrence
    bedtime: Occurrence
    waking: Occurrence

    def all(self):
        return [self.lunch, self.dinner, self.bedtime, self.waking]


def find_anchors(order):
    zone = zoneinfo.ZoneInfo(order["zone"])
    walls = ROUTINE_DEFAULTS | order.get("routine", {})
    dinner = resolve(zone, order["start"], walls["dinner"])
    bedtime = first_after(zone, walls["bedtime"], dinner.instant)
    waking = first_after(zone, walls["wake"], bedtime.instant)
    lunch = last_before(zone, walls["lunch"], dinner.instant)
    return Anchors(zone, walls, lunch, dinner, bedtime, waking)


def sleeps_through_lunch(anchors):
    """Whether an assumed lunch is in the patient's sleep, more than ten hours before
    dinner: such an order is refused."""
    woke = last_before(anchors.zone, anchors.walls["wake"], anchors.dinner.instant)
    lunch = anchors.lunch.instant
    return lunch < woke.instant and anchors.dinner.instant - lunch > timedelta(hours=10)


# -------------------------------------------------------------------- slots

SLOT_DIGITS = {"evening": 1, "bedtime": 2, "waking": 3, "later": 4, "night": 5}
FASTING = 2 * HOUR
LATER_AFTER_WAKING = 2 * HOUR
DRYING = 4 * HOUR


@dataclass
class Slot:
    empty: datetime | None = None
    stop: datetime | None = None
    collect: datetime | None = None
    by: datetime | None = None
    repeat_empty: datetime | None = None
    repeat_stop: datetime | None = None
    repeat_collect: datetime | None = None
    repeat_days: int = 1


def next_day(anchors, occurrence, wall_name):
    """The make-up time: the same wall time, one calendar date later."""
    return resolve(anchors.zone, occurrence.nominal + DAY, anchors.walls[wall_name]).instant


def make_up(anchors, occurrence, wall_name):
    """(moment, days later) of a card that is fasted for: the same wall time on the next
    date on which the fast begins no earlier than the last planned card."""
    last = anchors.waking.instant + LATER_AFTER_WAKING
    for days in range(1, 8):
        day = occurrence.nominal + DAY * days
        again = resolve(anchors.zone, day, anchors.walls[wall_name]).instant
        if again - FASTING >= last:
            break
    return again, days


def evening_slot(anchors):
    collect = anchors.dinner.instant
    again, days = make_up(anchors, anchors.dinner, "dinner")
    fast, again_fast = collect - FASTING, again - FASTING
    return Slot(fast, fast, collect, None, again_fast, again_fast, again, days)


def bedtime_slot(anchors):
    collect = anchors.bedtime.instant
    again, days = make_up(anchors, anchors.bedtime, "bedtime")
    # Card 1 is itself an emptying, so card 2 never asks for one before it.
    fast, again_fast = max(collect - FASTING, anchors.dinner.instant), again - FASTING
    return Slot(fast, fast, collect, None, again_fast, again_fast, again, days)


def waking_slot(anchors):
    collect = anchors.waking.instant
    return Slot(
        collect=collect,
        by=collect + 10 * MINUTE,
        repeat_collect=next_day(anchors, anchors.waking, "wake"),
    )


def later_slot(anchors):
    # Missed alone, card 4 needs an emptying on waking, then the same two hours.
    waking_again = next_day(anchors, anchors.waking, "wake")
    return Slot(
        collect=anchors.waking.instant + LATER_AFTER_WAKING,
        repeat_empty=waking_again,
        repeat_collect=waking_again + LATER_AFTER_WAKING,
    )


def find_slots(anchors):
    return {
        "evening": evening_slot(anchors),
        "bedtime": bedtime_slot(anchors),
        "waking": waking_slot(anchors),
        "later": later_slot(anchors),
        "night": Slot(),
    }


def specimen_code(order_number, slot_name):
    digit = str(SLOT_DIGITS[slot_name])
    body = order_number.replace("-", "") + digit
    return f"{order_number}-{digit}{mod_37_2.calc_check_digit(body)}"


# -------------------------------------------------------------------- doses

MEDICINE_KINDS = {
    "estradiol": "hormone",
    "progesterone": "hormone",
    "testosterone": "hormone",
    "levothyroxine": "hormone",
    "melatonin": "hormone",
    "metformin": "other",
    "amlodipine": "other",
    "warfarin": "other",
    "zzunknown": "unknown",
}
MOVABLE_FORMS = {"tablet", "capsule", "gel", "cream"}
LONGEST_SHIFT = 4 * HOUR

AS_USUAL = ("as-usual", None)
ASK = ("ask", None)
AS_PRESCRIBED = ("as-prescribed", None)


def dose_action(dose, agreed, usual, day, anchors, slots):
    """(action, slot to take it after) for one dose on one day."""
    kind = MEDICINE_KINDS[dose["medicine"]]
    timing = dose.get("timing", "ask")
    if kind == "other":
        return AS_PRESCRIBED
    if kind == "unknown" or not agreed or timing == "ask":
        return ASK
    if timing == "unchanged":
        # Nothing is moved, so a long-acting form needs no question either.
        return AS_USUAL
    if dose["form"] not in MOVABLE_FORMS:
        return ASK
    if day == 1:
        return first_day_action(usual, anchors, slots)
    return second_day_action(usual, slots)


def first_day_action(usual, anchors, slots):
    bedtime = slots["bedtime"].collect
    if usual < slots["evening"].stop:
        return AS_USUAL if usual < anchors.lunch.instant else ASK
    if usual > bedtime or bedtime - usual > LONGEST_SHIFT:
        return ASK
    return ("after-card", "bedtime")


def second_day_action(usual, slots):
    if usual <= slots["later"].collect:
        return ("after-card", "later")
    return AS_USUAL


def take_at(action, after_slot, usual, slots):
    if action == "ask":
        return None
    return slots[after_slot].collect if after_slot else usual


def dose_rows(order, anchors, slots):
    """Each dose of each day, with the place of its line in the order and its time."""
    agreed = order.get("provider", {}).get("dose_rules") == "agreed"
    zone = anchors.zone
    keys, rows = [], []
    for line, dose in enumerate(order.get("dose", [])):
        for wall in dose["times"]:
            second = first_at_or_after(zone, wall, anchors.waking.instant).instant
            first = last_before(zone, wall, second).instant
            for day, usual in ((1, first), (2, second)):
                action, after = dose_action(dose, agreed, usual, day, anchors, slots)
                keys.append((line, wall))
                rows.append([dose["medicine"], day, usual, action, after])
    ask_where_close(rows, lambda row: take_at(row[3], row[4], row[2], slots))
    return keys, rows


def plan_doses(order, anchors, slots):
    _, rows = dose_rows(order, anchors, slots)
    return [
        show_dose(anchors.zone, row, take_at(row[3], row[4], row[2], slots)) for row in rows
    ]


def show_dose(zone, row, at):
    medicine, day, usual, action, after = row
    return {
        "medicine": medicine,
        "day": day,
        "usual_at": show(zone, usual),
        "take_at": show(zone, at),
        "action": action,
        "after_slot": after,
    }


def ask_where_close(rows, at):
    """Two doses of one medicine that moving brings to less than half as far apart as
    they usually are: both are asked about. One that is asked about may well stay where
    it is."""
    close = set()
    for (i, one), (j, other) in itertools.combinations(enumerate(rows), 2):
        if one[0].lower() != other[0].lower():
            continue
        if "after-card" not in (one[3], other[3]):
            continue
        apart = (at(one) or one[2]) - (at(other) or other[2])
        if abs(apart) < abs(one[2] - other[2]) / 2:
            close |= {i, j}
    for i in close:
        rows[i][3:] = ASK


def by_rule(dose, agreed):
    """Whether the protocol's windows decide about a dose."""
    return (
        MEDICINE_KINDS[dose["medicine"]] == "hormone"
        and agreed
        and dose.get("timing", "ask") == "protocol"
        and dose["form"] in MOVABLE_FORMS
    )


def plan_repeat_doses(order, anchors, slots, name):
    """The doses that move on the day a card is made up.

    The evening window reaches as far back from the make-up as it did from the
    planned card; the morning window starts with waking, and since card 3 is made
    up together with card 4, both end with card 4. What has to be asked on the
    planned days has to be asked on the day of a make-up, too.
    """
    agreed = order.get("provider", {}).get("dose_rules") == "agreed"
    slot = slots[name]
    if name in ("waking", "later"):
        since = slots["waking"].repeat_collect
        until, after, day = slots["later"].repeat_collect, "later", 3
    else:
        since = slot.repeat_collect - (slot.collect - slots["evening"].stop)
        until, after, day = slot.repeat_collect, name, 1 + slot.repeat_days
    keys, rows = [], []
    for line, dose in enumerate(order.get("dose", [])):
        moves = by_rule(dose, agreed)
        hormone = MEDICINE_KINDS[dose["medicine"]] == "hormone"
        for wall in dose["times"] if hormone else []:
            usual = first_at_or_after(anchors.zone, wall, since).instant
            if usual > until or not moves:
                action = AS_USUAL
            elif until - usual > LONGEST_SHIFT:
                action = ASK
            else:
                action = ("after-card", after)
            keys.append((line, wall))
            rows.append([dose["medicine"], day, usual, *action])

    def at(row):
        return {"ask": None, "as-usual": row[2], "after-card": until}[row[3]]

    ask_where_close(rows, at)
    asked = {key for key, row in zip(*dose_rows(order, anchors, slots)) if row[3] == "ask"}
    for key, row in zip(keys, rows):
        if row[3] == "after-card" and key in asked:
            row[3:] = ASK
    return [show_dose(anchors.zone, row, at(row)) for row in rows if row[3] != "as-usual"]


# ------------------------------------------------------------------- fluids

POUND_KG = Fraction("0.45359237")
US_CUP_ML = Fraction("236.5882365")
NO_AMOUNT = (None, None)
AFTERNOON_WATER = (470, 8)


def pounds(weight):
    number, unit = weight.split()
    return Fraction(number) if unit == "lb" else Fraction(number) / POUND_KG


def allowance(weight):
    """(mL, quarter cups): a cup per 100 lb, down to a quarter cup and to 10 mL."""
    if weight is None:
        return NO_AMOUNT
    quarters = int(4 * pounds(weight) / 100)
    return int(quarters * US_CUP_ML / 4 / 10) * 10, quarters


def plan_drinks(order, anchors, slots):
    evening, bedtime, later = slots["evening"], slots["bedtime"], slots["later"]
    lunch, dinner = anchors.lunch.instant, anchors.dinner.instant
    bed, wake = anchors.bedtime.instant, anchors.waking.instant
    morning = allowance(order["patient"].get("weight"))
    stretches = [
        (lunch, evening.stop, "water-up-to", AFTERNOON_WATER),
        (evening.stop, evening.collect, "nothing", NO_AMOUNT),
        (dinner, bedtime.stop, "with-dinner", NO_AMOUNT),
        (bedtime.stop, bedtime.collect, "nothing", NO_AMOUNT),
        (bed, wake, "if-thirsty", NO_AMOUNT),
        (wake, later.collect, "allowance", morning),
        (later.collect, None, "normal", NO_AMOUNT),
    ]
    return [
        {
            "from": show(anchors.zone, since),
            "until": show(anchors.zone, until),
            "rule": rule,
            "ml": ml,
            "quarter_cups": quarters,
        }
        for since, until, rule, (ml, quarters) in stretches
        if until is None or since < until
    ]


# --------------------------------------------------------------------- post

# Actual dates, not the days off in lieu: those are for pay and leave, not for mail.
FEDERAL_HOLIDAYS = holidays.US(observed=False)
FRIDAY, SATURDAY, SUNDAY = 4, 5, 6


def is_holiday(day):
    return day in FEDERAL_HOLIDAYS


def has_post(day):
    yesterday = day - DAY
    monday_instead = yesterday.weekday() == SUNDAY and is_holiday(yesterday)
    return day.weekday() != SUNDAY and not is_holiday(day) and not monday_instead


def first_post_day(day):
    while not has_post(day):
        day += DAY
    return day


def post_day_of(packed):
    """From five in the afternoon on the day's post has gone (common practice, no source)."""
    return first_post_day(packed.date() + timedelta(days=packed.hour >= 17))


def needs_post_check(day):
    return day.weekday() == FRIDAY and is_holiday(day + DAY)


def find_pack_time(anchors, slots):
    """The first waking after a whole night that follows the last card, once dry."""
    last_card = slots["later"].collect
    zone, walls = anchors.zone, anchors.walls
    night = first_after(zone, walls["bedtime"], last_card).instant
    waking = first_after(zone, walls["wake"], night).instant
    if waking < last_card + DRYING:
        waking = first_at_or_after(zone, walls["wake"], last_card + DRYING).instant
    return waking


# ----------------------------------------------------------------- findings

COMPARED_CODES = {
    "zone-gap", "zone-fold", "short-interval", "long-interval",
    "short-sleep", "long-sleep", "post-check", "short-dinner",
}


def is_shown_twice(zone, instant):
    """Whether the clocks show the time of an instant a second time (PEP 495)."""
    naive = instant.astimezone(zone).replace(tzinfo=None)
    return resolve(zone, naive.date(), naive.time()).kind == "fold"


def find_codes(anchors, slots, post_day):
    interval = anchors.bedtime.instant - anchors.dinner.instant
    sleep = anchors.waking.instant - anchors.bedtime.instant
    kinds = {anchor.kind for anchor in anchors.all()}
    planned = [at for slot in slots.values() for at in (slot.empty, slot.collect) if at]
    tests = {
        "zone-gap": "gap" in kinds,
        "zone-fold": "fold" in kinds
        or any(is_shown_twice(anchors.zone, at) for at in planned),
        "short-interval": interval <= 2 * HOUR,
        "long-interval": interval > 10 * HOUR,
        "short-sleep": sleep < 3 * HOUR,
        "short-dinner": 2 * HOUR < interval < 2 * HOUR + timedelta(minutes=30),
        "long-sleep": sleep > 14 * HOUR,
        "post-check": needs_post_check(post_day),
    }
    return {code for code, holds in tests.items() if holds}


# --------------------------------------------------------------- whole plan


def show(zone, instant):
    return None if instant is None else instant.astimezone(zone).isoformat()


def show_slot(order, anchors, slots, name):
    slot = slots[name]

    def at(instant):
        return show(anchors.zone, instant)

    is_spare = name == "night"
    repeat = None if is_spare else {
        "empty_at": at(slot.repeat_empty),
        "stop_drinking_at": at(slot.repeat_stop),
        "collect_at": at(slot.repeat_collect),
        "doses": plan_repeat_doses(order, anchors, slots, name),
    }
    return {
        "slot": name,
        "card": None if is_spare else SLOT_DIGITS[name],
        "code": specimen_code(order["order"], name),
        "empty_at": at(slot.empty),
        "stop_drinking_at": at(slot.stop),
        "collect_at": at(slot.collect),
        "collect_by": at(slot.by),
        "dry_at": None if is_spare else at(slot.collect + DRYING),
        "repeat": repeat,
    }


def make_plan(order_text):
    """The plan of an order, shaped as the program prints it; findings as a set of codes."""
    order = tomllib.loads(order_text)
    anchors = find_anchors(order)
    slots = find_slots(anchors)
    pack = find_pack_time(anchors, slots)
    post_day = post_day_of(pack.astimezone(anchors.zone))
    return {
        "order": order["order"],
        "zone": order["zone"],
        "zone_data": ZONE_DATA,
        "slots": [show_slot(order, anchors, slots, name) for name in slots],
        "doses": plan_doses(order, anchors, slots),
        "drinks": plan_drinks(order, anchors, slots),
        "caffeine": {
            "from": show(anchors.zone, anchors.lunch.instant),
            "until": show(anchors.zone, slots["later"].collect),
        },
        "pack_at": show(anchors.zone, pack),
        "post_on": post_day.isoformat(),
        "findings": find_codes(anchors, slots, post_day),
    }


# --------------------------------------------------------------- comparison

ABSENT = "(absent)"


def differences(expected, actual, path=""):
    """Every leaf that differs, as lines. Types count: 470 is not "470" nor 470.0."""
    if isinstance(expected, dict) and isinstance(actual, dict):
        keys = list(expected) + [key for key in actual if key not in expected]
        pairs = [(f".{key}", expected.get(key, ABSENT), actual.get(key, ABSENT)) for key in keys]
    elif isinstance(expected, list) and isinstance(actual, list):
        pairs = [(f"[{n}]", *pair) for n, pair in enumerate(pad_together(expected, actual))]
    elif type(expected) is type(actual) and expected == actual:
        return []
    else:
        return [f"{path.lstrip('.')}: expected {as_json(expected)}, got {as_json(actual)}"]
    return [line for step, want, got in pairs for line in differences(want, got, path + step)]


def pad_together(left, right):
    longest = max(len(left), len(right))
    return zip(
        left + [ABSENT] * (longest - len(left)), right + [ABSENT] * (longest - len(right))
    )


def as_json(value):
    return value if value == ABSENT else json.dumps(value, ensure_ascii=False)


def finding_faults(findings):
    """A finding's level and text are free, but they and the code must be there."""
    if not isinstance(findings, list):
        return [f"findings: expected a list, got {as_json(findings)}"]
    return [
        f"findings[{n}]: expected level, code and text, got {as_json(finding)}"
        for n, finding in enumerate(findings)
        if not isinstance(finding, dict)
        or set(finding) != {"level", "code", "text"}
        or not all(isinstance(value, str) and value for value in finding.values())
    ]


def code_differences(expected, findings):
    actual = {finding["code"] for finding in findings} & COMPARED_CODES
    missing = [f"findings: {code} is missing" for code in sorted(expected - actual)]
    return missing + [f"findings: {code} is not due" for code in sorted(actual - expected)]


def compare_plans(expected, actual):
    if not isinstance(actual, dict):
        return [f"expected an object, got {as_json(actual)}"]
    findings = actual.get("findings", ABSENT)
    faults = finding_faults(findings)
    lines = faults or code_differences(expected["findings"], findings)
    plain_expected = {key: value for key, value in expected.items() if key != "findings"}
    plain_actual = {key: value for key, value in actual.items() if key != "findings"}
    return differences(plain_expected, plain_actual) + lines


# --------------------------------------------------------------- the binary

LAB_TOML = """\
name = "Harbor Bend Laboratory"
address = ["12 Quay Street", "Harbor Bend"]
phone = "555-0100"
hours = "Monday to Friday, 9 am to 5 pm"
[mail]
holidays = "us-federal"
"""


def write_folder(folder, orders):
    """orders: {order number: text}. Returns the paths, as given."""
    (folder / "lab.toml").write_text(LAB_TOML, encoding="utf-8")
    paths = []
    for number, text in orders.items():
        paths.append(folder / f"{number}.toml")
        paths[-1].write_text(text, encoding="utf-8")
    return paths


def refuse_repeated_keys(pairs):
    keys = [key for key, _ in pairs]
    if len(set(keys)) != len(keys):
        raise ValueError(f"a key is printed twice in {keys}")
    return dict(pairs)


def run_plan(binary, paths):
    """(plans in printed order, complaints about the run itself)."""
    done = subprocess.run(
        [str(binary), "plan", *map(str, paths), "--json"],
        capture_output=True, timeout=600, check=False,
    )
    complaints = []
    if done.returncode != 0:
        stderr = done.stderr.decode("utf-8", "replace").strip()
        complaints.append(f"exit status {done.returncode}\n{stderr}")
    plans = []
    for number, line in enumerate(printed_lines(done.stdout), 1):
        try:
            plans.append(json.loads(line, object_pairs_hook=refuse_repeated_keys))
        except ValueError as fault:
            complaints.append(f"line {number} is not one JSON object: {fault}: {line[:200]}")
    return plans, complaints


def printed_lines(stdout):
    """Split at newlines only: a text may hold other line separators."""
    return stdout.decode("utf-8").removesuffix("\n").split("\n") if stdout else []


def plans_by_order(plans):
    return {plan["order"]: plan for plan in plans if isinstance(plan, dict) and "order" in plan}


def sequence_complaints(plans, expected_numbers, rule):
    printed = [plan.get("order") if isinstance(plan, dict) else None for plan in plans]
    if printed == expected_numbers:
        return []
    places = [n for n, pair in enumerate(zip(printed, expected_numbers)) if pair[0] != pair[1]]
    where = f"first difference at line {places[0] + 1}" if places else "the lengths differ"
    return [
        f"{len(printed)} lines for {len(expected_numbers)} orders, which should be {rule}: {where}"
    ]


def check_binary_path(text):
    path = Path(text).resolve()
    if not path.is_file():
        sys.exit(f"There is no program at {text}: build it, or give another --binary.")
    return path


# ------------------------------------------------------------ the generator

ZONES = """
America/New_York America/Denver America/Phoenix America/Regina America/Mexico_City
America/Ciudad_Juarez America/Vancouver America/Edmonton America/Inuvik America/Winnipeg
America/Havana America/Santiago America/Asuncion America/Sao_Paulo America/St_Johns
America/Los_Angeles America/Anchorage Pacific/Honolulu Europe/London Europe/Dublin
Europe/Berlin Europe/Chisinau Africa/Casablanca Africa/El_Aaiun Africa/Cairo
Antarctica/Troll Asia/Amman Asia/Damascus Asia/Tehran Asia/Almaty Asia/Kathmandu
Asia/Kolkata Asia/Jerusalem Asia/Beirut Australia/Lord_Howe Australia/Sydney
Australia/Eucla Pacific/Auckland Pacific/Chatham Pacific/Apia Pacific/Fiji
Pacific/Kiritimati Pacific/Easter Atlantic/Azores
""".split()
FIRST_DAY, LAST_DAY = date(2026, 1, 1), date(2028, 12, 31)
NEAR = 2 * DAY


@dataclass(frozen=True)
class Transition:
    instant: datetime
    before: timedelta
    after: timedelta


def find_transitions(name):
    """Found by asking for offsets, hour by hour and then by halving, so that the
    generator needs no second reader of zone files."""
    zone = zoneinfo.ZoneInfo(name)
    moment = datetime(2026, 1, 1, tzinfo=UTC)
    end = datetime(2029, 1, 1, tzinfo=UTC)
    found = []
    while moment < end:
        later = moment + 6 * HOUR
        if offset_at(zone, moment) != offset_at(zone, later):
            found.append(narrow_down(zone, moment, later))
        moment = later
    return found


def offset_at(zone, instant):
    return instant.astimezone(zone).utcoffset()


def narrow_down(zone, low, high):
    before, after = offset_at(zone, low), offset_at(zone, high)
    while high - low > timedelta(seconds=1):
        middle = low + (high - low) // 2 // timedelta(seconds=1) * timedelta(seconds=1)
        low, high = (middle, high) if offset_at(zone, middle) == before else (low, middle)
    return Transition(high, before, after)


def transition_day(transition):
    return (transition.instant + transition.before).date()


def is_near_transition(transitions, day):
    return any(abs(transition_day(t) - day) <= NEAR for t in transitions)


def to_time(minutes):
    return time(*divmod(minutes % (24 * 60), 60))


def to_minutes(wall):
    return wall.hour * 60 + wall.minute


class OrderMaker:
    """Random orders from one seed: the same seed gives the same orders."""

    def __init__(self, seed):
        self.random = random.Random(seed)
        self.transitions = {name: find_transitions(name) for name in ZONES}
        self.changing = [name for name in ZONES if self.transitions[name]]
        self.numbers = set()

    def chance(self, share):
        return self.random.random() < share

    def minutes(self, low, high):
        """A time of day in minutes, to five, between two hours; 25 is 01:00."""
        return self.random.randrange(int(low * 12), int(high * 12) + 1) * 5

    # -- order numbers

    def number(self):
        while True:
            length = self.random.randint(4, 20)
            letters = self.random.choices("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-", k=length)
            text = "".join(letters)
            well_formed = text.strip("-") == text and "--" not in text
            if well_formed and text not in self.numbers:
                self.numbers.add(text)
                return text

    # -- when

    def place_and_day(self):
        """(zone, start date, the transition aimed at or None)."""
        kind = self.random.choices(["change", "holiday", "any"], [68, 12, 20])[0]
        if kind == "change":
            name = self.random.choice(self.changing)
            aim = self.random.choice(self.transitions[name])
            return name, self.within_years(transition_day(aim), 2), aim
        name = self.random.choice(ZONES)
        if kind == "holiday":
            return name, self.within_years(self.holiday(), 4), None
        span = (LAST_DAY - FIRST_DAY).days
        return name, FIRST_DAY + DAY * self.random.randint(0, span), None

    def holiday(self):
        """A federal holiday, as often one on a weekend, where the post rules bite."""
        days = sorted(holidays.US(years=range(2026, 2030), observed=False))
        weekend = [day for day in days if day.weekday() >= SATURDAY]
        return self.random.choice(weekend if self.chance(0.5) else days)

    def within_years(self, middle, days):
        day = middle + DAY * self.random.randint(-days, days)
        return min(max(day, FIRST_DAY), LAST_DAY)

    # -- routine, all in minutes since midnight

    def routine(self, aim):
        makers = [
            (self.day_worker, 40), (self.night_worker, 20), (self.anything, 20),
            (self.extremes, 20),
        ]
        make = self.random.choices([m for m, _ in makers], [w for _, w in makers])[0]
        routine = make()
        if aim and self.chance(0.6):
            for name in self.random.sample(sorted(routine), self.random.randint(1, 2)):
                routine[name] = self.time_in_change(aim)
        return {name: to_time(value) for name, value in routine.items()}

    def day_worker(self):
        return {
            "lunch": self.minutes(11, 14.5), "dinner": self.minutes(16, 20.5),
            "bedtime": self.minutes(20.5, 25), "wake": self.minutes(4, 9.5),
        }

    def night_worker(self):
        return {
            "lunch": self.minutes(22, 27), "dinner": self.minutes(3.5, 7.5),
            "bedtime": self.minutes(7.5, 11.5), "wake": self.minutes(13.5, 18.5),
        }

    def anything(self):
        return {name: self.minutes(0, 23.9) for name in ROUTINE_DEFAULTS}

    def extremes(self):
        """Intervals and nights at and around every limit, and equal times."""
        dinner = self.minutes(0, 23.9)
        interval = self.random.choice([0, 5, 60, 115, 120, 125, 595, 600, 605, 900])
        sleep = self.random.choice([0, 5, 90, 175, 180, 185, 235, 240, 835, 840, 845, 1200])
        lunch = self.random.choice([0, 5, 60, 115, 120, 125, 360, 1200])
        bedtime = dinner + interval
        return {
            "lunch": dinner - lunch, "dinner": dinner, "bedtime": bedtime,
            "wake": bedtime + sleep,
        }

    def time_in_change(self, aim):
        """A wall time inside the skipped or repeated stretch, its ends included."""
        ends = sorted(
            to_minutes((aim.instant + offset).time()) for offset in (aim.before, aim.after)
        )
        if ends[1] - ends[0] > 12 * 60:  # the stretch runs over midnight
            ends = [ends[1], ends[0] + 24 * 60]
        return self.random.randrange(ends[0], ends[1] + 1, 5)

    # -- the patient

    def patient(self):
        days = (date(2000, 12, 31) - date(1940, 1, 1)).days
        lines = [
            "[patient]",
            f'family = "{self.random.choice(FAMILY_NAMES)}"',
            f'given = "{self.random.choice(GIVEN_NAMES)}"',
            f"born = {date(1940, 1, 1) + DAY * self.random.randint(0, days)}",
        ]
        weight = self.weight()
        return lines + ([f'weight = "{weight}"'] if weight else [])

    def weight(self):
        kind = self.random.choices(["lb", "step", "kg", "none"], [35, 20, 35, 10])[0]
        if kind == "none":
            return None
        if kind == "lb":
            return f"{self.random.randint(70, 400)} lb"
        if kind == "step":  # on, and next to, each quarter cup
            pounds_here = self.random.randrange(75, 400, 25) + self.random.randint(-1, 1)
            return f"{pounds_here} lb"
        return f"{self.random.randint(318, 1814) / 10:.1f} kg"

    def provider(self):
        lines = ["[provider]", 'name = "Dr. Imre Salvatierra"', 'phone = "555-0142"']
        return lines + (['dose_rules = "agreed"'] if self.chance(0.75) else [])

    # -- doses

    def doses(self, routine):
        """Some doses; none is listed twice, which is refused."""
        kept, seen = [], set()
        for _ in range(self.random.randint(0, 4)):
            lines = self.dose(routine)
            times = lines[3].partition("[")[2].rstrip("]").split(", ")
            keys = {(lines[1], lines[2], time) for time in times}
            if not keys & seen:
                kept.append(lines)
                seen |= keys
        return kept

    def dose(self, routine):
        medicine = self.random.choice(sorted(MEDICINE_KINDS))
        times = {self.dose_time(routine) for _ in range(self.random.choice([1, 1, 2, 3]))}
        shuffled = self.random.sample(sorted(times), len(times))
        timing = self.random.choices(["protocol", "unchanged", "ask", None], [65, 12, 12, 11])[0]
        lines = [
            "[[dose]]",
            f'medicine = "{medicine}"',
            f'form = "{self.random.choice(FORMS[medicine])}"',
            f"times = [{', '.join(wall.isoformat() for wall in shuffled)}]",
        ]
        return lines + ([f'timing = "{timing}"'] if timing else [])

    def dose_time(self, routine):
        """Often exactly on a moment where a rule changes, or five minutes off it."""
        if self.chance(0.4):
            return to_time(self.minutes(0, 23.9))
        at = {name: to_minutes(wall) for name, wall in routine.items()}
        edges = list(at.values()) + [
            at["dinner"] - 120, at["bedtime"] - 120, at["bedtime"] - 240, at["wake"] + 120,
        ]
        return to_time(self.random.choice(edges) + self.random.choice([-5, 0, 0, 0, 5]))

    # -- the whole text

    def order(self):
        """(order number, TOML text)."""
        number = self.number()
        zone, start, aim = self.place_and_day()
        routine = self.routine(aim)
        stated = self.stated(routine)
        anchors = find_anchors({"zone": zone, "start": start, "routine": stated})
        if "lunch" not in stated and sleeps_through_lunch(anchors):
            stated["lunch"] = routine["lunch"]
        lines = [
            f'order = "{number}"', 'protocol = "four-card"', f"start = {start}",
            f'zone = "{zone}"', "", *self.patient(), "",
        ]
        if stated or self.chance(0.5):
            lines += ["[routine]", *(f"{k} = {v.isoformat()}" for k, v in stated.items()), ""]
        lines += self.provider()
        for dose in self.doses(ROUTINE_DEFAULTS | stated):
            lines += ["", *dose]
        return number, "\n".join(lines) + "\n"

    def stated(self, routine):
        """Leave some routine times, or all, to the defaults."""
        if self.chance(0.05):
            return {}
        kept = [name for name in ROUTINE_DEFAULTS if self.chance(0.9)]
        return {name: routine[name] for name in kept}


FAMILY_NAMES = ["Okonkwo-Reyes", "Sørensen", "Tamaki", "O'Dell", "Żuraw", "Marchetti", "Lindqvist"]
GIVEN_NAMES = ["Marisol", "Anselm", "Noor", "Tove", "Mateus", "Iris", "José"]
FORMS = {
    "estradiol": ["tablet", "gel", "cream", "patch", "ring", "injection", "pellet", "implant"],
    "progesterone": ["capsule", "tablet", "gel", "cream", "injection"],
    "testosterone": ["gel", "cream", "capsule", "patch", "injection", "pellet", "implant"],
    "levothyroxine": ["tablet", "capsule"],
    "melatonin": ["tablet", "capsule"],
    "metformin": ["tablet"],
    "amlodipine": ["tablet"],
    "warfarin": ["tablet"],
    "zzunknown": ["tablet", "cream"],
}


# ------------------------------------------------------------------ the run


class Tally:
    def __init__(self, most_shown):
        self.passed = self.failed = 0
        self.most_shown = most_shown

    def record(self, title, lines, text=""):
        """One check: it passed if there is nothing to say."""
        if not lines:
            self.passed += 1
            return
        self.failed += 1
        if self.most_shown is None or self.failed <= self.most_shown:
            print(f"--- {title}", *(f"  {line}" for line in lines), sep="\n")
            print(*(f"  | {line}" for line in text.splitlines()), sep="\n")

    def close(self):
        print(f"{self.passed} passed, {self.failed} failed")
        return 1 if self.failed else 0


def check_folder(binary, orders, tally):
    """Plan a folder of orders in one run and compare every plan."""
    with tempfile.TemporaryDirectory(prefix="oracle-") as name:
        folder = Path(name)
        paths = write_folder(folder, orders)
        plans, complaints = run_plan(binary, [folder])
        in_name_order = [path.stem for path in sorted(paths, key=lambda path: path.name)]
        complaints += sequence_complaints(plans, in_name_order, "in name order")
    if complaints:
        tally.record(f"a folder of {len(orders)} orders", complaints)
    printed = plans_by_order(plans)
    for number, text in orders.items():
        if number in printed:
            lines = compare_plans(make_plan(text), printed[number])
        else:
            lines = ["no plan was printed for this order"]
        tally.record(f"order {number}", lines, text)


def check_argument_order(binary, orders, tally):
    """Given files rather than a folder, plans follow the arguments."""
    with tempfile.TemporaryDirectory(prefix="oracle-") as name:
        paths = sorted(write_folder(Path(name), orders), reverse=True)
        plans, complaints = run_plan(binary, paths)
    wanted = [path.stem for path in paths]
    complaints += sequence_complaints(plans, wanted, "in the order of the arguments")
    tally.record("orders given one by one", complaints)


def run_random(binary, count, seed, most_shown, chunk=500):
    maker = OrderMaker(seed)
    tally = Tally(most_shown)
    covered = Counter()
    for done in range(0, count, chunk):
        orders = dict(maker.order() for _ in range(min(chunk, count - done)))
        for text in orders.values():
            covered.update(features(maker, text))
        if done == 0:
            check_argument_order(binary, dict(list(orders.items())[:5]), tally)
        check_folder(binary, orders, tally)
    print("covered:", ", ".join(f"{name} {covered[name]}" for name in sorted(covered)))
    return tally.close()


def features(maker, text):
    """What an order exercises, so that a run shows it was not all easy."""
    order = tomllib.loads(text)
    plan = make_plan(text)
    names = set(plan["findings"]) | {f"dose {row['action']}" for row in plan["doses"]}
    if is_near_transition(maker.transitions[order["zone"]], order["start"]):
        names.add("near a clock change")
    if date.fromisoformat(plan["pack_at"][:10]) != date.fromisoformat(plan["post_on"]):
        names.add("post waits")
    return names


# ---------------------------------------------------------------- self-test

WORKED_ORDER = """\
order = "HB-20417"
protocol = "four-card"
start = 2026-10-14
zone = "America/Denver"
[patient]
family = "Okonkwo-Reyes"
given = "Marisol"
born = 1984-03-09
weight = "150 lb"
[routine]
dinner = 17:15:00
[provider]
name = "Dr. Imre Salvatierra"
phone = "555-0142"
dose_rules = "agreed"
[[dose]]
medicine = "estradiol"
form = "gel"
times = [07:30:00, 20:00:00]
timing = "protocol"
[[dose]]
medicine = "warfarin"
form = "tablet"
times = [18:00:00]
"""


def worked(day, clock):
    return f"2026-10-{day}T{clock}:00-06:00"


def worked_slot(slot, card, code, moments, repeat, repeat_doses=()):
    keys = ["empty_at", "stop_drinking_at", "collect_at", "collect_by", "dry_at"]
    values = [moment and worked(*moment) for moment in moments]
    again = repeat and dict(zip(keys, [moment and worked(*moment) for moment in repeat]))
    if again:
        again["doses"] = list(repeat_doses)
    return {"slot": slot, "card": card, "code": code, **dict(zip(keys, values)), "repeat": again}


def worked_dose(medicine, day, usual, take, action, after=None):
    return {
        "medicine": medicine, "day": day, "usual_at": worked(*usual),
        "take_at": worked(*take), "action": action, "after_slot": after,
    }


def worked_drink(since, until, rule, ml=None, quarters=None):
    return {
        "from": worked(*since), "until": until and worked(*until), "rule": rule,
        "ml": ml, "quarter_cups": quarters,
    }


def worked_plan():
    """WORKED_ORDER planned by hand, with a calendar and a pencil."""
    stop1, card1 = ("14", "15:15"), ("14", "17:15")
    stop2, card2 = ("14", "20:30"), ("14", "22:30")
    card3, card4 = ("15", "06:30"), ("15", "08:30")
    lunch = ("14", "12:30")
    night3, dry3 = ("16", "06:30"), ("15", "10:30")
    morning_dose = worked_dose(
        "estradiol", 3, ("16", "07:30"), ("16", "08:30"), "after-card", "later")
    return {
        "order": "HB-20417", "zone": "America/Denver", "zone_data": "2026f",
        "slots": [
            worked_slot("evening", 1, "HB-20417-15",
                        [stop1, stop1, card1, None, ("14", "21:15")],
                        [("15", "15:15"), ("15", "15:15"), ("15", "17:15")]),
            worked_slot("bedtime", 2, "HB-20417-23",
                        [stop2, stop2, card2, None, ("15", "02:30")],
                        [("15", "20:30"), ("15", "20:30"), ("15", "22:30")],
                        [worked_dose("estradiol", 2, ("15", "20:00"), ("15", "22:30"),
                                     "after-card", "bedtime")]),
            worked_slot("waking", 3, "HB-20417-31",
                        [None, None, card3, ("15", "06:40"), dry3], [None, None, night3],
                        [morning_dose]),
            worked_slot("later", 4, "HB-20417-4*",
                        [None, None, card4, None, ("15", "12:30")],
                        [night3, None, ("16", "08:30")], [morning_dose]),
            worked_slot("night", None, "HB-20417-5Y", [None] * 5, None),
        ],
        "doses": [
            worked_dose("estradiol", 1, ("14", "07:30"), ("14", "07:30"), "as-usual"),
            worked_dose("estradiol", 2, ("15", "07:30"), card4, "after-card", "later"),
            worked_dose("estradiol", 1, ("14", "20:00"), card2, "after-card", "bedtime"),
            worked_dose("estradiol", 2, ("15", "20:00"), ("15", "20:00"), "as-usual"),
            worked_dose("warfarin", 1, ("14", "18:00"), ("14", "18:00"), "as-prescribed"),
            worked_dose("warfarin", 2, ("15", "18:00"), ("15", "18:00"), "as-prescribed"),
        ],
        "drinks": [
            worked_drink(lunch, stop1, "water-up-to", 470, 8),
            worked_drink(stop1, card1, "nothing"),
            worked_drink(card1, stop2, "with-dinner"),
            worked_drink(stop2, card2, "nothing"),
            worked_drink(card2, card3, "if-thirsty"),
            worked_drink(card3, card4, "allowance", 350, 6),
            worked_drink(card4, None, "normal"),
        ],
        "caffeine": {"from": worked(*lunch), "until": worked(*card4)},
        "pack_at": worked("16", "06:30"), "post_on": "2026-10-16", "findings": set(),
    }


def compare_worked(text, expected):
    """Through the same comparison as the binary's plans go through."""
    plan = make_plan(text)
    as_printed = [{"level": "note", "code": c, "text": "x"} for c in plan["findings"]]
    return compare_plans(expected, plan | {"findings": as_printed})


def routine_order(zone, start, dinner, bedtime, wake):
    """A bare order, for cases that turn on the routine alone."""
    return (
        f'order = "TEST-1"\nstart = {start}\nzone = "{zone}"\n[patient]\n'
        f"[routine]\ndinner = {dinner}:00\nbedtime = {bedtime}:00\nwake = {wake}:00\n"
    )


def slot_times(text):
    return [slot["collect_at"] for slot in make_plan(text)["slots"]]


def expect(title, expected, actual):
    return title, differences(expected, actual)


def anchor_cases():
    night_shift = routine_order("America/New_York", "2026-06-02", "05:00", "09:00", "16:00")
    yield expect("night worker keeps one date", [
        "2026-06-02T05:00:00-04:00", "2026-06-02T09:00:00-04:00",
        "2026-06-02T16:00:00-04:00", "2026-06-02T18:00:00-04:00", None,
    ], slot_times(night_shift))
    yield expect("pack after the next whole sleep", "2026-06-03T16:00:00-04:00",
                 make_plan(night_shift)["pack_at"])
    spring = routine_order("America/New_York", "2027-03-13", "18:00", "22:30", "02:30")
    yield expect("waking in a gap", "2027-03-14T03:30:00-04:00", slot_times(spring)[2])
    yield expect("waking in a gap is found", ["zone-gap"], sorted(make_plan(spring)["findings"]))
    autumn = routine_order("America/New_York", "2026-10-31", "18:00", "22:30", "00:30")
    yield expect("two hours are elapsed", "2026-11-01T01:30:00-05:00", slot_times(autumn)[3])
    short = make_plan(routine_order("Asia/Kathmandu", "2027-01-05", "21:00", "22:00", "23:00"))
    yield expect("short interval and sleep", ["short-interval", "short-sleep"],
                 sorted(short["findings"]))
    yield expect("card 1 is the emptying", short["slots"][0]["collect_at"],
                 short["slots"][1]["empty_at"])
    yield expect("no drink with dinner then", False,
                 "with-dinner" in [drink["rule"] for drink in short["drinks"]])


def amount_cases():
    for weight, expected in [
        ("150 lb", (350, 6)), ("100 lb", (230, 4)), ("99 lb", (170, 3)), ("70 lb", (110, 2)),
        ("400 lb", (940, 16)), ("68.5 kg", (350, 6)), ("45.3 kg", (170, 3)),
        ("45.4 kg", (230, 4)), (None, (None, None)),
    ]:
        yield expect(f"allowance for {weight}", list(expected), list(allowance(weight)))


def post_cases():
    for ready, posted, check in [
        ("2027-07-04", "2027-07-06", False),  # Sunday holiday, and the Monday after it
        ("2026-11-26", "2026-11-27", False),  # a holiday on a weekday
        ("2026-07-03", "2026-07-03", True),   # the Friday before a Saturday holiday
        ("2026-07-04", "2026-07-06", False),  # a Saturday holiday moves nothing else
        ("2027-12-31", "2027-12-31", True),   # the holiday falls in the next year
        ("2028-12-31", "2029-01-02", False),  # a Sunday, then New Year's Day
    ]:
        day = first_post_day(date.fromisoformat(ready))
        found = [day.isoformat(), needs_post_check(day)]
        yield expect(f"post from {ready}", [posted, check], found)


def code_cases():
    for body, check in [
        ("G123489654321", "Y"), ("ISO79", "Y"), ("KIT0001BED", "S"), ("AB12CD34", "T"),
        ("00000001", "*"), ("000000000", "1"),
    ]:
        yield expect(f"check character of {body}", check, mod_37_2.calc_check_digit(body))


def dose_case(form, times, timing='timing = "protocol"', agreed=True):
    text = WORKED_ORDER.split("[[dose]]")[0] + (
        f'[[dose]]\nmedicine = "estradiol"\nform = "{form}"\ntimes = [{times}:00]\n{timing}\n'
    )
    text = text if agreed else text.replace('dose_rules = "agreed"\n', "")
    return [row["action"] for row in make_plan(text)["doses"]]


def dose_cases():
    moved = ["after-card", "as-usual"]
    for times, expected in [
        ("12:30", ["ask", "as-usual"]),          # on lunch: midday
        ("15:10", ["ask", "as-usual"]),          # just before the stop
        ("15:15", ["ask", "as-usual"]),          # on the stop, but too long a shift
        ("18:25", ["ask", "as-usual"]),
        ("18:30", moved),                        # a shift of exactly four hours
        ("22:30", moved),                        # on bedtime
        ("22:35", ["ask", "as-usual"]),          # in the night
        ("06:30", ["as-usual", "after-card"]),   # on waking, both days
        ("08:30", ["as-usual", "after-card"]),   # on card 4
        ("08:35", ["as-usual", "as-usual"]),
    ]:
        yield expect(f"dose at {times}", expected, dose_case("gel", times))
    ask = ["ask", "ask"]
    yield expect("patch", ask, dose_case("patch", "20:00"))
    yield expect("no timing given", ask, dose_case("gel", "20:00", ""))
    yield expect("not agreed", ask, dose_case("gel", "20:00", agreed=False))


def comparison_cases():
    """The comparison must be able to fail."""
    broken = worked_plan()
    broken["drinks"][0]["ml"] = 480
    broken["slots"].pop()
    broken["findings"] = {"long-sleep"}
    found = compare_worked(WORKED_ORDER, broken)
    yield expect("three seeded faults are seen", 3, len(found))
    yield expect("470 is not 470.0", 1, len(differences(470, 470.0)))


def generator_cases():
    maker = OrderMaker(7)
    again = OrderMaker(7)
    sample = [maker.order()[1] for _ in range(400)]
    yield expect("the same seed, the same orders", sample, [again.order()[1] for _ in range(400)])
    seen = Counter(name for text in sample for name in features(maker, text))
    yield expect("half are near a clock change", True, seen["near a clock change"] >= 200)
    actions = {f"dose {name}" for name in ("as-usual", "after-card", "ask", "as-prescribed")}
    wanted = COMPARED_CODES | actions | {"post waits"}
    yield expect("every rule is exercised", [], sorted(wanted - set(seen)))


def run_self_test():
    tally = Tally(None)
    tally.record("worked example", compare_worked(WORKED_ORDER, worked_plan()), WORKED_ORDER)
    for cases in (
        anchor_cases, amount_cases, post_cases, code_cases, dose_cases, comparison_cases,
        generator_cases,
    ):
        for title, lines in cases():
            tally.record(title, lines)
    return tally.close()


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--binary", help="the program to check")
    parser.add_argument("--count", type=int, default=3000, help="how many random orders")
    parser.add_argument("--seed", type=int, default=1, help="the same seed, the same orders")
    parser.add_argument("--show", type=int, help="print at most this many mismatches")
    parser.add_argument("--self-test", action="store_true", help="check this file, not the program")
    options = parser.parse_args()
    if options.self_test:
        return run_self_test()
    if not options.binary:
        parser.error("give --binary PATH, or --self-test")
    return run_random(check_binary_path(options.binary), options.count, options.seed, options.show)


if __name__ == "__main__":
    sys.exit(main())
