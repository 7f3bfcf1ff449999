"""Writes the orders that all programs of the comparison print.

They are of one kind, since that is what a day's work is: Letter, English, ordinary
print, five cards, an ordinary day. Names, birth dates, times, weights and medicines
differ from order to order. The same count always gives the same files; every name is
invented.

    python orders.py OUT [--count 40]
"""

import argparse
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


def order(index: int) -> str:
    """The text of the order with this index, counted from 0."""
    family = FAMILIES[index % len(FAMILIES)]
    given = GIVENS[index * 7 % len(GIVENS)]
    born = date(1950, 1, 1) + timedelta(days=index * 389 % 18000)
    provider, phone = PROVIDERS[index % 2]
    quarter = index % 6
    lines = [
        f'order = "HB-{30000 + index}"',
        'protocol = "four-card"',
        f"start = {FIRST_DAY + timedelta(days=index % DAYS)}",
        "[patient]",
        f'family = "{family}"',
        f'given = "{given}"',
        f"born = {born}",
        f'weight = "{110 + index * 13 % 180} lb"',
        "[routine]",
        f"lunch = 12:{quarter * 5:02}",
        f"dinner = 17:{quarter * 5 + 15:02}",
        f"bedtime = 22:{quarter * 5:02}",
        f"wake = 06:{quarter * 5 + 30:02}",
        "[provider]",
        f'name = "{provider}"',
        f'phone = "{phone}"',
        'dose_rules = "agreed"',
    ]
    for medicine, form, times, timing in DOSES[index % len(DOSES)]:
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
