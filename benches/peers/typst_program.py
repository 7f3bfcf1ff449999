"""The typst program, run once for each order, with the templates of this program.

One run makes the three files: typst can write a bundle of documents. The program
gets each document's data under a name of its own, since one run has one folder. The
feet of the pages, which this program puts on afterwards, are ordinary footers here.
"""

import os
import subprocess
import tempfile
from pathlib import Path

import harness
from measure import FONTS

TEMPLATES = FONTS.parent / "templates"
# The template of each file.
NAMES = {"paper": "paper", "labels": "labels", "packing": "slip"}
# Any moment, since PDF/A wants one and the same order gives the same bytes.
MOMENT = "1790000000"

KIT = """\
#import "theme.typ": fonts, hairline
#let foot(setting) = context {
  set text(font: fonts, size: 12pt, number-width: "tabular", fallback: false)
  set par(leading: 0.4em)
  line(length: 100%, stroke: hairline)
  v(1.2mm, weak: true)
  grid(
    columns: (1fr, auto),
    column-gutter: 4mm,
    row-gutter: 0.4em,
    setting.foot, setting.numbers.at(counter(page).get().first() - 1),
    grid.cell(colspan: 2, setting.foot-more),
  )
}
#let paper = json("paper.json")
#let labels = json("labels.json")
#let slip = json("packing.json")
#set page(footer-descent: 3mm)
#document("paper.pdf", title: paper.page.title, {
  set page(footer: foot(paper.page))
  include "paper.typ"
})
#document("labels.pdf", title: labels.title, include "labels.typ")
#document("packing.pdf", title: slip.title, {
  set page(footer: foot(slip.page))
  include "slip.typ"
})
"""


def stage(folder: Path, data: Path) -> None:
    """Templates, logo and the file that names the three documents."""
    kinds = {template: kind for kind, template in NAMES.items()}
    for template in TEMPLATES.glob("*.typ"):
        text = template.read_text()
        if kind := kinds.get(template.stem):
            text = text.replace('json("data.json")', f'json("{kind}.json")')
        (folder / template.name).write_text(text)
    (folder / "families.json").write_text("[]")
    (folder / "logo.svg").write_bytes((data / "logo.svg").read_bytes())
    (folder / "kit.typ").write_text(KIT)


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
        for kind in NAMES:
            (folder / f"{kind}.json").write_bytes(kit["raw"][kind])
        codes = [label["qr"] for sheet in kit["labels"]["sheets"] for label in sheet]
        (folder / "modules.bin").write_bytes(b"".join(bytes(code["pixels"]) for code in codes))
        done = subprocess.run(command, capture_output=True, text=True)
        if done.returncode:
            raise RuntimeError(done.stderr)
        return {kind: (folder / "out" / f"{kind}.pdf").read_bytes() for kind in NAMES}

    return make


if __name__ == "__main__":
    harness.run(start)
