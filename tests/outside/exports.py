"""Write the same orders as tables of many kinds and compare their plans.

What it checks
    Random orders are written as order files (TOML) and, the same orders, as CSV
    (commas, semicolons, tabs, Windows-1252, UTF-16 with and without a mark) and as
    XLSX (text cells, cells of dates and times, the 1904 date system). The
    binary plans all of them; each export must give the very plans of the files.

Against which outside sources
    * PyPI `openpyxl` 3.1.5 writes the workbooks: its date serials, formats and
      archive are not ours.
    * Python's `csv` module and its codecs write the text tables.

It shares no code with the program. Needs Python 3.11 and requirements.txt.

    python exports.py --binary PATH --count 60 --seed 1
"""

import argparse
import csv
import io
import json
import random
import subprocess
import sys
import tempfile
from datetime import date, time, timedelta
from pathlib import Path

from openpyxl import Workbook
from openpyxl.utils.datetime import CALENDAR_MAC_1904

TODAY = "2026-09-01"

# Header and field of each column; the order files use the field.
COLUMNS = {
    "order": "Order no.",
    "family": "Family name",
    "given": "Prénom",
    "born": "Born",
    "weight": "Weight",
    "start": "Day of card 1",
    "zone": "Zone",
    "lunch": "Lunch",
    "dinner": "Dinner",
    "bedtime": "Bedtime",
    "wake": "Wake",
    "provider_name": "Provider",
    "provider_phone": "Phone",
    "dose_rules": "Rules",
    "fluid_limit": "Fluid limit",
}
DOSE = {
    "medicine": "Medicine",
    "form": "Form",
    "times": "Times",
    "timing": "Timing",
    "note": "Note",
}
DOSES = 2

LAB = """
name = "Harbor Bend Laboratory"
address = ["12 Quay Street", "Harbor Bend"]
phone = "555-0100"
hours = "Monday to Friday, 9 am to 5 pm"
zone = "America/Denver"
[mail]
holidays = "us-federal"
"""

FAMILIES = ["Achterberg", "O'Dell-Vance", "Núñez", 'Day "Jr"', "Lund; Moe", "Øst, Ær"]
GIVENS = ["Willa", "Éloïse", "Tobias Ray", "Rocío"]
ZONES = ["", "America/Chicago", "Europe/London", "Australia/Sydney"]
MEDICINES = ["estradiol", "progesterone", "levothyroxine", "prednisone", "ibuprofen"]


def random_order(rng, number):
    """One order: values as Python has them, absent ones missing."""
    clock = lambda low, high: time(rng.randint(low, high), rng.choice([0, 5, 15, 30, 45]))
    order = {
        "order": f"HB-{number}",
        "family": rng.choice(FAMILIES),
        "given": rng.choice(GIVENS),
        "born": date(1935, 1, 1) + timedelta(days=rng.randrange(25_000)),
    }
    maybe = lambda key, value: order.update({key: value}) if rng.random() < 0.8 else None
    maybe("weight", rng.choice(["150 lb", "68.5 kg", "201.25 lb", "55 kg"]))
    maybe("start", date(2026, 9, 2) + timedelta(days=rng.randrange(300)))
    maybe("lunch", clock(11, 13))
    maybe("dinner", clock(16, 20))
    maybe("bedtime", clock(21, 23))
    maybe("wake", clock(5, 8))
    if order.get("start") and (zone := rng.choice(ZONES)):
        order["zone"] = zone
    if rng.random() < 0.7:
        order["provider_name"] = "Dr. Inés Halloran"
        order["provider_phone"] = "555-0117"
        if rng.random() < 0.6:
            order["dose_rules"] = "agreed"
    if rng.random() < 0.3:
        order["fluid_limit"] = rng.random() < 0.5
    order["doses"] = []
    for medicine in rng.sample(MEDICINES, rng.randint(0, DOSES)):
        dose = {
            "medicine": medicine,
            "form": rng.choice(["tablet", "gel", "patch", "capsule"]),
            "times": sorted({clock(6, 23) for _ in range(rng.randint(1, 2))}),
            "timing": rng.choice(["protocol", "unchanged", "ask"]),
        }
        if rng.random() < 0.3:
            dose["note"] = 'With food, "as said"'
        order["doses"].append(dose)
    return order


# ------------------------------------------------------------- order files


def toml_value(value):
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (date, time)):
        return value.isoformat()
    if isinstance(value, list):
        return "[" + ", ".join(toml_value(item) for item in value) + "]"
    return json.dumps(value, ensure_ascii=False)


def toml(order):
    top = ["order", "start", "zone"]
    tables = {
        "patient": {k: k for k in ["family", "given", "born", "weight"]},
        "routine": {k: k for k in ["lunch", "dinner", "bedtime", "wake"]},
        "provider": {
            "provider_name": "name",
            "provider_phone": "phone",
            "dose_rules": "dose_rules",
        },
        "health": {"fluid_limit": "fluid_limit"},
    }
    lines = ['protocol = "four-card"']
    lines += [f"{key} = {toml_value(order[key])}" for key in top if key in order]
    for table, keys in tables.items():
        if here := {key: name for key, name in keys.items() if key in order}:
            lines.append(f"[{table}]")
            lines += [f"{name} = {toml_value(order[key])}" for key, name in here.items()]
    for dose in order["doses"]:
        lines.append("[[dose]]")
        lines += [f"{key} = {toml_value(value)}" for key, value in dose.items()]
    return "\n".join(lines) + "\n"


# ------------------------------------------------------------------ tables


def headers():
    doses = [f"{header} {n}" for n in range(1, DOSES + 1) for header in DOSE.values()]
    return list(COLUMNS.values()) + doses


def lab(settings):
    lines = [LAB, "[columns]", 'default_protocol = "four-card"', *settings]
    lines += [f"{key} = {toml_value(header)}" for key, header in COLUMNS.items()]
    for n in range(1, DOSES + 1):
        lines.append("[[columns.dose]]")
        lines += [f'{key} = "{header} {n}"' for key, header in DOSE.items()]
    return "\n".join(lines) + "\n"


def cells(order, style):
    row = [order.get(key) for key in COLUMNS]
    for n in range(DOSES):
        dose = order["doses"][n] if n < len(order["doses"]) else {}
        row += [dose.get(key) for key in DOSE]
    return [style(value) for value in row]


def as_text(value):
    """How an office's export writes it: month first, twelve hours, yes and no."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "No"
    if isinstance(value, list):
        return "; ".join(as_text(item) for item in value)
    if isinstance(value, date):
        return f"{value.month}/{value.day}/{value.year}"
    if isinstance(value, time):
        half = "am" if value.hour < 12 else "PM"
        return f"{(value.hour + 11) % 12 + 1}:{value.minute:02} {half}"
    return value


def as_iso(value):
    if isinstance(value, list):
        return ",".join(as_iso(item) for item in value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, time):
        return value.strftime("%H:%M")
    return as_text(value)


def as_cell(value):
    """Dates, times and truth values as a spreadsheet has them."""
    if isinstance(value, list):
        return value[0] if len(value) == 1 else as_iso(value)
    return value


def delimited(orders, style, separator, encoding, end="\r\n"):
    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator, lineterminator=end)
    writer.writerow(headers())
    writer.writerows(cells(order, style) for order in orders)
    return out.getvalue().encode(encoding)


def workbook(orders, style, old_epoch):
    book = Workbook()
    if old_epoch:
        book.epoch = CALENDAR_MAC_1904
    notes = book.active
    notes.append(["Notes"])
    sheet = book.create_sheet("Orders")
    sheet.append(headers())
    for order in orders:
        sheet.append(cells(order, style))
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def exports(orders):
    """File name, bytes and settings of every kind of export."""
    month_first = ['date_format = "month first"']
    yield "commas.csv", delimited(orders, as_text, ",", "utf-8"), month_first
    yield "semicolons.csv", delimited(orders, as_text, ";", "utf-8-sig"), month_first
    yield "tabs.tsv", delimited(orders, as_iso, "\t", "utf-8", "\n"), []
    western = delimited(orders, as_text, ";", "cp1252")
    yield "western.csv", western, [*month_first, 'encoding = "windows-1252"']
    yield "wide.csv", delimited(orders, as_text, "\t", "utf-16"), month_first
    bare = delimited(orders, as_text, ",", "utf-16-be")
    yield "bare.csv", bare, [*month_first, 'encoding = "utf-16be"']
    yield "text.xlsx", workbook(orders, as_iso, False), []
    yield "dates.xlsx", workbook(orders, as_cell, False), ['sheet = "Orders"']
    yield "dates-1904.xlsx", workbook(orders, as_cell, True), []


# ------------------------------------------------------------------ compare


def plans(binary, paths, lab_file):
    done = subprocess.run(
        [binary, "plan", *paths, "--json", "--lab", lab_file, "--today", TODAY],
        capture_output=True,
        text=True,
        timeout=300,
    )
    found = [json.loads(line) for line in done.stdout.splitlines()]
    return {plan["order"]: plan for plan in found}, done


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--binary", required=True)
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    rng = random.Random(args.seed)
    orders = [random_order(rng, 30_000 + n) for n in range(args.count)]
    faults = 0
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        lab_file = folder / "lab.toml"
        lab_file.write_text(LAB, encoding="utf-8")
        files = []
        for order in orders:
            files.append(folder / f"{order['order']}.toml")
            files[-1].write_text(toml(order), encoding="utf-8")
        want, done = plans(args.binary, files, lab_file)
        if done.returncode != 0 or len(want) != args.count:
            sys.exit(f"the order files were not all planned:\n{done.stderr}")
        for name, data, settings in exports(orders):
            path = folder / name
            path.write_bytes(data)
            lab_file.write_text(lab(settings), encoding="utf-8")
            got, done = plans(args.binary, [path], lab_file)
            wrong = [number for number in want if got.get(number) != want[number]]
            more = sorted(set(got) - set(want))
            print(f"{name}: {len(got)} plans, {len(wrong)} differ, {len(more)} too many")
            if wrong or more or done.returncode != 0:
                faults += 1
                print(f"  {(wrong + more)[:5]}\n{done.stderr[:2000]}")
    print(f"{args.count} orders, {faults} kinds of export at fault")
    sys.exit(1 if faults else 0)


if __name__ == "__main__":
    main()
