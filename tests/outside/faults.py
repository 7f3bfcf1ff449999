"""Let every system call of a command that writes fail, or kill the program there.

What it checks
    * Each command that writes (run, make, relabel, reprint, a revision, forget,
      manifest, new, ruler, printing) is given once undisturbed, and its writing
      calls are counted. Then, for each of them, it is given in a fresh folder and
        - killed (SIGKILL) before that call,
        - killed with half of what that call writes written,
        - told from there on that the disk is full (ENOSPC),
        - told once that the disk failed (EIO),
        - told from there on that it may not (EACCES).
      It must end with a fault that says what to do, or have done everything. What
      lies in the folder then is whole and just as in the undisturbed run; each PDF
      is known to the ledger; the ledger passes its check. The command given again
      (`--resume`) ends in the same files and the same ledger, with nothing left
      over, and no file is handed to the printer twice.
    * A clock that is wrong: years back, in 1970, in 2100, and one that jumps while a
      run is made or before it goes on.
    * A ledger that is locked, cut off at every length, or has a byte changed: it is
      refused, or every row of it is as it was.
    * Output folders, and a ledger, that vanish while they are written to.

Against which outside sources
    * Linux: system calls are stopped with ptrace(2), see trace.c.
    * Python's sqlite3 and hashlib for what is in a ledger.

It shares no code with the program. Needs Python 3.11, gcc, and Linux on x86-64.

    python faults.py --binary PATH [--most 8] [--all] [--only NAME]

Of each command and way to fail, at most `--most` calls are tried, spread over all of
them; `--all` tries every one.
"""

import argparse
import hashlib
import os
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

HERE = Path(__file__).parent
TIMEOUT = 300  # seconds; each command takes a fraction of one
WAYS = ["kill", "torn", "ENOSPC", "EIO", "EACCES"]
NOW = ["--now", "2026-11-25T08:00:00Z"]
TODAY = ["--today", "2026-09-01"]
PACKERS = {"PATH": "bin:" + os.environ.get("PATH", "")}

LAB = """
name = "Harbor Bend Laboratory"
address = ["12 Quay Street", "Harbor Bend"]
phone = "555-0100"
hours = "Monday to Friday, 9 am to 5 pm"
zone = "America/Denver"
stock = "letter-2x5"
"""

ORDER = """
order = "{number}"
protocol = "four-card"
start = 2026-10-14
[patient]
family = "{family}"
given = "Marisol"
born = 1984-03-09
weight = "150 lb"
"""

FAMILIES = ["Okonkwo-Reyes", "Marchetti-Quill", "Achterberg"]

# Hands nothing to a printer, and writes down what it was given.
LP = """#!/bin/sh
for word; do last=$word; done
echo "$last" >> lp.log
"""


class Tally:
    """What was checked, and the first faults of it."""

    def __init__(self, most_shown=25):
        self.passed = self.failed = 0
        self.most_shown = most_shown

    def record(self, title, lines):
        if not lines:
            self.passed += 1
            return
        self.failed += 1
        if self.failed <= self.most_shown:
            print(f"--- {title}", *(f"  {line}" for line in lines[:12]), sep="\n", flush=True)

    def close(self):
        print(f"{self.passed} passed, {self.failed} failed")
        return 1 if self.failed else 0


# ------------------------------------------------------------------ the program


@dataclass
class Bench:
    """The program, and the tools that get in its way."""

    binary: Path
    trace: Path
    clock: Path
    tally: Tally
    most: int | None

    def run(self, folder, arguments, env=None):
        return finished([self.binary, *arguments], folder, env)

    def traced(self, folder, arguments, env=None, at=0, way=""):
        log = folder.with_name(folder.name + ".calls")
        words = [self.trace, "--log", log, "--same-random"]
        if at:
            words += ["--at", at, "--do", way]
        done = finished([*words, "--", self.binary, *arguments], folder, env)
        return done, log.read_text(encoding="utf-8", errors="replace").splitlines()


def finished(words, folder, env):
    """A command that has ended, in a folder of its own; one that does not end is
    killed and told apart by its code."""
    child = subprocess.Popen(
        [str(word) for word in words], cwd=folder, stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, encoding="utf-8", errors="replace",
        env={**os.environ, "USER": "packer", **(env or {})},
    )
    try:
        out, err = child.communicate(timeout=TIMEOUT)
        code = child.returncode
    except subprocess.TimeoutExpired:
        child.kill()
        out, err = child.communicate()
        code = "it did not end"
    return subprocess.CompletedProcess(words, code, out, err)


def tools(folder):
    """Compiles them."""
    trace, clock = folder / "trace", folder / "clock.so"
    flags = ["-O2", "-Wall", "-Wextra"]
    for words in (
        ["gcc", *flags, "-o", trace, HERE / "trace.c"],
        ["gcc", *flags, "-shared", "-fPIC", "-o", clock, HERE / "clock.c"],
    ):
        subprocess.run([str(word) for word in words], check=True)
    return trace, clock


# ----------------------------------------------------------- what is on the disk


def files(folder, hidden=False):
    """SHA-256 of each file by name; the ledger is looked into elsewhere."""
    found = {}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder)
        if path.is_file() and (hidden or ".run" not in name.parts):
            found[str(name)] = hashlib.sha256(path.read_bytes()).hexdigest()
    return {name: digest for name, digest in found.items() if "ledger.db" not in name}


def ledgers(folder):
    return sorted(path for path in folder.glob("ledger.db") if path.is_file())


def rows(folder):
    """Every row of the ledger, from a copy, so that nothing of it is changed."""
    found = []
    for path in ledgers(folder):
        with tempfile.TemporaryDirectory() as name:
            for part in folder.glob("ledger.db*"):
                shutil.copy(part, name)
            connection = sqlite3.connect(Path(name) / path.name)
            for table in ("entry", "sealed"):
                found += connection.execute(f"SELECT * FROM {table} ORDER BY seq").fetchall()
            connection.close()
    return found


def ledger_faults(bench, folder):
    """The check that the program itself makes, of a copy."""
    if not ledgers(folder):
        return []
    with tempfile.TemporaryDirectory() as name:
        for part in folder.glob("ledger.db*"):
            shutil.copy(part, name)
        done = bench.run(Path(name), ["ledger", "check", "--ledger", "ledger.db"])
    return [] if done.returncode == 0 else ["ledger check:", *done.stderr.splitlines()]


def paper_faults(folder, before):
    """Each PDF that was made is in the ledger, if there is one, and none has a mark
    that another has."""
    if not ledgers(folder):
        return []
    known = "\n".join(str(row) for row in rows(folder))
    return [
        f"{name} is not in the ledger" for name, digest in files(folder).items()
        if name.endswith(".pdf") and name not in before and digest not in known
        # A run's slips are recorded at its end.
        and "packing" not in name
    ]


def part_faults(whole, found):
    """What is there is of the undisturbed command, and is whole."""
    return [
        f"{name} is there and should not be" if name not in whole else f"{name} is not whole"
        for name, digest in found.items() if whole.get(name) != digest
    ]


def is_temporary(name):
    """Not seen by anybody who prints: hidden, or in a hidden folder."""
    return any(part.startswith(".") for part in Path(name).parts)


def in_sight(found):
    return {name: digest for name, digest in found.items() if not is_temporary(name)}


def difference(whole, found):
    faults = part_faults(whole, found)
    return faults + [f"{name} is missing" for name in whole if name not in found]


# -------------------------------------------------------------------- scenarios


@dataclass
class Scenario:
    """A command that writes, and how it is given again."""

    name: str
    prepare: Callable
    arguments: list
    again: list = field(default_factory=list)
    # Ends that the command may come to when it is given again.
    codes: tuple = (0,)
    # How often it is given undisturbed, to know all files that may come of it.
    times: int = 1
    same_rows: bool = False
    env: dict = field(default_factory=dict)
    check: Callable | None = None
    # What the program says to give where it does nothing again.
    instead: list = field(default_factory=list)


def desk(folder, count=2):
    folder.mkdir()
    (folder / "orders").mkdir()
    (folder / "orders" / "lab.toml").write_text(LAB, encoding="utf-8")
    for index, family in enumerate(FAMILIES[:count]):
        text = ORDER.format(number=f"HB-{40_000 + index}", family=family)
        (folder / "orders" / f"{index}.toml").write_text(text, encoding="utf-8")


RUN = ["run", "orders", "--out", "out", "--kits-per-file", "1", "--threads", "1", *TODAY, *NOW]
LEDGER = ["--ledger", "ledger.db"]
MAKE = ["make", "orders", "--out", "kits", *TODAY, *NOW]
AGAIN = ["--lab", "orders/lab.toml", *LEDGER, *TODAY, *NOW, "--reason", "lost"]


def made(bench, folder):
    """A desk whose first kits are in the ledger."""
    desk(folder)
    # With the same randomness as all that follows.
    done, _ = bench.traced(folder, [*MAKE, *LEDGER])
    if done.returncode != 0:
        raise RuntimeError(done.stderr)


def sharded(bench, folder):
    desk(folder, 3)
    for number in (1, 2):
        done = bench.run(folder, [
            "run", "orders", "--out", f"shard-{number}", "--shard", f"{number}/2", *TODAY, *NOW])
        if done.returncode != 0:
            raise RuntimeError(done.stderr)


def printer(_, folder):
    desk(folder)
    (folder / "bin").mkdir()
    (folder / "bin" / "lp").write_text(LP, encoding="utf-8")
    (folder / "bin" / "lp").chmod(0o755)


def sent_once(folder, said):
    """No file went to the printer twice, and of one that did not the program says
    how to print it."""
    log = folder / "lp.log"
    sent = Counter(log.read_text().split() if log.is_file() else [])
    twice = [f"{name} was printed {count} times" for name, count in sent.items() if count > 1]
    wanted = sorted(str(path.relative_to(folder)) for path in (folder / "out").glob("*.pdf"))
    return twice + [
        f"nobody is told how to print {name}" for name in wanted
        if not sent[name] and f"-- {name}" not in said
    ]


def forgot(folder, _):
    """No name is left in any file of the ledger."""
    return [
        f"{path.name} still holds {name}" for path in folder.glob("ledger.db*")
        for name in FAMILIES if name.encode() in path.read_bytes()
    ]


SCENARIOS = [
    Scenario("run", lambda _, folder: desk(folder), [*RUN, "--archive"],
             [*RUN, "--archive", "--resume"]),
    Scenario("run with a ledger", lambda _, folder: desk(folder), [*RUN, *LEDGER],
             [*RUN, *LEDGER, "--resume"], same_rows=True),
    Scenario("make", lambda _, folder: desk(folder), MAKE),
    Scenario("make with a ledger", lambda _, folder: desk(folder), [*MAKE, *LEDGER]),
    Scenario("relabel", made, ["relabel", "HB-40000", *AGAIN, "--out", "again"], times=2),
    Scenario("reprint", made, ["reprint", "HB-40000", *AGAIN, "--out", "again"], times=2),
    # A revision that is recorded is not made twice: its papers come by a reprint.
    Scenario("revision", made,
             ["reprint", "HB-40000", *AGAIN, "--out", "again", "--bedtime", "23:45"],
             codes=(0, 1),
             instead=[["reprint", "HB-40000", *AGAIN, "--out", "instead"],
                      ["relabel", "HB-40000", *AGAIN, "--out", "instead"]]),
    Scenario("forget", made,
             ["ledger", "forget", "--older-than", "365", "--yes", *LEDGER,
              "--now", "2028-11-25T08:00:00Z"], check=forgot),
    Scenario("manifest", sharded, ["manifest", "shard-1", "shard-2", "--out", "all.csv"],
             codes=(0, 3)),
    Scenario("new", lambda _, folder: desk(folder), ["new", "mine.toml"], codes=(0, 3)),
    Scenario("ruler", lambda _, folder: desk(folder),
             ["stock", "letter-2x5", "--ruler", "page.pdf"], codes=(0, 3)),
    Scenario("printing", printer,
             [*RUN, "--print", "PAPER=front,LABELS=back", "--yes"],
             [*RUN, "--print", "PAPER=front,LABELS=back", "--yes", "--resume"],
             codes=(0, 1), env=PACKERS, check=sent_once),
]


def fresh(base, folder):
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(base, folder, symlinks=True)


def chosen(count, most):
    """Of the calls 1 to `count`, at most `most`, spread over all."""
    if most is None or count <= most:
        return list(range(1, count + 1))
    return sorted({1 + round(step * (count - 1) / (most - 1)) for step in range(most)})


def try_scenario(bench, folder, scenario):
    base = folder / "base"
    scenario.prepare(bench, base)
    before = files(base)
    whole, calls, whole_rows = undisturbed(bench, folder, scenario, base)
    if whole is None:
        return
    tried = 0
    for way in WAYS:
        for at in chosen(len(calls), bench.most):
            tried += 1
            trial = folder / "trial"
            fresh(base, trial)
            title = f"{scenario.name}: {way} at call {calls[at - 1]}"
            faults = one(bench, trial, scenario, before, whole, whole_rows, at, way)
            bench.tally.record(title, faults)
    print(f"{scenario.name}: {len(calls)} calls, {tried} tried", flush=True)


def undisturbed(bench, folder, scenario, base):
    """What comes of the command, and its calls; twice, to see whether it is always
    the same."""
    found = []
    for trial in (folder / "whole", folder / "twice"):
        fresh(base, trial)
        calls = []
        for _ in range(scenario.times):
            done, these = bench.traced(trial, scenario.arguments, scenario.env)
            calls = calls or these
        if done.returncode != 0:
            bench.tally.record(f"{scenario.name}: undisturbed", done.stderr.splitlines())
            return None, None, None
        found.append((files(trial, hidden=True), calls, rows(trial)))
    same = difference(found[0][0], found[1][0])
    if found[0][2] != found[1][2]:
        same.append("the ledger differs")
    bench.tally.record(f"{scenario.name}: the same twice", same)
    return found[0]


def one(bench, trial, scenario, before, whole, whole_rows, at, way):
    """The faults of one trial."""
    done, calls = bench.traced(trial, scenario.arguments, scenario.env, at, way)
    faults = []
    if way in ("kill", "torn"):
        if done.returncode != 128 + signal.SIGKILL:
            faults.append(f"it was not killed: {done.returncode}")
    elif done.returncode == 0:
        # What failed did not matter: everything is there.
        faults += missing(whole, trial, scenario)
    elif done.returncode not in (1, 3):
        faults.append(f"exit code {done.returncode}")
    elif "error: " not in done.stderr or "= help: " not in done.stderr:
        faults.append("it does not say what to do")
    seen = in_sight(files(trial))
    faults += part_faults(in_sight(whole), seen)
    faults += ledger_faults(bench, trial) + paper_faults(trial, before)
    if faults:
        return [*faults, f"after {calls[-1] if calls else 'nothing'}", *done.stderr.splitlines()]

    again = scenario.again or scenario.arguments
    done, _ = bench.traced(trial, again, scenario.env)
    said = done.stdout + done.stderr
    if done.returncode not in scenario.codes:
        faults.append(f"given again: exit code {done.returncode}")
    if done.returncode == 0:
        faults += missing(whole, trial, scenario)
        if scenario.same_rows and rows(trial) != whole_rows:
            faults.append("given again, the ledger is another")
    elif "error: " not in said and "lp " not in said:
        faults.append("given again, it does not say what to do")
    found = files(trial, hidden=True)
    faults += part_faults(in_sight(whole), in_sight(found))
    if done.returncode != 0 and scenario.instead:
        faults += given_instead(bench, trial, scenario, said)
        return [*faults, *done.stderr.splitlines()] if faults else []
    left = [name for name in found if name not in whole and is_temporary(name)]
    # Files of the journal that say what was printed can be others.
    faults += [f"{name} is left over" for name in left if "/sen" not in name]
    faults += ledger_faults(bench, trial) + paper_faults(trial, before)
    if scenario.check:
        faults += scenario.check(trial, said)
    return [*faults, *done.stderr.splitlines()] if faults else []


def given_instead(bench, trial, scenario, said):
    """The program says what to give instead, and that gives the papers."""
    faults = []
    for words in scenario.instead:
        if f"kitwright {words[0]}" not in said:
            faults.append(f"it does not say to give {words[0]}")
        done = bench.run(trial, words)
        if done.returncode != 0:
            faults += [f"{words[0]}: exit code {done.returncode}", *done.stderr.splitlines()]
    faults += ledger_faults(bench, trial) + paper_faults(trial, {})
    return faults


def missing(whole, trial, scenario):
    """Files that are not there, where each has one name."""
    if scenario.times > 1:
        return []
    found = in_sight(files(trial))
    return [f"{name} is missing" for name in in_sight(whole) if name not in found]


# ------------------------------------------------------------------------ clocks

YEAR = 366 * 24 * 3600
BEGUN = 1_795_593_600  # 2026-11-25T08:00:00Z


def clocked(bench, at=BEGUN, jump=0, count=1):
    return {"LD_PRELOAD": str(bench.clock), "CLOCK_AT": str(at), "CLOCK_JUMP": str(jump),
            "CLOCK_COUNT": str(count)}


def try_clocks(bench, folder):
    run = [word for word in RUN if word not in (*TODAY, *NOW)]
    whole = folder / "whole"
    desk(whole)
    done = bench.run(whole, [*run, *LEDGER], clocked(bench))
    bench.tally.record("clock: undisturbed", [] if done.returncode == 0 else [done.stderr])
    for title, at, code in (
        ("a year back", BEGUN - YEAR, 1), ("a month back", BEGUN - YEAR // 12, 0),
        ("in 1970", 0, 1), ("in 2100", 4_102_444_800, 1),
    ):
        trial = folder / title.replace(" ", "-")
        desk(trial)
        # Killed once its first part is recorded.
        _, calls = bench.traced(trial, [*run, *LEDGER], clocked(bench))
        shutil.rmtree(trial)
        desk(trial)
        bench.traced(trial, [*run, *LEDGER], clocked(bench), at=len(calls) * 2 // 3, way="kill")
        done = bench.run(trial, [*run, *LEDGER, "--resume"], clocked(bench, at))
        faults = expect("exit code", code, done.returncode)
        if code:
            # No clock of this program's time: it says so, and nothing is lost.
            faults += [] if "the clock of this machine" in done.stderr else [done.stderr]
            done = bench.run(trial, [*run, *LEDGER, "--resume"], clocked(bench))
            faults += expect("exit code with the right clock", 0, done.returncode)
        # The names of the run and of its entries are those of its beginning.
        faults += difference(papers(whole), papers(trial)) + ledger_faults(bench, trial)
        bench.tally.record(f"a run goes on when the clock is {title}", faults)
    for count in (2, 3):
        trial = folder / f"jump-{count}"
        desk(trial)
        back = clocked(bench, jump=-YEAR // 12, count=count)
        done = bench.run(trial, [*run, *LEDGER], back)
        faults = [] if done.returncode == 0 else [done.stderr]
        faults += difference(papers(whole), papers(trial)) + ledger_faults(bench, trial)
        bench.tally.record(f"the clock goes back after {count - 1} looks", faults)
    wrong_clock(bench, folder)


def papers(folder):
    """What is with the patient: without the slips, which bear the ledger's head."""
    return {name: digest for name, digest in files(folder / "out").items()
            if name.startswith(("paper", "labels"))}


def expect(what, wanted, found):
    return [] if wanted == found else [f"{what}: expected {wanted!r}, got {found!r}"]


def wrong_clock(bench, folder):
    """A clock that cannot be right chooses no day."""
    trial = folder / "first"
    desk(trial, 1)
    text = ORDER.format(number="HB-40000", family="Lund")
    text = text.replace("2026-10-14", '"first suitable"')
    (trial / "orders" / "0.toml").write_text(text, encoding="utf-8")
    for title, at, code in (("1970", 0, 1), ("2026", BEGUN, 0), ("2100", 4_102_444_800, 1)):
        done = bench.run(trial, ["plan", "orders", "--json"], clocked(bench, at))
        faults = [] if done.returncode == code else [
            f"exit code {done.returncode}", done.stdout[:300], done.stderr]
        if code and "clock" not in done.stderr:
            faults.append(f"no word of the clock: {done.stderr}")
        bench.tally.record(f"a day is asked for when the clock says {title}", faults)


# ----------------------------------------------------------------------- ledgers


def try_ledgers(bench, folder):
    base = folder / "base"
    made(bench, base)
    locked(bench, folder, base)
    cut(bench, folder, base)
    flipped(bench, folder, base)


def locked(bench, folder, base):
    trial = folder / "locked"
    fresh(base, trial)
    whole = rows(trial)
    for title, statements in (
        ("BEGIN EXCLUSIVE", ["BEGIN EXCLUSIVE"]),
        ("locking_mode EXCLUSIVE",
         ["PRAGMA locking_mode = EXCLUSIVE", "BEGIN IMMEDIATE", "COMMIT"]),
    ):
        holder = sqlite3.connect(trial / "ledger.db", isolation_level=None)
        for statement in statements:
            holder.execute(statement)
        done = bench.run(trial, [*RUN, *LEDGER, "--stock", "letter-2x7"])
        relabel = bench.run(trial, ["relabel", "HB-40000", *AGAIN, "--out", "again"])
        holder.close()
        faults = []
        for one in (relabel,) if title == "BEGIN EXCLUSIVE" else (relabel, done):
            if one.returncode != 3 or "another program has held it" not in one.stderr:
                faults += [f"exit code {one.returncode}", one.stderr]
        if rows(trial) != whole or list(trial.rglob("*reprint*")):
            faults.append("something was recorded or written")
        bench.tally.record(f"a ledger that is locked with {title}", faults)
        shutil.rmtree(trial / "out", ignore_errors=True)


def offsets(size, most, fewest=40):
    """Places in a file, spread over it."""
    step = max(1, size // (8 * (most or 10_000) + fewest))
    return range(0, size, step)


def damaged(bench, trial, title, whole, text):
    """A ledger with other bytes is refused, or nothing of it is lost."""
    (trial / "ledger.db").write_bytes(text)
    faults = []
    done = bench.run(trial, ["ledger", "check", *LEDGER])
    if done.returncode == 0:
        try:
            if rows(trial) != whole:
                faults.append("the check passes, and its rows are others")
        except sqlite3.Error as error:
            faults.append(f"the check passes, and it cannot be read: {error}")
    elif done.returncode not in (1, 3) or "= help: " not in done.stderr:
        faults += [f"exit code {done.returncode}", done.stderr]
    if done.returncode and (trial / "ledger.db").read_bytes() != text:
        faults.append("what is wrong was changed")
    bench.tally.record(title, faults)
    return done.returncode


def cut(bench, folder, base):
    trial = folder / "cut"
    fresh(base, trial)
    whole, bytes_ = rows(trial), (trial / "ledger.db").read_bytes()
    passed = sum(
        damaged(bench, trial, f"a ledger cut off at {size}", whole, bytes_[:size]) == 0
        for size in offsets(len(bytes_), bench.most)
    )
    bench.tally.record("no ledger that was cut off passes", [] if passed == 0 else [str(passed)])


def flipped(bench, folder, base):
    trial = folder / "flipped"
    fresh(base, trial)
    whole, bytes_ = rows(trial), (trial / "ledger.db").read_bytes()
    count = found = 0
    for at in offsets(len(bytes_), bench.most):
        text = bytearray(bytes_)
        text[at] ^= 0x40
        for name in ("ledger.db-wal", "ledger.db-shm"):
            (trial / name).unlink(missing_ok=True)
        count += 1
        found += damaged(bench, trial, f"a ledger with byte {at} changed", whole, bytes(text)) != 0
    print(f"of {count} bytes that were changed {found} were found; the rest is in no row")


# ----------------------------------------------------------------------- folders


def try_folders(bench, folder):
    """The folder is taken away while it is written to."""
    for after in ("run.json", "part-001.json", "part-002.json", "end.json"):
        trial = folder / f"gone-{after}"
        desk(trial, 3)
        child = subprocess.Popen(
            [bench.binary, *RUN, *LEDGER], cwd=trial, stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, encoding="utf-8")
        deadline = time.monotonic() + TIMEOUT
        while (not (trial / "out" / ".run" / after).exists() and child.poll() is None
               and time.monotonic() < deadline):
            time.sleep(0.0005)
        shutil.rmtree(trial / "out", ignore_errors=True)
        _, text = child.communicate(timeout=TIMEOUT)
        faults = []
        if child.returncode not in (0, 3) or (child.returncode and "= help: " not in text):
            faults += [f"exit code {child.returncode}", text]
        shutil.rmtree(trial / "out", ignore_errors=True)
        faults += ledger_faults(bench, trial)
        bench.tally.record(f"the folder is taken away after {after}", faults)


    ledger_away(bench, folder)


def ledger_away(bench, folder):
    """The ledger is taken away while a run is made, and put back."""
    trial = folder / "away"
    desk(trial, 3)
    (trial / "books").mkdir()
    command = [*RUN, "--ledger", "books/ledger.db"]
    child = subprocess.Popen(
        [bench.binary, *command], cwd=trial, stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, encoding="utf-8")
    deadline = time.monotonic() + TIMEOUT
    while (not (trial / "out" / ".run" / "run.json").exists() and child.poll() is None
           and time.monotonic() < deadline):
        time.sleep(0.0005)
    (trial / "books").rename(trial / "away")
    _, text = child.communicate(timeout=TIMEOUT)
    faults = expect("exit code", 3, child.returncode)
    if "it was moved, or another put in its place" not in text:
        faults += ["it does not say that the ledger is gone", text]
    (trial / "away").rename(trial / "books")
    done = bench.run(trial, [*command, "--resume"])
    faults += expect("exit code once it is back", 0, done.returncode)
    made = Counter(row[2] for row in rows(trial / "books") if row[1] == "made")
    faults += expect("kits", {f"HB-{40_000 + index}": 1 for index in range(3)}, dict(made))
    faults += ledger_faults(bench, trial / "books")
    bench.tally.record("the ledger is taken away, and put back", faults)


# ---------------------------------------------------------------------- the run


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--binary", required=True, help="the program to check")
    parser.add_argument("--most", type=int, default=8, help="calls of each command and way")
    parser.add_argument("--all", action="store_true", help="every call")
    parser.add_argument("--only", default="", help="names that contain this")
    options = parser.parse_args()
    binary = Path(options.binary).resolve()
    if not binary.is_file():
        sys.exit(f"There is no program at {options.binary}: build it, or give another --binary.")
    tally = Tally()
    with tempfile.TemporaryDirectory(prefix="faults-") as name:
        trace, clock = tools(Path(name))
        bench = Bench(binary, trace, clock, tally, None if options.all else options.most)
        checks = [(one.name, try_scenario, one) for one in SCENARIOS]
        checks += [("clocks", try_clocks), ("ledgers", try_ledgers), ("folders", try_folders)]
        for title, check, *arguments in checks:
            if not re.search(options.only, title):
                continue
            folder = Path(name) / title.replace(" ", "-")
            folder.mkdir()
            began = time.monotonic()
            check(bench, folder, *arguments)
            print(f"{title}: {time.monotonic() - began:.0f} s", flush=True)
    return tally.close()


if __name__ == "__main__":
    sys.exit(main())
