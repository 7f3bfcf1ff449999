"""Writes the orders that all programs of the comparison print.

They are of one kind, since that is what a day's work is: Letter, English, ordinary
print, five cards, an ordinary day. Names, birth dates, times, weights and medicines
differ from order to order, drawn at random; the usual times are quarter hours, as
people give them (common practice, no source). The same index always gives the same
order; every name is invented.

    python orders.py OUT [--count 40]
"""

import argparse
import random
import shutil
from datetime import date, timedelta
from pathlib import Path

FAMILIES = [
    "Achterberg", "Brightwater", "Castellane", "Delacroix", "Ellingsworth", "Fenwick-Oduya",
    "Grandholm", "Halvorsen", "Iwanaga", "Jessamine", "Kirkbride", "Lundquist", "Marchetti",
    "Núñez", "Okonkwo-Reyes", "Petrosyan", "Quillfeather", "Rosenvinge", "Szymborski",
    "Thackeray", "Underhill", "Vantongeren", "Whitcombe", "Yarborough", "Østergaard",
]  # fmt: skip
GIVENS = [
    "Marisol", "Piet", "Rosalind", "Temperance", "Harold", "Éloïse", "Noor", "Tobias",
    "Willa", "Rocío", "Ansel", "Bettina", "Cormac", "Dagny", "Ewan", "Fiorella",
]  # fmt: skip
PROVIDERS = [("Dr. Ines Halloran", "555-0117"), ("Dr. Soraya Lindgren", "555-0131")]
# Medicines with their forms, times and timing.
DOSES = [
    [],
    [("estradiol", "gel", "[07:30]", "protocol")],
    [("progesterone", "capsule", "[21:00]", "protocol"),
     ("lamotrigine", "tablet", "[08:00, 20:00]", None)],
    [("levothyroxine", "tablet", "[07:00]", None)],
    [],
    [("atorvastatin", "tablet", "[21:30]", None), ("estradiol", "tablet", "[08:00]", "protocol")],
]  # fmt: skip

# A Monday; no clocks change in the weeks after it.
FIRST_DAY = date(2027, 1, 11)
DAYS = 60


def clock(draw: random.Random, first: int, last: int) -> str:
    """A quarter hour from `first` to `last`, both in minutes after midnight."""
    minutes = draw.randrange(first, last + 1, 15)
    return f"{minutes // 60:02}:{minutes % 60:02}"


def order(index: int) -> str:
    """The text of the order with this index, counted from 0."""
    draw = random.Random(index)
    family, given = draw.choice(FAMILIES), draw.choice(GIVENS)
    born = date(1950, 1, 1) + timedelta(days=draw.randrange(18000))
    provider, phone = draw.choice(PROVIDERS)
    lines = [
        f'order = "HB-{30000 + index}"',
        'protocol = "four-card"',
        f"start = {FIRST_DAY + timedelta(days=draw.randrange(DAYS))}",
        "[patient]",
        f'family = "{family}"',
        f'given = "{given}"',
        f"born = {born}",
        f'weight = "{draw.randrange(110, 290)} lb"',
        "[routine]",
        f"lunch = {clock(draw, 11 * 60 + 30, 13 * 60 + 30)}",
        f"dinner = {clock(draw, 17 * 60, 19 * 60 + 30)}",
        f"bedtime = {clock(draw, 21 * 60 + 30, 23 * 60 + 30)}",
        f"wake = {clock(draw, 5 * 60 + 30, 8 * 60)}",
        "[provider]",
        f'name = "{provider}"',
        f'phone = "{phone}"',
        'dose_rules = "agreed"',
    ]
    for medicine, form, times, timing in draw.choice(DOSES):
        lines += ["[[dose]]", f'medicine = "{medicine}"', f'form = "{form}"', f"times = {times}"]
        if timing:
            lines.append(f'timing = "{timing}"')
    return "\n".join(lines) + "\n"


def write(out: Path, count: int) -> None:
    """Writes `count` orders and the laboratory's files of the demo orders."""
    out.mkdir(parents=True, exist_ok=True)
    demo = Path(__file__).resolve().parent.parent / "demo-orders"
    for name in ["lab.toml", "logo.svg"]:
        shutil.copy(demo / name, out / name)
    for index in range(count):
        (out / f"HB-{30000 + index}.toml").write_text(order(index), encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("--count", type=int, default=40)
    args = parser.parse_args()
    write(args.out, args.count)


if __name__ == "__main__":
    main()
