"""Compares how fast kits are made: this program against what a laboratory could pick
instead. Same pages, same data, same machine, same run; medians of several.

    python benches/compare.py            # about a quarter of an hour
    python benches/compare.py --quick    # few kits and rounds: does everything work?
    python benches/compare.py --peers weasyprint,floor --memory 10,1000,10000

Needs Rust, Python 3.11 and, from Debian, `chromium`, `poppler-utils` and
`libpango-1.0-0 libpangoft2-1.0-0`. The rest is installed under `target/compare`:
Python packages (requirements.txt) and the typst program (crates.io), which takes a
while the first time. Do nothing else on the machine meanwhile.

Before anything is timed, each program makes the first kits, and every word and every QR
code on their pages is compared with this program's own. Only this program plans the
order and proves what it made; the others are handed the finished texts.

The result is a table on standard output, and all figures in `target/compare/figures.json`.
"""

import argparse
import json
import os
import platform
import shutil
import statistics
import subprocess
import sys
import time
import venv
from dataclasses import dataclass, field
from pathlib import Path

import orders

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent
CORES = (1, 2)


@dataclass
class Program:
    """One line of the table."""

    name: str
    # Begins every command line.
    command: list[str]
    # What it is, for the notes below the table.
    note: str
    # The slow ones make fewer kits a round.
    share: float = 1.0
    # Arguments of its own.
    more: list[str] = field(default_factory=list)
    # Figures: kits a second by cores, and others by name.
    rates: dict[int, list[float]] = field(default_factory=dict)
    figures: dict[str, float] = field(default_factory=dict)


class Trouble(Exception):
    """Something that stops the comparison, with what would be right."""


def run(command: list, **settings) -> str:
    """Runs a command and gives what it prints."""
    done = subprocess.run(
        [str(part) for part in command], capture_output=True, text=True, **settings
    )
    if done.returncode:
        raise Trouble(f"`{' '.join(str(part) for part in command)}` failed:\n{done.stderr.strip()}")
    return done.stdout


# ---------------------------------------------------------------------- making ready


def missing_tools(peers: list[str]) -> list[str]:
    """What must be installed first, all at once."""
    needed = {
        "cargo": "Rust",
        "pdftotext": "Debian's poppler-utils",
        "pdftoppm": "Debian's poppler-utils",
    }
    if any(peer.startswith("chromium") for peer in peers):
        needed["chromium"] = "Debian's chromium, or leave it out with --peers"
    return [
        f"there is no `{tool}`: install {package}"
        for tool, package in needed.items()
        if not shutil.which(tool)
    ]


def python_of(work: Path) -> Path:
    """A Python with the packages of requirements.txt."""
    home = work / "venv"
    python = home / "bin" / "python"
    wanted = (HERE / "requirements.txt").read_text()
    mark = home / "installed.txt"
    if not mark.exists() or mark.read_text() != wanted:
        print("installing Python packages …", file=sys.stderr)
        venv.create(home, with_pip=True, clear=True)
        run(
            [
                python,
                "-m",
                "pip",
                "install",
                "--quiet",
                "--disable-pip-version-check",
                "-r",
                HERE / "requirements.txt",
            ]
        )
        mark.write_text(wanted)
    return python


def typst_of(work: Path) -> Path:
    """The typst program of the version that this program has inside."""
    lock = (ROOT / "Cargo.lock").read_text()
    version = lock.split('name = "typst"\nversion = "', 1)[1].split('"', 1)[0]
    for place in (os.environ.get("TYPST"), work / "typst" / "bin" / "typst", shutil.which("typst")):
        if place and Path(place).exists() and f"typst {version}" in run([place, "--version"]):
            return Path(place)
    print(f"building typst {version}, which takes a while …", file=sys.stderr)
    run(
        [
            "cargo",
            "install",
            "--locked",
            "typst-cli",
            "--version",
            version,
            "--root",
            work / "typst",
        ]
    )
    return work / "typst" / "bin" / "typst"


def built(work: Path, peers: list[str]) -> dict[str, Path]:
    """Builds what is ours, as it is released. Gives the paths of the programs."""
    print("building …", file=sys.stderr)
    target = Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target"))
    run(["cargo", "build", "--locked", "--release"], cwd=ROOT)
    lines = run(
        ["cargo", "bench", "--locked", "--no-run", "--bench", "kits", "--message-format", "json"],
        cwd=ROOT,
    ).splitlines()
    messages = [json.loads(line) for line in lines if line.startswith("{")]
    kits = next(
        m["executable"] for m in messages if m.get("executable") and m["target"]["name"] == "kits"
    )
    programs = {"kitwright": target / "release" / "kitwright", "kits": Path(kits)}
    if "floor" in peers:
        floor = work / "floor"
        manifest = HERE / "floor" / "Cargo.toml"
        run(
            [
                "cargo",
                "build",
                "--locked",
                "--release",
                "--manifest-path",
                manifest,
                "--target-dir",
                floor,
            ]
        )
        programs["floor"] = floor / "release" / "floor"
    return programs


PEERS = ["reportlab", "weasyprint", "chromium", "chromium-tagged", "typst", "floor"]


def peers_of(names: list[str], python: Path | None, programs: dict[str, Path]) -> list[Program]:
    def script(name: str) -> list[str]:
        return [str(python), str(HERE / "peers" / name)]

    known = [
        Program(
            "reportlab",
            script("canvas.py"),
            "ReportLab's canvas, pages placed by hand; no kerning, no tags",
            0.5,
        ),
        Program(
            "weasyprint",
            script("weasy.py"),
            "WeasyPrint, HTML and CSS; fonts and style sheet kept; no tags",
            0.25,
        ),
        Program(
            "chromium",
            script("browser.py"),
            "headless Chromium, one browser and its tabs kept open; no tags",
            0.5,
        ),
        Program(
            "chromium-tagged",
            script("browser.py"),
            "the same, tagged",
            0.5,
            ["--variant", "tagged"],
        ),
        Program(
            "typst",
            script("typst_program.py"),
            "the typst program, once an order, with this program's templates",
            0.5,
        ),
    ]
    if "floor" in names:
        floor = [str(programs["floor"]), "--fonts", str(ROOT / "fonts")]
        known.append(
            Program(
                "floor",
                floor,
                "krilla alone: placed by hand, text shaped, no layout, no tags, no proof",
            )
        )
    return [program for program in known if program.name in names]


def ours_of(programs: dict[str, Path]) -> list[Program]:
    kits = [str(programs["kits"]), "speed"]
    return [
        Program("kitwright", kits, "from the order's text to proven files, as `make` does"),
        Program(
            "kitwright, no proof",
            kits,
            "the same without the proof, to compare with the others",
            1.0,
            ["--no-proof"],
        ),
    ]


# ------------------------------------------------------------------------ measuring


def on_cores(count: int):
    """Keeps a program to so many cores."""
    allowed = sorted(os.sched_getaffinity(0))[:count]
    return lambda: os.sched_setaffinity(0, allowed)


def environment(typst: Path | None) -> dict[str, str]:
    return {**os.environ, **({"TYPST": str(typst)} if typst else {})}


class Bench:
    def __init__(self, work: Path, typst: Path | None, kits: int, rounds: int):
        self.work, self.typst, self.kits, self.rounds = work, typst, kits, rounds
        self.orders, self.data = work / "orders", work / "data"

    def fresh(self, name: str) -> Path:
        folder = self.work / name
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir(parents=True)
        return folder

    def ours(self, program: Program) -> bool:
        return program.name.startswith("kitwright")

    def speed(self, program: Program, cores: int) -> None:
        """Adds the rates of one pass: kits a second of each round."""
        out = self.fresh("out")
        if self.ours(program):
            command = [*program.command, self.orders, out, "--threads", cores]
        else:
            limit = max(4, round(self.kits * program.share))
            command = [
                *program.command,
                "--data",
                self.data,
                "--out",
                out,
                "--workers",
                cores,
                "--limit",
                limit,
            ]
        command += ["--rounds", self.rounds, *program.more]
        text = run(command, env=environment(self.typst), preexec_fn=on_cores(cores))
        result = json.loads(text)
        program.rates.setdefault(cores, []).extend(result["kits"] / s for s in result["seconds"])

    def cold(self, program: Program, kitwright: Path) -> float:
        """Milliseconds from nothing to one kit on the disk and the program's end."""
        out = self.fresh("out")
        if self.ours(program):
            order = sorted(self.orders.glob("HB-*.toml"))[0]
            command = [kitwright, "make", order, "--out", out, "--today", "2026-09-01"]
        else:
            command = [*program.command, "--data", self.data, "--out", out, "--once", *program.more]
        begin = time.perf_counter()
        run(command, env=environment(self.typst))
        return (time.perf_counter() - begin) * 1000

    def memory(self, program: Program, kitwright: Path, count: int) -> float:
        """Peak memory in MB while `count` kits are made once, all processes together.
        This program makes them as a print run on two threads."""
        out = self.fresh("out")
        folder, data = self.work / f"orders-{count}", self.work / f"data-{count}"
        if self.ours(program):
            if not folder.exists():
                orders.write(folder, count)
            command = [kitwright, "run", folder, "--out", out, "--threads", "2"]
            command += ["--today", "2026-09-01", "--now", "2026-09-01T08:00:00Z"]
        else:
            if not data.exists():
                self.many(data, count)
            command = [*program.command, "--data", data, "--out", out, "--pass", *program.more]
        peak = peak_of(command, environment(self.typst))
        shutil.rmtree(out)
        return peak

    def many(self, data: Path, count: int) -> None:
        """Data of `count` kits: those that there are, again and again."""
        kits = sorted(path for path in self.data.iterdir() if path.is_dir())
        data.mkdir()
        shutil.copy(self.data / "logo.svg", data)
        for index in range(count):
            (data / f"K-{index:06}").symlink_to(kits[index % len(kits)])


def peak_of(command: list, env: dict[str, str]) -> float:
    """Peak of the memory of a process and all below it, in MB. What several of them
    share is counted once (PSS), every 20 ms."""
    process = subprocess.Popen(
        [str(part) for part in command],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        env=env,
        text=True,
    )
    peak = 0
    while process.poll() is None:
        peak = max(peak, sum(pss_of(pid) for pid in family(process.pid)))
        time.sleep(0.02)
    if process.returncode:
        raise Trouble(f"`{command[0]}` failed:\n{process.stderr.read()}")
    return peak / 1000


def family(pid: int) -> list[int]:
    found = [pid]
    for one in found:
        try:
            for task in Path(f"/proc/{one}/task").iterdir():
                found += [int(child) for child in (task / "children").read_text().split()]
        except OSError:
            continue  # It has just ended.
    return found


def pss_of(pid: int) -> int:
    """In kB; 0 of a process that has just ended."""
    try:
        lines = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
    except OSError:
        return 0
    return next((int(line.split()[1]) for line in lines if line.startswith("Pss:")), 0)


def size_of(folder: Path) -> float:
    """kB a kit of the files in a folder of kits."""
    kits = [path for path in folder.iterdir() if path.is_dir()]
    return sum(file.stat().st_size for kit in kits for file in kit.glob("*.pdf")) / len(kits) / 1000


# ------------------------------------------------------------------------ the table


def show(
    programs: list[Program], memory: list[int], stages: dict, bench: Bench, whole: dict
) -> str:
    ours = programs[0]
    base = statistics.median(ours.rates[1])
    counts = [f"MB, {count:,}" for count in memory]
    head = ["", "kits/s, 1 core", "kits/s, 2 cores", "we are", "cold ms", *counts, "kB a kit"]
    rows = [head, ["---", *["--:"] * (len(head) - 1)]]
    for program in programs:
        one, two = (statistics.median(program.rates[cores]) for cores in CORES)
        ratio = "" if program is ours else f"{base / one:.1f}x"
        memories = [program.figures.get(f"memory {count}") for count in memory]
        rows.append(
            [
                program.name,
                f"{one:.1f}",
                f"{two:.1f}",
                ratio,
                f"{program.figures['cold']:.0f}" if "cold" in program.figures else "",
                *(f"{value:.0f}" if value else "" for value in memories),
                f"{program.figures['kilobytes']:.0f}",
            ]
        )
    lines = ["| " + " | ".join(row) + " |" for row in rows]
    lines += [
        "",
        "`we are`: how many times as fast this program is on one core, the proof included.",
        "",
    ]
    lines += [f"- {program.name}: {program.note}" for program in programs]
    ms = stages["ms"]
    proof = sum(ms[name] for name in ms if name.startswith("proof"))
    split = {
        "plan": ms["plan"], "data": ms["data"], "layout": ms["layout"],
        "export": ms["export"], "proof": proof, "write": ms["write"],
    }  # fmt: skip
    lines += ["", "One kit of ours on one core, ms, medians:", ""]
    lines += ["| " + " | ".join([*split, "all"]) + " |", "|" + " --: |" * (len(split) + 1)]
    lines += [
        "| " + " | ".join(f"{value:.2f}" for value in [*split.values(), sum(split.values())]) + " |"
    ]
    lines += ["", f"A print run of {whole['kits']} orders, from start to end of `kitwright run`: "]
    lines[-1] += ", ".join(
        f"{whole[str(cores)]:.0f} kits/s on {cores} core{'s' * (cores > 1)}" for cores in CORES
    )
    lines[-1] += "."
    return "\n".join(lines)


def whole_run(bench: Bench, kitwright: Path, count: int, passes: int) -> dict:
    """Rates of the whole program with a folder of orders."""
    folder = bench.work / f"orders-{count}"
    if not folder.exists():
        orders.write(folder, count)
    result: dict = {"kits": count}
    for cores in CORES:
        rates = []
        for _ in range(passes):
            out = bench.fresh("out")
            command = [kitwright, "run", folder, "--out", out, "--threads", cores]
            command += ["--today", "2026-09-01", "--now", "2026-09-01T08:00:00Z"]
            begin = time.perf_counter()
            run(command, preexec_fn=on_cores(cores))
            rates.append(count / (time.perf_counter() - begin))
        result[str(cores)] = statistics.median(rates)
    return result


def machine() -> str:
    model = next(
        (
            line.split(":", 1)[1].strip()
            for line in Path("/proc/cpuinfo").read_text().splitlines()
            if "model name" in line
        ),
        platform.processor(),
    )
    rust = run(["rustc", "--version"]).strip()
    return f"{model}, {os.cpu_count()} cores, {platform.system()} {platform.release()}, {rust}, Python {platform.python_version()}"


def arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--peers", default=",".join(PEERS), help="which, with commas between")
    parser.add_argument("--kits", type=int, default=40, help="kits of a round")
    parser.add_argument(
        "--rounds", type=int, default=3, help="rounds of a pass, after one to warm up"
    )
    parser.add_argument("--passes", type=int, default=3, help="how often the programs take turns")
    parser.add_argument(
        "--memory",
        default="10,1000",
        help="numbers of orders to weigh the memory at; empty for none",
    )
    parser.add_argument(
        "--memory-of-peers", action="store_true", help="weighs the peers at more than 10, too"
    )
    parser.add_argument(
        "--quick", action="store_true", help="8 kits, one round, one pass, memory at 10"
    )
    parser.add_argument("--only-pages", action="store_true", help="compares the pages and ends")
    parser.add_argument("--work", type=Path, default=ROOT / "target" / "compare")
    args = parser.parse_args()
    if args.quick:
        args.kits, args.rounds, args.passes, args.memory = 8, 1, 1, "10"
    args.peers = [name for name in args.peers.split(",") if name]
    args.memory = [int(count) for count in args.memory.split(",") if count]
    for name in args.peers:
        if name not in PEERS:
            parser.error(f"there is no peer `{name}`: the peers are {', '.join(PEERS)}")
    return args


def compare(args: argparse.Namespace) -> None:
    if missing := missing_tools(args.peers):
        raise Trouble("\n".join(missing))
    work = args.work.resolve()
    work.mkdir(parents=True, exist_ok=True)
    python = python_of(work)
    typst = typst_of(work) if "typst" in args.peers else None
    programs = built(work, args.peers)
    bench = Bench(work, typst, args.kits, args.rounds)
    for folder in work.glob("orders*"):
        shutil.rmtree(folder)
    for folder in work.glob("data*"):
        shutil.rmtree(folder)
    orders.write(bench.orders, args.kits)
    run([programs["kits"], "data", bench.orders, bench.data])
    peers = peers_of(args.peers, python, programs)

    for peer in peers:
        print(f"comparing the pages of {peer.name} …", file=sys.stderr)
        out = bench.fresh(f"pages-{peer.name}")
        command = [
            *peer.command,
            "--data",
            bench.data,
            "--out",
            out,
            "--pass",
            "--limit",
            "4",
            *peer.more,
        ]
        run(command, env=environment(typst))
        peer.figures["kilobytes"] = size_of(out)
        run([python, HERE / "pages.py", "--ours", bench.data, "--theirs", out, "--name", peer.name])
    if args.only_pages:
        return

    ours = ours_of(programs)
    everyone = ours + peers
    for number in range(args.passes):
        for program in everyone:
            for cores in CORES:
                print(f"pass {number + 1}: {program.name}, {cores} …", file=sys.stderr)
                bench.speed(program, cores)
    for program in everyone:
        if program.name == "kitwright, no proof":
            continue
        print(f"cold start and memory of {program.name} …", file=sys.stderr)
        program.figures["cold"] = statistics.median(
            bench.cold(program, programs["kitwright"]) for _ in range(5)
        )
        for count in args.memory:
            if count <= 10 or args.memory_of_peers or bench.ours(program):
                program.figures[f"memory {count}"] = bench.memory(
                    program, programs["kitwright"], count
                )
    for program in ours:
        program.figures["kilobytes"] = size_of(bench.data)
    stages = json.loads(
        run(
            [programs["kits"], "stages", bench.orders, "--rounds", args.rounds, "--json"],
            preexec_fn=on_cores(1),
        )
    )
    whole = whole_run(bench, programs["kitwright"], 20 if args.quick else 400, args.passes)
    table = show(everyone, args.memory, stages, bench, whole)
    print(f"{machine()}\n\n{table}")
    figures = {
        "machine": machine(),
        "stages": stages,
        "run": whole,
        "programs": {p.name: {"kits/s": p.rates, **p.figures} for p in everyone},
    }
    (work / "figures.json").write_text(json.dumps(figures, indent=2) + "\n")


def main() -> None:
    try:
        compare(arguments())
    except Trouble as trouble:
        sys.exit(f"error: {trouble}")


if __name__ == "__main__":
    main()
