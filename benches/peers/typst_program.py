"""The typst program, run once for each order, with the templates of this program.

One run makes the three files: typst can write a bundle of documents. The program
gets each document's data under a name of its own, since one run has one folder.
"""

import os
import subprocess
import tempfile
from pathlib import Path

import harness
from measure import FONTS

TEMPLATES = FONTS.parent / "templates"
TITLES = {
    "paper": 'json("paper.json").kits.first().page.title',
    "labels": 'json("labels.json").title',
    "packing": 'json("packing.json").slips.first().title',
}
# Any moment, since PDF/A wants one and the same order gives the same bytes.
MOMENT = "1790000000"


def stage(folder: Path, data: Path) -> None:
    """Templates, logo and the file that names the three documents."""
    for template in TEMPLATES.glob("*.typ"):
        text = template.read_text()
        text = text.replace('json("data.json")', f'json("{template.stem}.json")')
        (folder / template.name).write_text(text)
    (folder / "families.json").write_text("[]")
    (folder / "logo.svg").write_bytes((data / "logo.svg").read_bytes())
    documents = [
        f'#document("{name}.pdf", title: {title}, include "{name}.typ")\n' for name, title in TITLES.items()
    ]
    (folder / "kit.typ").write_text("".join(documents))


def start(data: Path) -> harness.Make:
    # Lives as long as the worker.
    keep = tempfile.TemporaryDirectory()
    folder = Path(keep.name)
    stage(folder, data)
    program = os.environ.get("TYPST", "typst")
    command = [
        program, "compile", "--features", "bundle", "--format", "bundle",
        "--pdf-standard", "ua-1,a-3a", "--creation-timestamp", MOMENT,
        "--ignore-system-fonts", "--ignore-embedded-fonts", "--font-path", str(FONTS),
        "--root", str(folder), "--jobs", "1", str(folder / "kit.typ"), str(folder / "out"),
    ]  # fmt: skip

    def make(kit: harness.Kit, keep=keep) -> dict[str, bytes]:
        for name in TITLES:
            (folder / f"{name}.json").write_bytes(kit["raw"][name])
        done = subprocess.run(command, capture_output=True, text=True)
        if done.returncode:
            raise RuntimeError(done.stderr)
        return {name: (folder / "out" / f"{name}.pdf").read_bytes() for name in TITLES}

    return make


if __name__ == "__main__":
    harness.run(start)
