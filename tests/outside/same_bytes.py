"""Compare what a build makes with the hashes that are kept in the repository.

What it checks
    Kits that were made, and print runs that this makes, have the SHA-256 that
    `tests/same_bytes.txt` gives. The Rust tests ask the same of the build for
    tests, so the two builds come to the same bytes.

Against which outside sources
    Python `hashlib` (OpenSSL) instead of the crate `sha2`.

With --under the program is run by another one, such as an emulator of an older
processor, to see that no byte depends on what the processor can do:

    python same_bytes.py --binary PATH --kits kits
    python same_bytes.py --binary PATH --under "qemu-x86_64 -cpu Nehalem"
"""

import argparse
import hashlib
import shlex
import subprocess
import sys
import tempfile
from pathlib import Path

from oracle import Tally, check_binary_path

ROOT = Path(__file__).parents[2]
KEPT = ROOT / "tests" / "same_bytes.txt"
# The same as in tests/same_bytes.rs.
SETTINGS = "--today 2026-09-01 --now 2026-11-25T08:00:00Z --kits-per-file 4 --archive".split()
RUNS = {"run": [], "shard-1": ["--shard", "1/2"], "shard-2": ["--shard", "2/2"]}


def kept_hashes():
    """{scene: {name: hash}}"""
    found = {}
    for line in KEPT.read_text(encoding="utf-8").splitlines():
        if line.startswith("#"):
            continue
        digest, name = line.split("  ", 1)
        scene, inner = name.split("/", 1)
        found.setdefault(scene, {})[inner] = digest
    return found


def hashes_in(folder):
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file() and ".run" not in path.relative_to(folder).parts
    }


def compare(tally, scene, kept, found):
    for name in sorted(kept.keys() | found.keys()):
        want, got = kept.get(name, "no such file"), found.get(name, "no such file")
        lines = [] if want == got else [f"kept   {want}", f"found  {got}"]
        tally.record(f"{scene}/{name}", lines)


def make(command, arguments):
    """Exit code 1 says that an order is on hold, as some of the demo orders are."""
    done = subprocess.run(
        [*command, *map(str, arguments)],
        cwd=ROOT, capture_output=True, check=False, timeout=3600, stdin=subprocess.DEVNULL,
    )
    if done.returncode not in (0, 1):
        sys.exit(f"exit code {done.returncode}\n{done.stderr.decode()}")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--binary", required=True)
    parser.add_argument("--kits", help="demo kits that were made already")
    parser.add_argument("--under", default="", help="the program that runs the binary")
    options = parser.parse_args()
    command = [*shlex.split(options.under), str(check_binary_path(options.binary))]
    kept = kept_hashes()
    if set(kept) != {"make", *RUNS}:
        sys.exit(f"{KEPT} speaks of {sorted(kept)}")
    tally = Tally(20)
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        kits = Path(options.kits) if options.kits else folder / "make"
        if not options.kits:
            make(command, ["make", "demo-orders", "--out", kits, *SETTINGS[:2]])
        compare(tally, "make", kept["make"], hashes_in(kits))
        for scene, more in RUNS.items():
            out = folder / scene
            orders = "demo-orders/export/orders.csv"
            make(command, ["run", orders, "--out", out, *SETTINGS, *more])
            compare(tally, scene, kept[scene], hashes_in(out))
    if tally.failed:
        print(
            "If this was meant, look at the pages, then keep the new hashes with\n"
            "  KITWRIGHT_RENEW_HASHES=1 cargo test --test same_bytes"
        )
    return tally.close()


if __name__ == "__main__":
    sys.exit(main())
