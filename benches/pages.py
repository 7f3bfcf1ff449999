"""Compares the pages of a peer with this program's: the same words, as often, on as
many pages of the same size, and the same QR codes.

    python pages.py --ours DATA --theirs OUT --name weasyprint

Words are those of pdftotext. Hyphens are left out of them: a name may be broken after
one. Codes are read with zxing-cpp from pages drawn at 300 dots to the inch.

A benchmark of empty pages is worth nothing, so this ends with 1 at any difference.
"""

import argparse
import json
import re
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

FILES = ["paper.pdf", "labels.pdf", "packing.pdf"]
# How much a page's side may differ, in points.
CLOSE = 0.5


def words(pdf: Path) -> Counter:
    text = subprocess.run(
        ["pdftotext", str(pdf), "-"], capture_output=True, text=True, check=True
    ).stdout
    return Counter(re.findall(r"[^\s\-‐–—]+", text))


def sizes(pdf: Path) -> list[tuple[float, float]]:
    text = subprocess.run(
        ["pdfinfo", "-f", "1", "-l", "-1", str(pdf)], capture_output=True, text=True, check=True
    ).stdout
    return [
        (float(w), float(h)) for w, h in re.findall(r"Page +\d+ size: +([\d.]+) x ([\d.]+)", text)
    ]


def codes(pdf: Path) -> list[str]:
    """What the QR codes of a file say, in order."""
    # Only the comparison's own Python has these.
    import zxingcpp
    from PIL import Image

    found = []
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run(
            ["pdftoppm", "-r", "300", "-gray", str(pdf), f"{folder}/page"],
            check=True,
            capture_output=True,
        )
        for page in sorted(Path(folder).iterdir()):
            with Image.open(page) as image:
                found += [code.text for code in zxingcpp.read_barcodes(image)]
    return sorted(found)


def codes_of(data: Path) -> list[str]:
    """The codes of the labels that a kit has."""
    sheets = json.loads(data.read_text())["sheets"]
    return sorted(label["code"] for sheet in sheets for label in sheet)


def differences(ours: Path, theirs: Path) -> list[str]:
    """What is on other pages than it should be, in words."""
    found = []
    for name in FILES:
        one, other = ours / name, theirs / name
        place = f"{theirs.name}/{name}"
        if not other.exists():
            found.append(f"{place} is not there")
            continue
        wanted, has = words(one), words(other)
        if lost := wanted - has:
            found.append(f"{place} lacks {short(lost)}")
        if more := has - wanted:
            found.append(f"{place} has more {short(more)}")
        size, other_size = sizes(one), sizes(other)
        same = len(size) == len(other_size) and all(
            abs(a - b) <= CLOSE for pair in zip(size, other_size) for a, b in zip(*pair)
        )
        if not same:
            found.append(f"{place} has pages of {other_size}, expected {size}")
    wanted, has = codes_of(ours / "labels.json"), codes(theirs / "labels.pdf")
    if wanted != has:
        found.append(f"{theirs.name}/labels.pdf has the codes {has}, expected {wanted}")
    return found


def short(words: Counter) -> str:
    listed = [f"{word} ({count})" if count > 1 else word for word, count in words.most_common(12)]
    return ", ".join(listed) + (f" and {len(words) - 12} others" if len(words) > 12 else "")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--ours", type=Path, required=True)
    parser.add_argument("--theirs", type=Path, required=True)
    parser.add_argument("--name", required=True)
    args = parser.parse_args()
    kits = sorted(path.name for path in args.theirs.iterdir() if path.is_dir())
    if not kits:
        sys.exit(f"{args.name} made no kit")
    found = [text for kit in kits for text in differences(args.ours / kit, args.theirs / kit)]
    if found:
        sys.exit(f"the pages of {args.name} are not those of this program:\n" + "\n".join(found))


if __name__ == "__main__":
    main()
