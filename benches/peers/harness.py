"""What the peers share: they read the data of all kits, make each kit's three PDFs
again and again, write them, and say how long each round took.

    python PEER.py --data DATA --out OUT [--workers 1] [--rounds 3] [--limit N]

`--once` makes one kit and ends, to see how long a cold start takes; `--pass` makes all
kits once, to see how much memory that needs.
"""

import argparse
import json
import multiprocessing
import sys
import time
from pathlib import Path
from typing import Callable

KINDS = ("paper", "labels", "packing")

# The data of a kit's documents, its number, and under "raw" the JSON of each.
Kit = dict
# A peer is made by each worker for itself: it takes the folder of data and gives a
# function from a kit's data to its files.
Make = Callable[[Kit], dict[str, bytes]]


def folders_of(data: Path, limit: int | None) -> list[Path]:
    """The folder of each kit, in the order of their numbers."""
    return sorted(path for path in data.iterdir() if path.is_dir())[:limit]


def read(folder: Path) -> Kit:
    raw = {kind: (folder / f"{kind}.json").read_bytes() for kind in KINDS}
    return {
        "number": folder.name,
        "raw": raw,
        **{kind: json.loads(text) for kind, text in raw.items()},
    }


def write(out: Path, kit: Kit, files: dict[str, bytes]) -> None:
    folder = out / kit["number"]
    folder.mkdir(parents=True, exist_ok=True)
    for name, pdf in files.items():
        (folder / f"{name}.pdf").write_bytes(pdf)


def arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser()
    parser.add_argument("--data", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--limit", type=int)
    parser.add_argument("--once", action="store_true")
    parser.add_argument("--pass", dest="one_pass", action="store_true")
    parser.add_argument("--variant", default="")
    return parser.parse_args()


def report(kits: int, seconds: list[float]) -> None:
    """What `compare.py` reads."""
    json.dump({"kits": kits, "seconds": seconds}, sys.stdout)
    print()


def work(start: Callable[[Path], Make], args, index: int, barrier) -> None:
    """One worker: its share of the kits, each round."""
    make = start(args.data)
    folders = folders_of(args.data, args.limit)[index :: args.workers]
    for _ in range(args.rounds + 1):
        barrier.wait()
        for folder in folders:
            kit = read(folder)
            write(args.out, kit, make(kit))
        barrier.wait()


def run(start: Callable[[Path], Make]) -> None:
    args = arguments()
    if args.once or args.one_pass:
        make = start(args.data)
        for folder in folders_of(args.data, 1 if args.once else args.limit):
            kit = read(folder)
            write(args.out, kit, make(kit))
        return
    context = multiprocessing.get_context("fork")
    barrier = context.Barrier(args.workers + 1)
    workers = [
        context.Process(target=work, args=(start, args, index, barrier), daemon=True)
        for index in range(args.workers)
    ]
    for worker in workers:
        worker.start()
    seconds = []
    # The first round warms up.
    for _ in range(args.rounds + 1):
        barrier.wait(600)
        begin = time.perf_counter()
        barrier.wait(3600)
        seconds.append(time.perf_counter() - begin)
    for worker in workers:
        worker.join()
    if any(worker.exitcode for worker in workers):
        sys.exit("a worker failed")
    report(len(folders_of(args.data, args.limit)), seconds[1:])
