"""Work out which dates suit as the day of card 1, and compare with `kitwright days`.

What it checks
    Random orders with limits, cycles, patches, routines and zones, and random
    rules of a laboratory. For each of many dates the codes against it and the
    codes to be looked at are worked out here and compared with `days --json`,
    and the exit code with them. Orders that ask for the first suitable day are
    planned, and the plan's date is compared with the first found here.

The rules, as the program's documents state them
    past          the day is not after today, or its first rule is not after today's
                  end in UTC
    kit           its first rule is not after the day the kit arrives
    earliest      it is before the provider's earliest day, `latest` after the latest
    cycle         it is not cycle day (length - 7), the first day of bleeding being
                  day 1; later cycles follow by the length. The laboratory sets the
                  7 and a tolerance. Of a range of lengths each must allow the day.
                  No cycle is counted more than 300 days on. An irregular cycle, a
                  range that allows no day, and a period of more than 120 days ago
                  give a fault and no list.
    post          the cards wait longer from packing to the post than is allowed
    holiday       a card falls on a federal holiday's own date, if that is a rule
    clock-change  the clocks change after the first rule of the plan and up to packing
    expiry        the cards are posted after they expire
    patch         a hormone's patch is changed between the waking before card 1 and
                  the day of the make-ups, which is that after the last card

Against which outside sources
    Python `zoneinfo` over PyPI `tzdata` 2026.6 (IANA 2026f), PyPI `holidays` for the
    federal holidays on their own dates, PyPI `python-dateutil` for the calendar
    arithmetic of cycles and ages. The planned moments are those of oracle.py.

    python days.py --binary PATH --count 300 --seed 1
    python days.py --self-test
"""

import argparse
import json
import random
import subprocess
import sys
import tempfile
import tomllib
from collections import Counter
from datetime import date, timedelta
from pathlib import Path

from dateutil.relativedelta import relativedelta
from dateutil.rrule import DAILY, rrule

import oracle
from oracle import DAY

LAB_HEAD = oracle.LAB_TOML
FARTHEST, OLDEST = 300, 120
HORIZON = 180
RULES = {"days_before_period": 7, "cycle_tolerance_days": 0, "cycle_spread_days": 7}
HORMONES = {name for name, kind in oracle.MEDICINE_KINDS.items() if kind != "other"}


# ------------------------------------------------------------------ the cycle


def lengths_of(cycle):
    if "length" in cycle:
        return [cycle["length"]]
    return list(range(cycle.get("shortest", 1), cycle.get("longest", 0) + 1))


def wanted_day(first_day, length, ahead, before):
    """The day of the cycle that begins `ahead` periods after the known one. The
    next period's first day is `before` whole days and one more after it."""
    starts = rrule(DAILY, interval=length, dtstart=first_day, count=ahead + 2)
    return (starts[ahead + 1] + relativedelta(days=-before - 1)).date()


def days_of_cycle(cycle, rules):
    """{date that suits: periods ahead}, found by trying every date and length."""
    first, tolerance = cycle["first_day"], rules["cycle_tolerance_days"]
    found, ahead = {}, 0
    while True:
        wanted = [
            wanted_day(first, length, ahead, rules["days_before_period"])
            for length in lengths_of(cycle)
        ]
        if not wanted or (max(wanted) - first).days + tolerance > FARTHEST:
            return found
        for offset in range(-tolerance, tolerance + 1):
            day = wanted[0] + offset * DAY
            if all(abs((day - other).days) <= tolerance for other in wanted):
                found[day] = ahead
        ahead += 1


def is_refused(order, rules, today):
    cycle = order.get("cycle")
    if cycle is None:
        return False
    spread = cycle.get("longest", 0) - cycle.get("shortest", 0)
    return (
        not cycle.get("regular", True)
        or spread > rules["cycle_spread_days"]
        or not days_of_cycle(cycle, rules)
        or (today - cycle["first_day"]).days > OLDEST
    )


# ------------------------------------------------------------------- one date


def clocks_change(zone, since, until):
    """Whether the offset differs anywhere, looked at every ten minutes: the
    changes lie on whole half hours of UTC, and none is undone so soon."""
    steps = int((until - since) / timedelta(minutes=10)) + 1
    moments = [min(since + n * timedelta(minutes=10), until) for n in range(steps + 1)]
    return len({oracle.offset_at(zone, moment) for moment in moments}) > 1


def judge(order, rules, today, day, cycle_days):
    """(codes against, codes to look at) of one date."""
    dated = order | {"start": day}
    anchors = oracle.find_anchors(dated)
    slots = oracle.find_slots(anchors)
    packed = oracle.find_pack_time(anchors, slots)
    packed_at = packed.astimezone(anchors.zone)
    pack_day, post_day = packed_at.date(), oracle.post_day_of(packed_at)
    against, notes = set(), set()

    limits = order.get("day", {})
    first_rule = min(anchors.lunch.instant, slots["evening"].empty)
    begun = first_rule.date() <= today  # instants are in UTC
    against |= {"past"} if day <= today or begun else set()
    begins = min(day, first_rule.astimezone(anchors.zone).date())
    against |= {"kit"} if "kit_arrives" in limits and begins <= limits["kit_arrives"] else set()
    against |= {"earliest"} if "earliest" in limits and day < limits["earliest"] else set()
    against |= {"latest"} if "latest" in limits and day > limits["latest"] else set()

    if "cycle" in order:
        if day not in cycle_days:
            against.add("cycle")
        elif cycle_days[day] > 0:
            notes.add("cycle-ahead")

    longest = rules.get("longest_wait_days")
    if longest is not None and (post_day - pack_day).days > longest:
        against.add("post")
    cards = [slot.collect for slot in slots.values() if slot.collect]
    card_days = {card.astimezone(anchors.zone).date() for card in cards}
    if rules.get("holidays") == "us-federal" and any(map(oracle.is_holiday, card_days)):
        against.add("holiday")
    if clocks_change(anchors.zone, first_rule, packed):
        against.add("clock-change")
    expire = limits.get("cards_expire", rules.get("cards_expire"))
    if expire is not None and post_day > expire:
        against.add("expiry")

    woke = oracle.last_before(anchors.zone, anchors.walls["wake"], anchors.dinner.instant)
    first = woke.instant.astimezone(anchors.zone).date()
    # The make-ups are a day later.
    last = anchors.waking.instant.astimezone(anchors.zone).date() + DAY
    for dose in order.get("dose", []):
        if "change_on" in dose and dose["medicine"] in HORMONES:
            if first <= dose["change_on"] <= last:
                against.add("patch")
            elif dose["change_on"] < first:
                notes.add("patch-unknown")

    if oracle.needs_post_check(post_day):
        notes.add("post-check")
    if relativedelta(day, order["patient"]["born"]).years < 18:
        notes.add("under-18")
    return against, notes


def judge_all(order, rules, today, since, count):
    cycle_days = days_of_cycle(order["cycle"], rules) if "cycle" in order else {}
    days = [since + n * DAY for n in range(count)]
    return {day: judge(order, rules, today, day, cycle_days) for day in days}


# ------------------------------------------------------------------ the orders


class Maker:
    def __init__(self, seed):
        self.random = random.Random(seed)

    def maybe(self, share):
        return self.random.random() < share

    def day(self, middle, before, after):
        return middle + self.random.randint(-before, after) * DAY

    def time(self, hour):
        minutes = hour * 60 + self.random.randint(-24, 24) * 5
        return oracle.to_time(minutes).strftime("%H:%M")

    def order(self, number):
        """(order's text, laboratory's [days] text, today)"""
        pick = self.random.choice
        today = self.day(date(2026, 10, 20), 60, 600)
        lines = [
            f'order = "{number}"', 'protocol = "four-card"', 'start = "first suitable"',
            f'zone = "{pick(oracle.ZONES)}"', "[patient]", 'family = "Okonkwo-Reyes"',
            'given = "Marisol"',
        ]
        born = date(1984, 3, 9) if self.maybe(0.8) else today - relativedelta(years=18)
        lines.append(f"born = {self.day(born, 40, 40)}")
        if self.maybe(0.7):
            shift = pick([0, 0, 0, 8, 12, 20])
            lines += ["[routine]"] + [
                f"{key} = {self.time(hour + shift)}"
                for key, hour in [("lunch", 12), ("dinner", 18), ("bedtime", 22), ("wake", 6)]
            ]
        lines += self.limits(today) + self.cycle(today) + self.patch(today)
        return "\n".join(lines) + "\n", "\n".join(self.rules(today)) + "\n", today

    def limits(self, today):
        arrives, earliest = self.day(today, 3, 20), self.day(today, 3, 30)
        latest = max(arrives + DAY, self.day(earliest, 0, 60))
        expire = self.day(max(arrives, earliest) + DAY, 0, 60)
        lines = ["[day]"]
        for key, value in [
            ("kit_arrives", arrives), ("earliest", earliest), ("latest", latest),
            ("cards_expire", expire),
        ]:
            lines += [f"{key} = {value}"] if self.maybe(0.4) else []
        return lines

    def cycle(self, today):
        if self.maybe(0.45):
            return []
        first = self.day(today, 125 if self.maybe(0.1) else 60, 0)
        length = self.random.randint(21, 38)
        shortest, longest = length - self.random.randint(0, 5), length + self.random.randint(0, 5)
        if self.maybe(0.7):
            shortest, longest = max(shortest, length - 2), min(longest, length + 1)
        lines = ["[cycle]", f"first_day = {first}"]
        kind = self.random.choice(["length", "length", "both", "range"])
        if kind != "range":
            lines.append(f"length = {length}")
        if kind != "length":
            lines += [f"shortest = {shortest}", f"longest = {longest}"]
        if self.maybe(0.1):
            lines.append(f"regular = {str(self.maybe(0.5)).lower()}")
        return lines

    def patch(self, today):
        if self.maybe(0.7):
            return []
        return [
            "[[dose]]", f'medicine = "{self.random.choice(sorted(oracle.MEDICINE_KINDS))}"',
            'form = "patch"', "times = [08:00]",
            f'timing = "{self.random.choice(["protocol", "unchanged", "ask"])}"',
            f"change_on = {self.day(today, 5, 40)}",
        ]

    def rules(self, today):
        lines = ["[days]"]
        if self.maybe(0.5):
            lines.append(f"longest_wait_days = {self.random.randint(0, 2)}")
        if self.maybe(0.5):
            lines.append('holidays = "us-federal"')
        if self.maybe(0.3):
            lines.append(f"cards_expire = {self.day(today, 0, 120)}")
        if self.maybe(0.4):
            lines.append(f"cycle_tolerance_days = {self.random.randint(0, 3)}")
        if self.maybe(0.2):
            lines.append(f"days_before_period = {self.random.randint(5, 9)}")
        if self.maybe(0.2):
            lines.append(f"cycle_spread_days = {self.random.randint(2, 9)}")
        return lines


# ---------------------------------------------------------------- the program


def run(binary, *arguments):
    done = subprocess.run(
        [str(binary), *map(str, arguments)], capture_output=True, timeout=60, check=False
    )
    return done.returncode, done.stdout.decode(), done.stderr.decode()


def compare_list(binary, path, order, rules, today, tally):
    """Complaints about `days --json` for one order."""
    since, count = today - 2 * DAY, HORIZON + 3
    code, out, err = run(
        binary, "days", path, "--json", "--today", today, "--from", since, "--days", count
    )
    if is_refused(order, rules, today):
        tally["orders without a sure day"] += 1
        if code == 1 and not out and "no day can be counted" in err:
            return None, []
        return None, [f"expected a refusal, found exit code {code}: {err or out[:200]}"]
    expected = judge_all(order, rules, today, since, count)
    lines = [json.loads(line) for line in out.splitlines()]
    found = {date.fromisoformat(line["date"]): line for line in lines}
    if list(found) != list(expected):
        return None, [f"expected {len(expected)} days from {since}, found {len(found)}: {err}"]
    complaints = []
    for day, (against, notes) in expected.items():
        line = found[day]
        tally.update(against or {"suits"})
        tally.update(notes)
        for what, wanted in [("against", against), ("notes", notes)]:
            seen = {remark["code"] for remark in line[what]}
            if seen != wanted:
                complaints.append(f"{day} {what}: expected {sorted(wanted)}, found {sorted(seen)}")
        if line["suits"] != (not against):
            complaints.append(f"{day} suits: {line['suits']}, against: {sorted(against)}")
    suiting = [day for day, (against, _) in expected.items() if not against]
    if code != (0 if suiting else 1):
        complaints.append(f"exit code {code} with {len(suiting)} days that suit")
    return (suiting[0] if suiting else None), complaints


def compare_choice(binary, path, first, today, tally):
    """Complaints about the date that `plan` chooses for the same order."""
    code, out, err = run(binary, "plan", path, "--json", "--today", today)
    if first is None:
        tally["orders without a day"] += 1
        if code == 1 and not out and err.startswith("error: no day"):
            return []
        return [f"expected no day, found exit code {code}: {err or out[:200]}"]
    plan = json.loads(out)
    chosen = date.fromisoformat(plan["slots"][0]["collect_at"][:10])
    told = [f["text"] for f in plan["findings"] if f["code"] == "day-chosen"]
    tally["orders with a day chosen"] += 1
    if chosen != first:
        return [f"expected the day {first}, found {chosen}"]
    if len(told) != 1 or str(today) not in told[0] or str(first) not in told[0]:
        return [f"expected a finding that names {first} and {today}, found {told}"]
    return []


def run_random(binary, count, seed, most_shown):
    maker, tally, failed = Maker(seed), Counter(), 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for index in range(count):
            text, rules_text, today = maker.order(f"HB-{index:05d}")
            path = folder / "order.toml"
            path.write_text(text, encoding="utf-8")
            (folder / "lab.toml").write_text(LAB_HEAD + rules_text, encoding="utf-8")
            order = tomllib.loads(with_seconds(text))
            rules = RULES | tomllib.loads(rules_text)["days"]
            first, complaints = compare_list(binary, path, order, rules, today, tally)
            if not complaints:
                complaints = compare_choice(binary, path, first, today, tally)
            failed += bool(complaints)
            if complaints and failed <= most_shown:
                print(f"--- today {today}\n{text}{rules_text}")
                print("\n".join(complaints[:10]))
    print(", ".join(f"{what} {number}" for what, number in sorted(tally.items())))
    wanted = {
        "suits", "past", "kit", "earliest", "latest", "cycle", "post", "holiday",
        "clock-change", "expiry", "patch", "cycle-ahead", "patch-unknown", "post-check",
        "under-18", "orders without a sure day", "orders without a day",
    }
    unmet = wanted - set(tally)
    if unmet and count >= 300:
        print(f"never came up: {sorted(unmet)}")
        failed += 1
    print(f"{count} orders, {failed} with differences")
    return failed == 0


def with_seconds(text):
    """Python 3.11 reads TOML 1.0, where a time has seconds."""
    lines = []
    for line in text.splitlines():
        key, _, value = line.partition(" = ")
        if key in ("lunch", "dinner", "bedtime", "wake"):
            value += ":00"
        lines.append(f"{key} = {value}" if value else line)
    return "\n".join(lines).replace("[08:00]", "[08:00:00]")


# -------------------------------------------------------------- its own checks


def self_test():
    """Dates counted by hand from day 21 of 28 and day 28 of 35, so that a slip
    in this file shows without the program."""
    for first, length, expected in [
        ("2026-12-01", 28, "2026-12-21"), ("2026-12-01", 35, "2026-12-28"),
        ("2026-12-01", 21, "2026-12-14"), ("2027-02-10", 30, "2027-03-04"),
        ("2028-02-10", 30, "2028-03-03"),
    ]:
        cycle = {"first_day": date.fromisoformat(first), "length": length}
        found = days_of_cycle(cycle, RULES)
        days = sorted(found)
        assert days[0] == date.fromisoformat(expected), (first, length, days[0])
        assert days[1] - days[0] == length * DAY
    wide = {"first_day": date(2026, 12, 1), "shortest": 26, "longest": 34}
    assert not days_of_cycle(wide, RULES)
    order = {
        "zone": "America/Denver", "patient": {"born": date(1984, 3, 9)},
        "start": None,
    }
    for day, against in [
        ("2026-10-29", set()), ("2026-10-30", {"clock-change"}),
        ("2026-10-31", {"clock-change"}), ("2026-11-01", set()),
    ]:
        found = judge(order, RULES, date(2026, 10, 1), date.fromisoformat(day), {})
        assert found == (against, set()), (day, found)
    print("self-test passed")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--binary", help="the program to check")
    parser.add_argument("--count", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--show", type=int, default=5, help="orders shown at most")
    parser.add_argument("--self-test", action="store_true")
    options = parser.parse_args()
    self_test()
    if options.self_test:
        return
    if options.binary is None:
        parser.error("--binary is needed")
    binary = oracle.check_binary_path(options.binary)
    if not run_random(binary, options.count, options.seed, options.show):
        sys.exit(1)


if __name__ == "__main__":
    main()
