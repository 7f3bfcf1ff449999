"""Guards the speed without a clock: counts the instructions of ten demo orders, made
and proven, and compares them with those in `instructions.toml`.

    python benches/instructions.py            # compares; 1 if a stage costs more
    python benches/instructions.py --renew    # writes the counts of now
    python benches/instructions.py --spread 5 # counts so often, says how much it varies

Needs Rust and Debian's valgrind. The program is built as for its tests, which is built
anyway: what the typesetter does is optimised there and what is ours is not, so these
are not the counts of what is released, but they change with them. It is run under
callgrind as far as each stage; what a stage costs is what the run has more than the
one before. Nothing in it depends on the moment: fixed orders and day, one thread, no
network.

What still varies is the seed of Rust's hash maps, by a few parts in ten thousand, and
what the processor can do: callgrind shows the program a processor like the machine's
own, so one without AVX2 takes other paths. Another version of Rust makes other
instructions: then a stage may differ by more before it is a fault, and it is said.
"""

import argparse
import json
import os
import re
import statistics
import subprocess
import sys
import tempfile
import tomllib
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent
FILE = HERE / "instructions.toml"
STAGES = ["ready", "plan", "make", "proof-paper", "proof-labels", "proof-slips"]
# How many percent a stage may cost more, or less, with the same Rust and with another.
MARGIN, WIDE_MARGIN = 5, 20

HEAD = """\
# Instructions of ten demo orders, made and proven, by stage. Compared by
# instructions.py, which also says how to renew them: do that in the commit that makes a
# stage slower or faster on purpose, and say there why.
"""


def run(command: list, **settings) -> str:
    done = subprocess.run(
        [str(part) for part in command], capture_output=True, text=True, **settings
    )
    if done.returncode:
        sys.exit(
            f"error: `{' '.join(str(part) for part in command)}` failed:\n{done.stderr.strip()}"
        )
    return done.stdout


def built() -> Path:
    lines = run(
        ["cargo", "build", "--locked", "--bench", "kits", "--message-format", "json"],
        cwd=ROOT,
    ).splitlines()
    messages = [json.loads(line) for line in lines if line.startswith("{")]
    return Path(
        next(
            m["executable"]
            for m in messages
            if m.get("executable") and m["target"]["name"] == "kits"
        )
    )


def counted(program: Path, stage: str) -> int:
    """Instructions of the whole process as far as a stage."""
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "out"
        # Few variables, since the stack begins with them.
        run(
            [
                "valgrind",
                "--tool=callgrind",
                f"--callgrind-out-file={out}",
                program,
                "counted",
                stage,
            ],
            env={"PATH": os.environ["PATH"], "LC_ALL": "C"},
        )
        return int(re.search(r"^(?:totals|summary): (\d+)", out.read_text(), re.MULTILINE)[1])


def counts(program: Path) -> dict[str, int]:
    """Instructions of each stage alone."""
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        totals = list(pool.map(lambda stage: counted(program, stage), STAGES))
    before = [0, *totals]
    return {stage: total - less for stage, total, less in zip(STAGES, totals, before)}


def rust_version() -> str:
    return run(["rustc", "--version"]).split()[1]


def write(found: dict[str, int]) -> None:
    lines = [HEAD, f'rustc = "{rust_version()}"\n\n[counts]\n']
    lines += [f"{stage:<12} = {count:_}\n" for stage, count in found.items()]
    FILE.write_text("".join(lines))


def compare(found: dict[str, int]) -> int:
    kept = tomllib.loads(FILE.read_text())
    here, there = rust_version(), kept["rustc"]
    margin = MARGIN
    if here != there:
        margin = WIDE_MARGIN
        print(f"note: counted with Rust {there}, this is {here}: up to {margin} % is only said")
    faults = 0
    if list(kept["counts"]) != STAGES:
        sys.exit(
            f"error: {FILE.name} has other stages than {', '.join(STAGES)}: renew it with --renew"
        )
    for stage, count in found.items():
        before = kept["counts"][stage]
        change = (count - before) / before * 100
        print(f"{stage:<13}{count / 1e6:>10.1f} million {change:>+7.1f} %")
        if abs(change) <= MARGIN:
            continue
        which = "more" if change > 0 else "less"
        text = f"the stage {stage} costs {abs(change):.1f} % {which} than {FILE.name} says"
        if abs(change) <= margin:
            print(f"note: {text}")
            continue
        faults += 1
        print(
            f"error: {text} ({before:,} instructions, now {count:,})\n"
            f"  = help: if that is meant, run `python benches/instructions.py --renew`, commit "
            "the file with the change that did it, and say why; if not, find out what the stage does more",
            file=sys.stderr,
        )
    return 1 if faults else 0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--renew", action="store_true", help="writes the counts of now")
    parser.add_argument(
        "--spread", type=int, metavar="N", help="counts N times and says how much it varies"
    )
    args = parser.parse_args()
    program = built()
    if args.spread:
        every = [counts(program) for _ in range(args.spread)]
        for stage in STAGES:
            of = [one[stage] for one in every]
            wide = (max(of) - min(of)) / statistics.median(of) * 100
            print(f"{stage:<13}{statistics.median(of) / 1e6:>10.1f} million, spread {wide:.3f} %")
        return 0
    found = counts(program)
    if args.renew:
        write(found)
        print(f"{FILE.name} written")
        return 0
    return compare(found)


if __name__ == "__main__":
    sys.exit(main())
