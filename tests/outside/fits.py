"""Make kits whose texts are long and whose times are odd, print them again and run them.

What it checks
    Whatever may be written into an order, a laboratory's file and a protocol of its own
    becomes a proven kit, comes again as a reprint and as labels, and goes into a run
    with others. Labels that a long name has no room on are refused in words that name a
    stock: that is no fault. Everything else that is refused is one: the proof found a
    page that it should not have been given.

Against which outside sources
    None: the orders are made here, by chance, and what is on the pages is the business
    of the other checks.

    python fits.py --binary PATH --rounds 3 --count 20 --seed 1
"""

import argparse
import random
import re
import subprocess
import sys
import tempfile
import tomllib
from datetime import date, timedelta
from pathlib import Path

from oracle import check_binary_path

TEMPLATES = Path(__file__).resolve().parents[2] / "templates"
TODAY = date(2026, 9, 1)

# A long name on a small label.
MEANT = (
    "does not fit a label", "the label leaves no room to write",
    "stands there twice at the same time",
)

WORDS = (
    "quay harbor lantern meadow copper willow (ext. 0117) 12/24 Üñïçødé A of und "
    "specimen-receiving@example.org"
).split(" ")
FAMILIES = [
    "Ng", "Lund", "Ávila", "Þórsdóttir", "O'Brien-McAllister", "Vasconcelos y Hernández",
    "Thistlewaitehammersmithson", "Fitzwilliam-Ängström-Vasconcelos y Hernández-Quiñones",
]
GIVEN = ["Jo", "Marisol", "Ana María de los Ángeles", "Maximiliana Guðrún Épiphanie Þórdís"]
PROVIDERS = [
    "Dr. Halloran", "Professor Dr. Maximilian Fitzwilliam-Vasconcelos y Hernández",
    "Harbor Bend Health and Endocrinology Associates, NP",
]
NOTES = [
    "As agreed.",
    "Take it with food, not on an empty stomach, and never together with milk; if you "
    "feel faint, sit down and call us at once. The pharmacist can tell you more.",
]
ZONES = [
    "America/Denver", "America/Havana", "America/Argentina/Buenos_Aires", "Africa/Cairo",
    "Antarctica/Troll", "Australia/Lord_Howe", "Pacific/Chatham", "Asia/Kathmandu",
]
# Printed as words, or in all their width.
WIDE_TIMES = ["00:00", "12:00", "10:00", "22:00", "23:55"]
MEDICINES = [
    entry["name"]
    for entry in tomllib.loads((TEMPLATES / "medicines.toml").read_text())["medicine"]
] + ["n" * 32]


def words(dice, most):
    """A text of no more than `most` characters."""
    text = dice.choice(["Harbor", "Bend"])
    while dice.random() < 0.9:
        more = f"{text} {dice.choice(WORDS)}"
        if len(more) > most:
            break
        text = more
    return text


def laboratory(dice):
    """A laboratory's file."""
    lines = ", ".join(f'"{words(dice, 60)}"' for _ in range(dice.randint(1, 4)))
    text = (
        f'name = "{words(dice, 80)}"\naddress = [{lines}]\n'
        f'phone = "{dice.choice(["555-0100", words(dice, 60)])}"\n'
        f'hours = "{words(dice, 80)}"\nzone = "America/Denver"\n'
        f'language = "{dice.choice(["en", "es"])}"\n'
        '[mail]\nholidays = "us-federal"\n'
        f'[approved]\nby = "{words(dice, 80)}"\non = 2026-08-01\n'
    )
    for language in ["en", "es"]:
        texts = [f'{key} = "{words(dice, 240)}"\n' for key in ["hours", "mailing", "bags"]]
        text += f"[words.{language}]\n" + "".join(dice.sample(texts, dice.randint(0, 3)))
    return text


def protocol(dice):
    """The protocol of four cards under another name, with other intervals and up to
    four cards more."""
    text = (TEMPLATES / "protocols/four-card.toml").read_text()
    text = text.replace('"four-card"', '"of-our-own"', 1)
    text = text.replace("offset_minutes = 120", f"offset_minutes = {dice.choice([60, 120, 240])}")
    text = re.sub(
        "empty_before_minutes = 120",
        lambda _: f"empty_before_minutes = {dice.choice([60, 90, 120, 150])}",
        text,
    )
    text = re.sub(
        r'title = \{ en = "[^"]*", es = "[^"]*" \}',
        lambda _: f'title = {{ en = "{words(dice, 12)}", es = "{words(dice, 12)}" }}',
        text,
    )
    more, drinks = "", ""
    # From the last card on drinks are as usual, but from an emptying to its card.
    usual = "later.card"
    for number in range(dice.randint(0, 4)):
        slot = f'more-{"abcd"[number]}'
        is_dry = dice.random() < 0.5
        more += (
            f'[[slot]]\nid = "{slot}"\ndigit = {6 + number}\n'
            f'card = {5 + number}\nanchor = "waking"\n'
            f"offset_minutes = {300 + 60 * number + dice.choice([0, 30])}\n"
            f"{'empty_before_minutes = 90' if is_dry else ''}\n"
            f'title = {{ en = "{words(dice, 12)}", es = "Última" }}\n\n'
        )
        if is_dry:
            drinks += drink(usual, f"{slot}.stop", "normal")
            drinks += drink(f"{slot}.stop", f"{slot}.card", "nothing")
            usual = f"{slot}.card"
    text = text.replace('from = "later.card"', f'from = "{usual}"', 1)
    return text.replace("[[drink]]", more + drinks + "[[drink]]", 1)


def drink(start, end, rule):
    return f'[[drink]]\nfrom = "{start}"\nuntil = "{end}"\nrule = "{rule}"\n\n'


def time_of_day(dice):
    if dice.random() < 0.3:
        return dice.choice(WIDE_TIMES)
    return f"{dice.randrange(24):02}:{dice.randrange(0, 60, 5):02}"


def dose(dice):
    times = sorted({time_of_day(dice) for _ in range(dice.choice([1, 1, 2, 3]))})
    return (
        f'[[dose]]\nmedicine = "{dice.choice(MEDICINES)}"\n'
        f'form = "{dice.choice(["tablet", "gel", "patch", "injection"])}"\n'
        f"times = [{', '.join(times)}]\n"
        f'timing = "{dice.choice(["protocol", "unchanged", "ask"])}"\n'
        f'note = "{dice.choice(NOTES)}"\n'
    )


def order(dice, number, stocks):
    """An order whose every hold is cleared."""
    number = dice.choice([f"HB-{number:05}", f"HB-45678901234{number:05}A"])
    start = TODAY + timedelta(days=dice.randrange(20, 500))
    weight = dice.choice([f"{dice.randint(20, 700)} lb", f"{dice.randint(10, 316)}.5 kg"])
    routine = "".join(
        f"{key} = {time_of_day(dice)}\n" for key in ["lunch", "dinner", "bedtime", "wake"]
    )
    health = dice.choice(["", "", "kidney_disease = true", "fluid_limit = true"])
    cleared = "".join(
        f'[[cleared]]\nhold = "{hold}"\nby = "{words(dice, 60)}"\non = 2026-08-30\n'
        for hold in ["glucocorticoid", "fluid-limit", "weight"]
    )
    doses = "".join(dose(dice) for _ in range(dice.choice([0, 1, 2, 4, 8])))
    return number, (
        f'order = "{number}"\nprotocol = "{dice.choice(["of-our-own", "first-morning"])}"\n'
        f"{dice.choice(['', *[f'start = {start}'] * 5])}\n"
        f'zone = "{dice.choice(ZONES)}"\nlanguage = "{dice.choice(["en", "es"])}"\n'
        f'paper = "{dice.choice(["letter", "a4"])}"\nclock = "{dice.choice(["12h", "24h"])}"\n'
        f'text = "{dice.choice(["standard", "large"])}"\nstock = "{dice.choice(stocks)}"\n'
        f'[patient]\nfamily = "{dice.choice(FAMILIES)}"\ngiven = "{dice.choice(GIVEN)}"\n'
        f'born = 1984-03-09\nweight = "{weight}"\n[routine]\n{routine}'
        f'[provider]\nname = "{dice.choice(PROVIDERS)}"\nphone = "555-0117"\n'
        f'dose_rules = "agreed"\n[health]\n{health}\n{doses}{cleared}'
    )


def one_round(binary, seed, count):
    """Makes `count` orders of one laboratory. The number of kits, and the faults."""
    dice = random.Random(seed)
    stocks = sorted(path.stem for path in (TEMPLATES / "stock").glob("*.toml"))
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        orders = folder / "orders"
        orders.mkdir()
        (orders / "lab.toml").write_text(laboratory(dice))
        (folder / "own.toml").write_text(protocol(dice))
        for number in range(count):
            name, text = order(dice, number, stocks)
            (orders / f"{name}.toml").write_text(text)

        def call(command, *more, own=True):
            protocol = ["--protocol", "own.toml"] if own else []
            done = subprocess.run(
                [str(binary), command, *more, "--lab", "orders/lab.toml", *protocol,
                 "--today", str(TODAY)],
                cwd=folder, capture_output=True, text=True, check=False, timeout=600,
                stdin=subprocess.DEVNULL,
            )
            said = (done.stdout + done.stderr).splitlines()
            wrong = [line for line in said if line.startswith("error: ")]
            wrong = [line for line in wrong if not any(meant in line for meant in MEANT)]
            if done.returncode not in (0, 1):
                wrong.append(f"exit code {done.returncode}: {said[-1:]}")
            return [f"seed {seed}, {command} {more[0]}: {line}" for line in wrong]

        ledger = ("--ledger", "ledger.db")
        faults = call("make", "orders", "--out", "kits", *ledger)
        made = sorted(path.name for path in (folder / "kits").iterdir() if path.is_dir())
        for number in dice.sample(made, min(4, len(made))):
            own = '"of-our-own"' in (orders / f"{number}.toml").read_text()
            faults += call("relabel", number, "--reason", "lost", *ledger, own=own)
            faults += call("reprint", number, "--reason", "wet", *ledger, own=own)
        faults += call("run", "orders", "--out", "run", "--archive")
        return len(made), faults


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--binary", type=check_binary_path, required=True)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--count", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    kits, faults = 0, []
    for seed in range(arguments.seed, arguments.seed + arguments.rounds):
        made, wrong = one_round(arguments.binary, seed, arguments.count)
        kits += made
        faults += wrong
    for fault in faults:
        print(fault)
    print(f"{kits} kits of {arguments.rounds} laboratories, {len(faults)} faults")
    sys.exit(1 if faults or kits == 0 else 0)


if __name__ == "__main__":
    main()
