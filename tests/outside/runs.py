"""Stop large print runs at random moments, let them go on, and read what they leave.

What it checks
    * Random orders (plain, Spanish, large print, undated, with doses; some on
      hold, some wrong) are run once without a stop, and once more killed
      (SIGKILL) while orders are listed, while pages are set, while a file is
      being written and while packing slips are made, and given again with
      `--resume`. At each kill every file in the folder is the very file of the
      run without a stop, or is not there yet; at the end all of them are, and
      nothing temporary is left.
    * The same with a ledger: one entry `made` for each kit, one end of the run,
      and `ledger check` passes.
    * SIGINT: exit code 130, a message, and the run goes on.
    * A disk without room (a limit on the size of files, and a small tmpfs where
      that may be mounted): exit code 3, a message, no half file, and the run
      goes on.
    * Peak memory, on one thread, does not grow by more than a fifth from 60 orders
      to 240.
    * Labels at 300 dpi, cut out cell by cell: each QR code says its own code.
    * The files after the filter through which CUPS passes them, with the options
      that the program prints: page sizes and pixels are unchanged, every word is
      where it was. With another scaling the check must fail.

Against which outside sources
    * qpdf: the syntax of ISO 32000.
    * poppler (pdftoppm, pdftotext, pdfinfo) for pixels, words and page sizes.
    * zbar for QR codes (ISO/IEC 18004).
    * `pdftopdf` of cups-filters 1.28, the first filter of a CUPS queue.
    * Python's csv module (RFC 4180) and sqlite3.

It shares no code with the program. Needs Python 3.11, requirements.txt, qpdf,
poppler-utils, zbar-tools and cups-filters-core-drivers.

    python runs.py --binary PATH [--count 500] [--seed 1] [--kills 24]
"""

import argparse
import csv
import hashlib
import os
import random
import re
import resource
import shlex
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from PIL import Image, ImageChops

from documents import cut_out, expect, load_stock, render, run_well, said, syntax_faults
from oracle import Tally, check_binary_path

LAB = """
name = "Harbor Bend Laboratory"
address = ["12 Quay Street", "Harbor Bend"]
phone = "555-0100"
hours = "Monday to Friday, 9 am to 5 pm"
zone = "America/Denver"
stock = "letter-2x5"
[mail]
holidays = "us-federal"
"""

SETTINGS = ["--today", "2026-09-01", "--now", "2026-11-25T08:00:00Z"]
TIMEOUT = 900  # seconds; a run of 500 orders takes a twentieth of that
MOST_GROWTH = 1.2
FILTER = Path("/usr/lib/cups/filter/pdftopdf")

# --------------------------------------------------------------------- orders

FAMILIES = ["Achterberg", "O'Dell-Vance", "Núñez", "Lund", "Marchetti-Quill", "Øst"]
GIVENS = ["Willa", "Éloïse", "Tobias Ray", "Rocío", "Piet"]
DOSES = [
    ("estradiol", "tablet", "07:30"), ("progesterone", "capsule", "22:00"),
    ("levothyroxine", "tablet", "06:45"), ("ibuprofen", "tablet", "12:00"),
]


def order_text(rng, number):
    """(text, what becomes of it): `made`, `hold` or `wrong`."""
    head = [f'order = "{number}"', 'protocol = "four-card"']
    if rng.random() < 0.9:
        day = date(2026, 9, 14) + timedelta(days=rng.randrange(300))
        head += [f"start = {day}", 'zone = "America/Denver"']
    if rng.random() < 0.15:
        head.append('language = "es"')
    if rng.random() < 0.1:
        head.append('text = "large"')
    media = rng.random()
    if media < 0.08:
        head.append('paper = "a4"')
    elif media < 0.13:
        head.append('stock = "roll-102x51"')
    weight, fate = rng.choice(["150 lb", "68.5 kg", "201.5 lb"]), "made"
    tail = []
    if rng.random() < 0.04:
        weight, fate = "150", "wrong"
    elif rng.random() < 0.04:
        tail, fate = ["[health]", "pregnant = true"], "hold"
    head += [
        "[patient]", f'family = "{rng.choice(FAMILIES)}"', f'given = "{rng.choice(GIVENS)}"',
        f"born = {date(1945, 1, 1) + timedelta(days=rng.randrange(20_000))}",
        f'weight = "{weight}"', "[routine]",
        f"lunch = 12:{rng.randrange(60):02}", f"dinner = 18:{rng.randrange(60):02}",
        f"bedtime = 22:{rng.randrange(60):02}", f"wake = 06:{rng.randrange(60):02}",
        "[provider]", 'name = "Dr. Ines Halloran"', 'phone = "555-0117"',
    ]
    if rng.random() < 0.5:
        head.append('dose_rules = "agreed"')
    for medicine, form, at in rng.sample(DOSES, rng.randrange(3)):
        tail += ["[[dose]]", f'medicine = "{medicine}"', f'form = "{form}"', f"times = [{at}]"]
    return "\n".join(head + tail) + "\n", fate


def write_orders(folder, count, seed):
    """Writes the orders and returns what becomes of each, by number."""
    rng = random.Random(seed)
    folder.mkdir()
    (folder / "lab.toml").write_text(LAB, encoding="utf-8")
    fates = {}
    for index in range(count):
        number = f"HB-{40_000 + index}"
        text, fates[number] = order_text(rng, number)
        (folder / f"{number}.toml").write_text(text, encoding="utf-8")
    return fates


# ----------------------------------------------------------------------- runs


@dataclass
class Desk:
    """The program, the orders that it is given, and how many go into a file."""

    binary: Path
    orders: Path
    tally: Tally
    kits: int = 10

    def command(self, out, *more):
        words = [self.binary, "run", self.orders, "--out", out,
                 "--kits-per-file", self.kits, *SETTINGS, *more]
        return [str(word) for word in words]

    def run(self, out, *more, **how):
        return subprocess.run(
            self.command(out, *more), capture_output=True, check=False, encoding="utf-8",
            stdin=subprocess.DEVNULL, timeout=TIMEOUT, **how,
        )

    def start(self, out, *more):
        # To no pipe: a killed run must not wait for its reader.
        return subprocess.Popen(
            self.command(out, *more), stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )

    def record(self, title, faults):
        self.tally.record(title, faults)


def digests(out):
    """SHA-256 of each file that a run left, by name; not of its journal."""
    return {
        str(path.relative_to(out)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in out.rglob("*")
        if path.is_file() and ".run" not in path.relative_to(out).parts
    }


def manifest(out):
    with open(out / "manifest.csv", encoding="utf-8", newline="") as file:
        # The first row is the run's own.
        return [row for row in csv.DictReader(file) if row["status"] != "run"]


def cells(row, stock):
    """Cells of a kit's labels, from 0 over all sheets: `sheet 2: 6 7` of ten to a
    sheet are 15 and 16."""
    found = []
    for part in row["label cells"].split("; "):
        sheet, _, numbers = part.partition(": ")
        before = (int(sheet.split()[1]) - 1) * stock.columns * stock.rows
        found += [before + int(number) - 1 for number in numbers.split()]
    return found


def fate_faults(rows, fates):
    """Each order has one line, with what must become of it."""
    found = {}
    for row in rows:
        number = Path(row["order"]).name.removesuffix(".toml")
        found.setdefault(number, []).append(row["status"])
    faults = [f"{number}: {all_of}" for number, all_of in found.items() if len(all_of) != 1]
    faults += [
        f"{number}: expected {fate}, got {found.get(number)}"
        for number, fate in fates.items() if found.get(number) != [fate]
    ]
    return faults + [f"{number} is no order" for number in found if number not in fates]


def difference_faults(whole, found):
    faults = [f"{name} is missing" for name in sorted(set(whole) - set(found))]
    return faults + partial_faults(whole, found)


def partial_faults(whole, found):
    """What lies in the folder is of the run, and is as it must be."""
    faults = [f"{name} is there and should not be" for name in sorted(set(found) - set(whole))]
    common = sorted(set(whole) & set(found))
    return faults + [f"{name} has other bytes" for name in common if whole[name] != found[name]]


# ---------------------------------------------------------------------- kills

PHASES = ["listing", "setting", "writing", "packing"]


def journal(out, pattern):
    return len(list((out / ".run").glob(pattern)))


def phase_of(out, parts):
    """What a run was doing when it was killed, by what it left."""
    if not (out / ".run" / "run.json").is_file():
        return "listing"
    if journal(out, ".tmp*"):
        return "writing"
    if journal(out, "part-*.json") < parts:
        return "setting"
    return "done" if (out / ".run" / "end.json").is_file() else "packing"


def wait_until(child, is_so):
    """Waits for it, or for the run's end."""
    deadline = time.monotonic() + TIMEOUT
    while child.poll() is None and not is_so() and time.monotonic() < deadline:
        time.sleep(0.0005)


def slips(out):
    """The packing slips that are there, and when each was written."""
    return {(path.name, path.stat().st_mtime_ns) for path in out.glob("packing*.pdf")}


def wait_for(child, out, phase, parts, listing, rng):
    """Waits until a run is in the phase in which it is to be killed."""
    if phase == "listing":
        is_first = not out.is_dir()
        wait_until(child, lambda: (out / ".run").is_dir())
        # Once the folder is there, so that one kill at least falls while it lists.
        time.sleep(0 if is_first else rng.uniform(0, listing))
    elif phase == "packing":
        wait_until(child, lambda: journal(out, "part-*.json") >= parts)
        before = slips(out)
        wait_until(child, lambda: slips(out) != before)
        time.sleep(rng.uniform(0, 0.05))
    else:
        before = journal(out, "part-*.json")
        wait_until(child, lambda: journal(out, "part-*.json") > before)
        if phase == "setting":
            time.sleep(rng.uniform(0, 0.5))
        else:
            wait_until(child, lambda: journal(out, ".tmp*"))


def schedule(kills, rng):
    """Phases in which to kill: at first while listing, packing at the end."""
    later = rng.choices(["listing", "setting", "writing", "writing"], k=kills)
    early = ["listing"] * 3 + later
    packing = max(3, kills // 4)
    return early[: kills - packing] + ["packing"] * packing


def listing_time(desk, out):
    """Seconds from the making of its journal until a run has listed its orders."""
    child = desk.start(out)
    wait_until(child, lambda: (out / ".run").is_dir())
    began = time.monotonic()
    wait_until(child, lambda: (out / ".run" / "run.json").is_file())
    child.kill()
    child.wait()
    return time.monotonic() - began


def kill_and_resume(desk, out, whole, kills, rng, more=()):
    """Kills a run again and again, and lets it go on to its end."""
    listing = 0.25 * listing_time(desk, out.with_name(f"{out.name}-listed"))
    parts = sum(name.startswith("paper") for name in whole)
    began = time.monotonic()
    seen, sound, faults = Counter(), {}, []
    for phase in schedule(kills, rng):
        if journal(out, "part-*.json") + 3 > parts:
            # So that it is not done before it is killed over its slips.
            phase = "packing"
        child = desk.start(out, "--resume", *more)
        wait_for(child, out, phase, parts, listing, rng)
        child.kill()
        child.wait()
        seen[phase_of(out, parts)] += 1
        found = digests(out)
        if not more:
            faults += [f"killed while {phase}: {fault}" for fault in partial_faults(whole, found)]
        for name, digest in found.items():
            if name.endswith(".pdf") and sound.get(name) != digest:
                sound[name] = digest
                faults += [f"killed while {phase}: {name}: {line}"
                           for line in syntax_faults(out / name)]
    done = desk.run(out, "--resume", *more)
    print(f"killed {kills} times in {time.monotonic() - began:.0f} s, while {dict(seen)}")
    faults += expect("exit code", 1, done.returncode)
    return done, faults, seen


def leftover_faults(out):
    return [
        f"{path.name} is left in the journal" for path in (out / ".run").iterdir()
        if path.name != "lock" and path.suffix != ".json"
    ]


def check_kills(desk, folder, whole, kills, rng):
    out = folder / "killed"
    done, faults, seen = kill_and_resume(desk, out, whole, kills, rng)
    desk.record("a killed run leaves no half file", faults)
    missed = [f"no kill while {phase}" for phase in PHASES if not seen[phase]]
    desk.record("kills in every phase", missed)
    ended = difference_faults(whole, digests(out)) + leftover_faults(out)
    desk.record("a killed run ends in the same bytes", ended and ended + said(done)[-5:])


def check_ledger(desk, folder, whole, fates, kills, rng):
    out, ledger = folder / "recorded", folder / "books" / "ledger.db"
    ledger.parent.mkdir()
    more = ["--ledger", str(ledger)]
    done, faults, _ = kill_and_resume(desk, out, whole, kills, rng, more)
    desk.record("a killed run with a ledger leaves no half file", faults)
    names = expect("files", sorted(whole), sorted(digests(out)))
    desk.record("a killed run with a ledger ends", names and names + said(done)[-5:])
    check = subprocess.run(
        [desk.binary, "ledger", "check", "--ledger", ledger],
        capture_output=True, check=False, encoding="utf-8",
    )
    desk.record("ledger check", said(check) if check.returncode else [])
    connection = sqlite3.connect(f"file:{ledger}?mode=ro", uri=True)
    rows = connection.execute("SELECT kind, order_number FROM entry").fetchall()
    connection.close()
    made = Counter(number for kind, number in rows if kind in ("made", "made-again"))
    wanted = Counter(number for number, fate in fates.items() if fate == "made")
    desk.record("one entry for each kit", [] if made == wanted else [
        f"{number}: {made[number]} entries" for number in sorted(set(made) | set(wanted))
        if made[number] != wanted[number]
    ])
    ends = sum(kind == "run-finished" for kind, _ in rows)
    desk.record("one end of the run", expect("entries", 1, ends))


# ------------------------------------------------------- other ways to be stopped


def check_interrupt(desk, folder, whole):
    """Ctrl-C: the parts begun are finished, and the rest is left for later."""
    out = folder / "interrupted"
    child = subprocess.Popen(
        desk.command(out), stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
        stderr=subprocess.PIPE, encoding="utf-8",
    )
    wait_until(child, lambda: journal(out, "part-*.json") >= 2)
    child.send_signal(signal.SIGINT)
    _, text = child.communicate(timeout=TIMEOUT)
    faults = expect("exit code", 130, child.returncode)
    if "go on with --resume" not in text:
        faults.append(f"no word of --resume: {text[-300:]}")
    faults += partial_faults(whole, digests(out))
    desk.record("SIGINT", faults)
    desk.run(out, "--resume")
    desk.record("after SIGINT", difference_faults(whole, digests(out)))


def limit_files(size):
    """Before the program begins: no file of it may grow beyond `size` bytes."""
    def limit():
        # As it is for a user: the program itself sees to it that the write fails.
        signal.signal(signal.SIGXFSZ, signal.SIG_DFL)
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))
    return limit


def no_room_faults(done, whole, out):
    faults = expect("exit code", 3, done.returncode)
    if "cannot write" not in done.stderr:
        faults.append(f"no word of what cannot be written: {done.stderr[-300:]}")
    return faults + partial_faults(whole, digests(out))


def check_no_room(desk, folder, whole):
    sizes = sorted(path.stat().st_size for path in (folder / "few-whole").glob("*.pdf"))
    largest = 0
    for size in (100, sizes[len(sizes) // 2] - 1, sizes[-1] - 1):
        out = folder / f"limit-{size}"
        done = desk.run(out, preexec_fn=limit_files(size))
        desk.record(f"no file above {size} bytes", no_room_faults(done, whole, out))
        largest = max(largest, len(digests(out)))
        desk.run(out, "--resume")
        desk.record(f"room after {size} bytes", difference_faults(whole, digests(out)))
    desk.record("some file was written before the room ended",
                [] if largest else ["none was"])


def check_full_disk(desk, folder, whole):
    """A disk of 3 MB, which this machine may not let us have."""
    disk = folder / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=3m", "tmpfs", str(disk)]
    if subprocess.run(mount, capture_output=True, check=False).returncode != 0:
        print("no tmpfs may be mounted here, so a full disk was not tried")
        return
    try:
        out = disk / "out"
        done = desk.run(out)
        desk.record("a full disk", no_room_faults(done, whole, out))
        if "No space left on device" not in done.stderr:
            desk.record("a full disk is named", [done.stderr[-300:]])
        size = ["mount", "-o", "remount,size=500m", str(disk)]
        subprocess.run(size, capture_output=True, check=True)
        desk.run(out, "--resume")
        desk.record("room on the disk again", difference_faults(whole, digests(out)))
    finally:
        subprocess.run(["umount", str(disk)], capture_output=True, check=False)


# --------------------------------------------------------------------- memory


def peak_memory(desk, out, *more):
    """Peak resident memory of one run, in kilobytes (Linux)."""
    child = desk.start(out, *more)
    _, status, usage = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    return usage.ru_maxrss


def check_memory(desk, folder):
    """On one thread: of several, few orders do not give each its share."""
    peaks = {}
    for count in (60, 240):
        orders = folder / f"orders-{count}"
        write_orders(orders, count, 7)
        smaller = Desk(desk.binary, orders, desk.tally)
        peaks[count] = peak_memory(smaller, folder / f"out-{count}", "--threads", "1")
    shown = ", ".join(f"{peak // 1024} MB for {count} orders" for count, peak in peaks.items())
    print(f"peak memory on one thread: {shown}")
    grown = peaks[240] > MOST_GROWTH * peaks[60]
    desk.record("memory does not grow with the orders", [shown] if grown else [])


# --------------------------------------------------------------------- labels


def sheet_faults(pdf, rows, stock):
    """zbar on each label of a file alone, at 300 dpi."""
    labels = [
        (cell, code)
        for row in rows
        for cell, code in zip(cells(row, stock), row["codes"].split(), strict=True)
    ]
    with tempfile.TemporaryDirectory(prefix="sheets-") as name:
        pages = render(pdf, 300, Path(name))
        crops = []
        for cell, _ in labels:
            crops.append(Path(name) / f"label-{cell:05}.png")
            cut_out(pages, stock.cell(cell), 300).save(crops[-1])
        found = subprocess.run(
            ["zbarimg", "--quiet", "--nodbus", *crops], capture_output=True, check=False,
            encoding="utf-8",
        ).stdout.splitlines()
    wanted = [f"QR-Code:{code}" for _, code in labels]
    return [] if wanted == found else [f"expected {wanted}, got {found}"]


def check_labels(desk, out):
    """The first and the last file of each stock."""
    files = {}
    for row in manifest(out):
        if row["status"] == "made":
            files.setdefault((row["stock"], row["label file"]), []).append(row)
    stocks = {}
    for stock, file in files:
        stocks.setdefault(stock, []).append(file)
    for stock, names in stocks.items():
        for file in sorted({names[0], names[-1]}):
            faults = sheet_faults(out / file, files[stock, file], load_stock(stock))
            desk.record(f"{file} on {stock}: QR codes at 300 dpi", faults)


# ----------------------------------------------------------------- the printer


def commands(text):
    """The command lines that a run printed, as words."""
    lines = [line.strip() for line in text.splitlines()]
    return [shlex.split(line) for line in lines if line.startswith("lp ")]


# The filter runs without a queue. Without a PPD it takes every medium for Letter,
# so it is given one with the sizes that are printed on here, in points.
SIZES = {"Letter": (612, 792), "A4": (595.2756, 841.8898), "A3": (842, 1191),
         "w288h144": (288, 144)}


def printer_description():
    """A PPD (Adobe 5003, version 4.3) of a printer that does both sides."""
    lines = [
        '*PPD-Adobe: "4.3"', '*FormatVersion: "4.3"', '*FileVersion: "1.0"',
        "*LanguageVersion: English", "*LanguageEncoding: ISOLatin1",
        '*PCFileName: "TEST.PPD"', '*Manufacturer: "Test"', '*Product: "(Test)"',
        '*ModelName: "Test"', '*NickName: "Test"', '*ShortNickName: "Test"',
        '*PSVersion: "(3010.000) 0"', '*LanguageLevel: "3"', "*ColorDevice: False",
    ]
    for key in ("PageSize", "PageRegion"):
        lines += [f"*OpenUI *{key}: PickOne", f"*Default{key}: Letter"]
        lines += [f'*{key} {name}: ""' for name in SIZES] + [f"*CloseUI: *{key}"]
    lines += ["*DefaultImageableArea: Letter", "*DefaultPaperDimension: Letter"]
    for name, (width, height) in SIZES.items():
        # An eighth of an inch at each edge is not printed on.
        lines.append(f'*ImageableArea {name}: "9 9 {width - 9} {height - 9}"')
        lines.append(f'*PaperDimension {name}: "{width} {height}"')
    lines += ["*OpenUI *Duplex: PickOne", "*DefaultDuplex: None", '*Duplex None: ""',
              '*Duplex DuplexNoTumble: ""', "*CloseUI: *Duplex"]
    return "\n".join(lines) + "\n"


def filtered(pdf, options, folder):
    """What comes out of the filter."""
    description, after = folder / "test.ppd", folder / "filtered.pdf"
    description.write_text(printer_description(), encoding="ascii")
    done = subprocess.run(
        [FILTER, "1", "user", "title", "1", options, pdf], capture_output=True,
        check=False, env={**os.environ, "PPD": str(description)},
    )
    if done.returncode != 0 or not done.stdout.startswith(b"%PDF"):
        raise RuntimeError(f"pdftopdf failed: {done.stderr.decode(errors='replace')[-500:]}")
    after.write_bytes(done.stdout)
    return after


NUMBER = re.compile(r'"([\d.]+)"')
# Points: the filter writes numbers of single precision.
ROUNDING = 0.01


def places(pdf):
    """Every page and every word: what it says, and its size or box in points."""
    lines = run_well("pdftotext", "-bbox", pdf, "-").splitlines()
    return [
        (NUMBER.sub("", line).strip(), [float(number) for number in NUMBER.findall(line)])
        for line in lines if "<word " in line or "<page " in line
    ]


def is_same(place, other):
    return place[0] == other[0] and all(
        abs(a - b) <= ROUNDING for a, b in zip(place[1], other[1], strict=True)
    )


def filter_faults(pdf, options, folder):
    after = filtered(pdf, options, folder)
    before, moved = places(pdf), places(after)
    faults = [] if any("<word" in what for what, _ in before) else ["there are no words"]
    faults += expect("words and pages", len(before), len(moved))
    off = [(a, b) for a, b in zip(before, moved, strict=False) if not is_same(a, b)]
    if off:
        faults.append(f"{len(off)} words or pages moved, such as {off[:1]}")
    pages = sum("<page " in what for what, _ in before)
    for page in range(1, min(pages, 2) + 1):
        images = []
        for number, file in enumerate((pdf, after)):
            image = folder / f"page-{number}"
            run_well("pdftoppm", "-r", 150, "-gray", "-singlefile", "-f", page, file, image)
            images.append(image.with_suffix(".pgm"))
        other = other_pixels(*images)
        if other > MOST_OTHER:
            faults.append(f"page {page} has {other:.4%} other pixels")
    return faults


# Rounding may change the grey at the edge of a letter here and there.
MOST_OTHER = 1e-4


def other_pixels(one, two):
    """The share of pixels that differ by more than a quarter from white to black."""
    with Image.open(one) as first, Image.open(two) as second:
        if first.size != second.size:
            return 1.0
        counts = ImageChops.difference(first, second).histogram()
        return sum(counts[64:]) / sum(counts)


def check_printing(desk, folder, said_lines):
    if not FILTER.is_file():
        desk.record("the filter of CUPS", [f"there is no {FILTER}"])
        return
    seen = set()
    for words in commands(said_lines):
        pdf = Path(words[-1])
        options = " ".join(words[i + 1] for i, word in enumerate(words) if word == "-o")
        if "print-scaling=none" not in options:
            desk.record(f"{pdf.name}: printed at full size", [options])
        if options in seen:
            continue
        seen.add(options)
        faults = filter_faults(pdf, options, folder)
        desk.record(f"{pdf.name} as it comes to the printer ({options})", faults)
        # A3 is larger than any medium here: fitted to it, every word moves.
        other = options.replace("print-scaling=none", "print-scaling=fill")
        other = " ".join(
            "media=iso_a3_297x420mm" if word.startswith("media=") else word
            for word in other.split()
        )
        control = filter_faults(pdf, other, folder)
        desk.record(f"{pdf.name}: scaling is noticed", [] if control else [other])
    desk.record("sheets, both sides and one, were looked at",
                [] if len(seen) >= 2 else [f"only {seen}"])


# -------------------------------------------------------------------- the run


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--binary", required=True, help="the program to check")
    parser.add_argument("--count", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kills", type=int, default=24)
    options = parser.parse_args()
    binary = check_binary_path(options.binary)
    rng = random.Random(options.seed)
    tally = Tally(20)
    with tempfile.TemporaryDirectory(prefix="runs-") as name:
        folder = Path(name)
        fates = write_orders(folder / "orders", options.count, options.seed)
        desk = Desk(binary, folder / "orders", tally, max(2, options.count // 50))
        print(f"{options.count} orders: {dict(Counter(fates.values()))}")

        out = folder / "whole"
        began = time.monotonic()
        done = desk.run(out)
        print(f"run without a stop in {time.monotonic() - began:.1f} s")
        if not (out / "manifest.csv").is_file():
            desk.record("the run", ["it made no manifest", *said(done)[-20:]])
            return tally.close()
        desk.record("the run", expect("exit code", 1, done.returncode))
        whole = digests(out)
        desk.record("what became of each order", fate_faults(manifest(out), fates))
        for pdf in sorted(out.glob("*.pdf")):
            desk.record(f"{pdf.name}: sound", syntax_faults(pdf))

        few = folder / "few"
        write_orders(few, 40, options.seed + 1)
        small = Desk(binary, few, tally, 4)
        small.run(folder / "few-whole")
        few_whole = digests(folder / "few-whole")
        for check, *arguments in [
            (check_kills, desk, folder, whole, options.kills, rng),
            (check_ledger, desk, folder, whole, fates, options.kills // 2, rng),
            (check_interrupt, small, folder, few_whole),
            (check_no_room, small, folder, few_whole),
            (check_full_disk, small, folder, few_whole),
            (check_memory, desk, folder),
            (check_labels, desk, out),
            (check_printing, desk, folder, done.stdout),
        ]:
            began = time.monotonic()
            check(*arguments)
            print(f"{check.__name__}: {time.monotonic() - began:.0f} s", flush=True)
    return tally.close()


if __name__ == "__main__":
    sys.exit(main())
