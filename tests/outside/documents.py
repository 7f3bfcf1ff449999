"""Read finished kits with other people's readers, and compare them with their plans.

What it checks, on every kit of the demo orders
    Each PDF is sound, accessible as far as a machine can tell, asks the printer
    for no scaling and the right sides, carries its order, embeds its fonts and
    keeps all text on the page. Each label keeps its text inside its die cut and
    has one QR code that says its specimen code. Each planned time is on paper.
    The labels of one order are made again on every stock, and every stock's
    alignment page is read too. Last, how hard the English words are to read.

Against which outside sources
    * qpdf: the syntax of ISO 32000.
    * PyPI `pdfua`: its machine-checkable part of PDF/UA-1 (ISO 14289-1).
    * PyPI `pikepdf` for the catalog, XMP and attachments: ISO 32000-1 table 150
      (viewer preferences), ISO 19005-3 section 6.6.4 and ISO 14289-1 section 5
      (how PDF/A-3a and PDF/UA-1 name themselves), ISO 19005-3 section 6.8
      (embedded files).
    * poppler (pdftotext, pdffonts, pdftoppm) for text, fonts and pixels.
    * zbar for QR codes (ISO/IEC 18004).
    * PyPI `textstat` for the Flesch-Kincaid grade (Kincaid and others, 1975).

It shares no code with the program. Needs Python 3.11, requirements.txt,
qpdf, poppler-utils and zbar-tools.

    python documents.py --binary PATH --kits DIR --orders demo-orders
"""

import argparse
import re
import subprocess
import sys
import tempfile
import tomllib
import warnings
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree

import pdfua
import pdfua.rules.structure
import pikepdf
from PIL import Image

from oracle import Tally, check_binary_path, plans_by_order, run_plan

with warnings.catch_warnings():
    # textstat still imports a deprecated part of setuptools, and says so.
    warnings.simplefilter("ignore")
    import textstat

REPOSITORY = Path(__file__).resolve().parents[2]
WORDS = REPOSITORY / "templates" / "words"
STOCKS = REPOSITORY / "templates" / "stock"

POINTS_PER_MM = 72 / 25.4
# Below what a printer can place, above what rounding to 1/100 point does.
TOLERANCE = 0.05 * POINTS_PER_MM

SHEET_DPI = 300  # the coarsest laser printer
ROLL_DPI = 203  # a thermal label printer
FINE_DPI = 600

HARDEST_GRADE = 6.5
HARDEST_SHOWN = 5


# -------------------------------------------------------------------- tools


def run(*command):
    """Runs a tool to its end; its output is text."""
    return subprocess.run(
        [str(part) for part in command],
        capture_output=True, check=False, encoding="utf-8", stdin=subprocess.DEVNULL,
        timeout=300,
    )


def run_well(*command):
    """Output of a tool that must not fail."""
    done = run(*command)
    if done.returncode != 0:
        raise RuntimeError(f"{command[0]} failed with {done.returncode}: {done.stderr.strip()}")
    return done.stdout


def said(done):
    """What a tool said on both streams, as lines."""
    return [line for line in (done.stdout + done.stderr).splitlines() if line.strip()]


# ------------------------------------------------------------------- orders


@dataclass(frozen=True)
class Stock:
    """A label stock, in points; cells count row by row, then page by page."""

    name: str
    is_roll: bool
    columns: int
    rows: int
    width: float
    height: float
    inset: float
    pitch_x: float
    pitch_y: float
    left: float
    top: float

    def cell(self, index):
        """(page from 0, left, top, right, bottom) of the label number `index`, from 0."""
        page, on_page = divmod(index, self.columns * self.rows)
        row, column = divmod(on_page, self.columns)
        left = self.left + column * self.pitch_x
        top = self.top + row * self.pitch_y
        return page, left, top, left + self.width, top + self.height

    def dpi(self):
        return ROLL_DPI if self.is_roll else SHEET_DPI


def load_stock(name):
    data = tomllib.loads((STOCKS / f"{name}.toml").read_text(encoding="utf-8"))

    def points(key, default=0.0):
        return data.get(key, default) * POINTS_PER_MM

    return Stock(
        name=name,
        is_roll=data["medium"] == "roll",
        columns=data.get("columns", 1),
        rows=data.get("rows", 1),
        width=points("label_width"),
        height=points("label_height"),
        inset=points("inset", 1.5),
        pitch_x=points("pitch_x", data["label_width"]),
        pitch_y=points("pitch_y", data["label_height"]),
        left=points("left"),
        top=points("top"),
    )


def stock_names():
    return sorted(path.stem for path in STOCKS.glob("*.toml"))


@dataclass(frozen=True)
class Kit:
    """One order, what was planned for it, and where its documents should be."""

    number: str
    source: Path
    language: str
    packing_language: str
    clock: str
    stock: Stock
    slots: list
    is_held: bool
    folder: Path

    def pdf(self, kind):
        return self.folder / f"{kind}.pdf"


SHORT_TIME = re.compile(r"(?<![\d:])(\d\d:\d\d)(?=\s*(?:[,\]#]|$))", re.MULTILINE)


def read_toml(path):
    """TOML 1.1 allows 12:30; Python 3.11 reads TOML 1.0, which wants 12:30:00."""
    return tomllib.loads(SHORT_TIME.sub(r"\1:00", path.read_text(encoding="utf-8")))


def load_kits(binary, orders, kits, tally):
    """Every order of the folder with its plan, in name order."""
    plans, complaints = run_plan(binary, [orders])
    tally.record("the plans of all orders are printed", complaints)
    planned = plans_by_order(plans)
    lab = read_toml(orders / "lab.toml")
    loaded = []
    for path in sorted(orders.glob("*.toml")):
        if path.name == "lab.toml":
            continue
        order = read_toml(path)
        plan = planned.get(order["order"])
        if plan is None:
            tally.record(f"{path.name}: has a plan", ["no plan was printed for this order"])
            continue
        loaded.append(make_kit(path, order, lab, plan, kits))
    return loaded


def make_kit(path, order, lab, plan, kits):
    lab_language = lab.get("language", "en")
    language = order.get("language", lab_language)
    usual_clock = "12h" if language == "en" else "24h"
    return Kit(
        number=order["order"],
        source=path,
        language=language,
        packing_language=lab_language,
        clock=order.get("clock", lab.get("clock", usual_clock)),
        stock=load_stock(order.get("stock", lab["stock"])),
        slots=plan["slots"],
        is_held=any(finding["level"] == "hold" for finding in plan["findings"]),
        folder=kits / order["order"],
    )


# ------------------------------------------------------- any PDF: its syntax


def syntax_faults(path):
    """qpdf: 0 is sound, 3 is sound with warnings, 2 is broken."""
    done = run("qpdf", "--check", path)
    return [] if done.returncode == 0 else [f"exit status {done.returncode}", *said(done)]


# --------------------------------------------------- any PDF: accessibility


def as_integer(value):
    return value if isinstance(value, int) and not isinstance(value, bool) else None


# pdfua 0.1.3 asks an array whether it is an integer, to which pikepdf answers
# with an error, and the rule on empty headings is then skipped for any heading
# whose content is an array. This is that one question, asked so that it works.
pdfua.rules.structure.as_integer = as_integer


def accessibility_faults(path):
    """PyPI pdfua. A rule it could not apply has not been passed, so it counts too."""
    report = pdfua.validate(str(path))
    findings = [
        f"{finding.rule_id} {finding.severity.name.lower()}, "
        f"{finding.location.describe()}: {finding.message}"
        for finding in report.findings
    ]
    skips = [f"{skip.rule_id} was not applied: {skip.skipped_reason}" for skip in report.skipped]
    return findings + skips


# ------------------------------------------- any PDF: what it says of itself

SIDES = {"paper": "/DuplexFlipLongEdge", "labels": "/Simplex", "packing": "/Simplex"}

PDF_A = "{http://www.aiim.org/pdfa/ns/id/}"
PDF_UA = "{http://www.aiim.org/pdfua/ns/id/}"
DUBLIN_CORE = "{http://purl.org/dc/elements/1.1/}"


def expect(what, wanted, found):
    return [] if wanted == found else [f"{what}: expected {wanted!r}, got {found!r}"]


def printing_faults(path, kind):
    """ISO 32000-1 table 150."""
    with pikepdf.open(path) as pdf:
        preferences = pdf.Root.get("/ViewerPreferences", pikepdf.Dictionary())
        scaling = str(preferences.get("/PrintScaling"))
        sides = str(preferences.get("/Duplex"))
    return expect("PrintScaling", "/None", scaling) + expect("Duplex", SIDES[kind], sides)


def identity_faults(path, language):
    """XMP names of ISO 19005-3 and ISO 14289-1; language and title of ISO 32000-1."""
    with pikepdf.open(path) as pdf:
        found_language = str(pdf.Root.get("/Lang"))
        info_title = str(pdf.docinfo.get("/Title", ""))
        with pdf.open_metadata() as xmp:
            names = [xmp.get(f"{PDF_A}part"), xmp.get(f"{PDF_A}conformance"),
                     xmp.get(f"{PDF_UA}part")]
            xmp_title = xmp.get(f"{DUBLIN_CORE}title", "")
    faults = expect("PDF/A part, PDF/A conformance, PDF/UA part", ["3", "A", "1"], names)
    faults += expect("Lang", language, found_language)
    if not info_title.strip():
        faults.append("there is no title")
    return faults + expect("the title in XMP", info_title, xmp_title)


def attachment_faults(path, kit):
    """The order file, byte for byte (ISO 19005-3 allows any file in a PDF/A-3)."""
    with pikepdf.open(path) as pdf:
        files = {name: spec.get_file().read_bytes() for name, spec in pdf.attachments.items()}
    name = f"{kit.number}.toml"
    faults = expect("attached files", [name], sorted(files))
    if not faults and files[name] != kit.source.read_bytes():
        faults.append(f"{name} is not {kit.source.name}")
    return faults


def font_faults(path):
    """pdffonts: its last five columns are embedded, subset, Unicode map, object, generation."""
    rows = run_well("pdffonts", path).splitlines()[2:]
    faults = [] if rows else ["no font at all"]
    for row in rows:
        embedded, _, unicode_map = row.split()[-5:-2]
        if embedded != "yes":
            faults.append(f"not embedded: {row}")
        if unicode_map != "yes":
            faults.append(f"no ToUnicode map: {row}")
    return faults


# ---------------------------------------------------- any PDF: where words are


@dataclass(frozen=True)
class Word:
    """A word and its box in points, from the top left corner of its page."""

    page: int
    left: float
    top: float
    right: float
    bottom: float
    text: str

    def __str__(self):
        corners = [self.left, self.top, self.right, self.bottom]
        box = " ".join(f"{corner / POINTS_PER_MM:.2f}" for corner in corners)
        return f"page {self.page + 1}, `{self.text}` at {box} mm"

    def is_inside(self, left, top, right, bottom):
        return (
            self.left >= left - TOLERANCE
            and self.top >= top - TOLERANCE
            and self.right <= right + TOLERANCE
            and self.bottom <= bottom + TOLERANCE
        )


# pdftotext drops what lies wholly off the page. So it is given a wider page.
MARGIN = 2000


def find_words(path):
    """(words, page sizes), by pdftotext from a copy with wider pages."""
    with tempfile.TemporaryDirectory(prefix="words-") as folder:
        wide = Path(folder) / "wide.pdf"
        sizes = widen(path, wide)
        document = ElementTree.fromstring(run_well("pdftotext", "-bbox", wide, "-"))
    words = []
    for number, page in enumerate(elements(document, "page")):
        words += [make_word(number, word) for word in elements(page, "word")]
    return words, sizes


def widen(path, wide):
    """Writes the copy and returns the true page sizes."""
    sizes = []
    with pikepdf.open(path) as pdf:
        for page in pdf.pages:
            left, bottom, right, top = (float(side) for side in page.mediabox)
            sizes.append((right - left, top - bottom))
            box = [left - MARGIN, bottom - MARGIN, right + MARGIN, top + MARGIN]
            page.mediabox = pikepdf.Array(box)
            page.cropbox = pikepdf.Array(box)
        pdf.save(wide)
    return sizes


def elements(parent, name):
    return parent.iter(f"{{http://www.w3.org/1999/xhtml}}{name}")


def make_word(page, element):
    edges = (float(element.get(key)) - MARGIN for key in ("xMin", "yMin", "xMax", "yMax"))
    return Word(page, *edges, element.text or "")


def off_page_faults(path):
    words, sizes = find_words(path)
    outside = [word for word in words if not word.is_inside(0, 0, *sizes[word.page])]
    return [f"off the page: {word}" for word in outside]


# ------------------------------------------------------------------- labels


def cell_of(word, stock):
    """The label that the word lies on, or none if it comes too near an edge."""
    pages_before = word.page * stock.columns * stock.rows
    for index in range(pages_before, pages_before + stock.columns * stock.rows):
        _, left, top, right, bottom = stock.cell(index)
        # Only sideways does a word's box end where its ink ends; above and below
        # it is as tall as the font, so there it may reach into the inset.
        if word.is_inside(left + stock.inset, top, right - stock.inset, bottom):
            return index
    return None


def is_ruler(word, stock):
    """The words beside the 100 mm line, above all labels."""
    return not stock.is_roll and word.bottom <= stock.top + TOLERANCE


def cell_faults(path, stock, slots):
    """Each word on one label, nothing on spare labels, each code on its own label."""
    faults = []
    on_label = {index: [] for index in range(len(slots))}
    for word in find_words(path)[0]:
        index = cell_of(word, stock)
        if index in on_label:
            on_label[index].append(word.text)
        elif index is not None:
            faults.append(f"on label {index + 1}, which should be empty: {word}")
        elif not is_ruler(word, stock):
            faults.append(f"not inside one label and its inset: {word}")
    for index, slot in enumerate(slots):
        if slot["code"] not in on_label[index]:
            faults.append(f"label {index + 1} does not show {slot['code']}: {on_label[index]}")
    return faults


def code_faults(path, stock, slots, dpi):
    """zbar on each label alone: one QR code, the slot's own, and nothing else."""
    faults = []
    with tempfile.TemporaryDirectory(prefix="codes-") as folder:
        pages = render(path, dpi, Path(folder))
        for index, slot in enumerate(slots):
            crop = Path(folder) / f"label-{index + 1}.png"
            cut_out(pages, stock.cell(index), dpi).save(crop)
            wanted = [f"QR-Code:{slot['code']}"]
            faults += expect(f"label {index + 1}, {slot['slot']}", wanted, decode(crop))
    return faults


def render(path, dpi, folder):
    """The pages as grey images, in order."""
    run_well("pdftoppm", "-r", dpi, "-gray", path, folder / "page")
    files = folder.glob("page-*.pgm")
    return sorted(files, key=lambda file: int(file.stem.rpartition("-")[2]))


def cut_out(pages, cell, dpi):
    page, *box = cell
    with Image.open(pages[page]) as image:
        return image.crop(tuple(round(edge / 72 * dpi) for edge in box))


def decode(image):
    """Symbology and text of everything that zbar sees."""
    done = run("zbarimg", "--quiet", "--nodbus", image)
    return done.stdout.splitlines()


# ------------------------------------------------------------- the catalogs

SELECTION = re.compile(r"\{\s*\$\w+\s*->.*?\*\[\w+\]\s*(.*?)\n\s*\}", re.DOTALL)


def read_catalog(language):
    """{message: text} of a Fluent file; of a choice, the default."""
    text = (WORDS / f"{language}.ftl").read_text(encoding="utf-8")
    messages, current = {}, None
    for line in text.splitlines():
        start = re.match(r"([a-z][\w-]*) =\s*(.*)", line)
        if start:
            current = start[1]
            messages[current] = start[2]
        elif line.startswith(" ") and current:
            messages[current] += "\n" + line
        else:
            current = None
    return {key: SELECTION.sub(r"\1", text).strip() for key, text in messages.items()}


def word_of(message, language):
    return read_catalog(language)[message]


# -------------------------------------------------------------- times on paper

HALVES = {"en": ("am", "pm"), "es": ("a. m.", "p. m.")}
NO_BREAK_SPACES = re.compile("[\u00a0\u202f]")


def time_text(wall, kit):
    """The plan's hh:mm as this patient writes it; noon and midnight are words."""
    hour, minute = int(wall[:2]), wall[3:]
    if kit.clock == "24h":
        return f"{hour:02}:{minute}"
    if minute == "00" and hour % 12 == 0:
        return noon_text(kit.language) if hour else midnight_text(kit.language)
    return f"{(hour + 11) % 12 + 1}:{minute} {HALVES[kit.language][hour // 12]}"


def noon_text(language):
    return "12 noon" if language == "en" else word_of("clock-noon", language)


def midnight_text(language):
    return "12 midnight" if language == "en" else word_of("clock-midnight", language)


def planned_walls(slots):
    """Each time to empty or to collect, the make-up times too, as {hh:mm: what for}."""
    walls = {}
    for slot in slots:
        for prefix, moments in (("", slot), ("repeat ", slot["repeat"] or {})):
            for key in ("empty_at", "collect_at"):
                if moments.get(key):
                    wall = moments[key].partition("T")[2][:5]
                    walls.setdefault(wall, f"{slot['slot']} {prefix}{key}")
    return walls


def sheet_text(path, kit):
    """poppler's text of the instruction sheet, with plain spaces.

    The sheet ends where the drinks table begins. What follows would hide a
    missing time: its table for a changed day holds nearly every time there is.
    """
    text = NO_BREAK_SPACES.sub(" ", run_well("pdftotext", "-enc", "UTF-8", path, "-"))
    lines = [" ".join(line.split()) for line in text.splitlines()]
    title = word_of("fluids-title", kit.language)
    if title not in lines:
        raise ValueError(f"there is no heading `{title}` after the sheet")
    return " ".join(lines[: lines.index(title)])


def missing_times(path, kit):
    """Each planned time stands on the instruction sheet."""
    text = sheet_text(path, kit)
    faults = []
    for wall, purpose in planned_walls(kit.slots).items():
        printed = time_text(wall, kit)
        # "5:15 pm" must not be found in "15:15 pm", nor "12:30" in "12:300".
        if not re.search(rf"(?<![\d:]){re.escape(printed)}(?!\d)", text):
            faults.append(f"{purpose} {wall} is not on the sheet as `{printed}`")
    return faults


# ---------------------------------------------------------------- readability

PATIENT_SECTIONS = (
    "sheet-", "first-", "step-", "how-", "med-", "wrong-", "repeat-", "care-", "call-",
    "fluids-", "list-",
)

# No full stop inside a value: it would cut a sentence short and flatter the grade.
SAMPLES = {
    "amount": "350 mL (1½ cups)",
    "anchor": "dinner",
    "before": "1",
    "card": "4",
    "date": "Friday, October 16",
    "day": "Thursday, October 15",
    "emergency": "911",
    "form": "tablet",
    "from": "12:30 pm",
    "language": "Spanish",
    "medicine": "progesterone (capsule)",
    "minutes": "10",
    "name": "progesterone",
    "note": "Take it with a small snack",
    "offset": "2 hours",
    "phone": "555-0100",
    "provider": "Doctor Halloran",
    "by": "R. Adeyemi",
    "medicines": "estradiol",
    "next": "4",
    "time": "7:30 am",
    "unit": "lb",
    "until": "3:15 pm",
    "usual": "9:00 pm",
    "weight": "150 lb",
    "when": "Friday, October 16, 6:30 am",
    "what": "dinner and bedtime",
}

VARIABLE = re.compile(r"\{\s*\$(\w+)\s*\}")


def fill_in(text, unknown):
    def sample(match):
        if match[1] not in SAMPLES:
            unknown.add(match[1])
        return SAMPLES.get(match[1], match[1])

    return VARIABLE.sub(sample, text)


def patient_sentences(unknown):
    """Every whole sentence that the catalog says to a patient."""
    messages = read_catalog("en").items()
    chosen = [text for key, text in messages if key.startswith(PATIENT_SECTIONS)]
    filled = [fill_in(text, unknown) for text in chosen if text.endswith(".")]
    return [sentence for text in filled for sentence in re.split(r"(?<=[.?!])\s+", text)]


def reading_faults():
    unknown = set()
    sentences = patient_sentences(unknown)
    grade = textstat.flesch_kincaid_grade(" ".join(sentences))
    show_reading(sentences, grade)
    faults = [f"no sample value for the variable `{name}`" for name in sorted(unknown)]
    if not sentences:
        faults.append("there are no sentences")
    if grade > HARDEST_GRADE:
        faults.append(f"grade {grade} is above {HARDEST_GRADE}")
    return faults


def show_reading(sentences, grade):
    # textstat does not count sentences of one or two words.
    whole = {sentence for sentence in sentences if textstat.lexicon_count(sentence) > 2}
    hardest = sorted(whole, key=lambda text: (-textstat.flesch_kincaid_grade(text), text))
    print(f"Flesch-Kincaid grade {grade} over {len(sentences)} sentences; the hardest:")
    for sentence in hardest[:HARDEST_SHOWN]:
        print(f"  {textstat.flesch_kincaid_grade(sentence):5.1f}  {sentence}")


# ------------------------------------------------------------------- the run


def attempt(check, *arguments):
    """The faults a check finds; a check that cannot be made has found one."""
    try:
        return check(*arguments)
    except Exception as fault:  # whatever a reader throws at a bad file
        return [f"the check itself failed: {type(fault).__name__}: {fault}"]


def check_any_pdf(path, title, tally):
    """What holds for every PDF that the program writes."""
    tally.record(f"{title}: sound", attempt(syntax_faults, path))
    tally.record(f"{title}: fonts", attempt(font_faults, path))
    tally.record(f"{title}: text on the page", attempt(off_page_faults, path))


def check_document(kit, kind, tally):
    path, title = kit.pdf(kind), f"{kit.number}/{kind}.pdf"
    if not path.is_file():
        tally.record(f"{title}: was made", ["there is no such file"])
        return
    # A sheet of labels may be of several patients; each label has its own language.
    language = kit.language if kind == "paper" else kit.packing_language
    check_any_pdf(path, title, tally)
    tally.record(f"{title}: accessible", attempt(accessibility_faults, path))
    tally.record(f"{title}: print settings", attempt(printing_faults, path, kind))
    tally.record(f"{title}: identity", attempt(identity_faults, path, language))
    tally.record(f"{title}: its order", attempt(attachment_faults, path, kit))


def check_labels(path, title, kit, stock, dpi, tally):
    tally.record(f"{title}: words", attempt(cell_faults, path, stock, kit.slots))
    codes = attempt(code_faults, path, stock, kit.slots, dpi)
    tally.record(f"{title}: QR codes at {dpi} dpi", codes)


def check_kit(kit, tally):
    if kit.is_held:
        made = [f"{kit.folder.name} was made"] if kit.folder.exists() else []
        tally.record(f"{kit.number}: on hold, so not made", made)
        return
    for kind in SIDES:
        check_document(kit, kind, tally)
    if kit.pdf("paper").is_file():
        tally.record(f"{kit.number}: times", attempt(missing_times, kit.pdf("paper"), kit))
    if kit.pdf("labels").is_file():
        title = f"{kit.number}/labels.pdf"
        check_labels(kit.pdf("labels"), title, kit, kit.stock, kit.stock.dpi(), tally)


def check_fine_print(kit, tally):
    """A finer printer must not spoil the codes."""
    codes = attempt(code_faults, kit.pdf("labels"), kit.stock, kit.slots, FINE_DPI)
    tally.record(f"{kit.number}/labels.pdf: QR codes at {FINE_DPI} dpi", codes)


def check_stocks(binary, kit, tally):
    """One order's labels on every stock, and every stock's alignment page."""
    with tempfile.TemporaryDirectory(prefix="stocks-") as name:
        for stock in map(load_stock, stock_names()):
            folder = Path(name) / stock.name
            check_stock_labels(binary, kit, stock, folder, tally)
            check_alignment_page(binary, stock, folder / "ruler.pdf", tally)


def check_stock_labels(binary, kit, stock, folder, tally):
    made = run(binary, "make", kit.source, "--stock", stock.name, "--out", folder)
    title = f"{kit.number} on {stock.name}"
    tally.record(f"{title}: made", said(made) if made.returncode else [])
    path = folder / kit.number / "labels.pdf"
    if made.returncode == 0:
        check_any_pdf(path, title, tally)
        check_labels(path, title, kit, stock, stock.dpi(), tally)


def check_alignment_page(binary, stock, path, tally):
    path.parent.mkdir(exist_ok=True)
    made = run(binary, "stock", stock.name, "--ruler", path)
    title = f"alignment page of {stock.name}"
    tally.record(f"{title}: made", said(made) if made.returncode else [])
    if made.returncode == 0:
        check_any_pdf(path, title, tally)


def check_no_strangers(kits, folder, tally):
    known = {kit.number for kit in kits}
    strangers = sorted(path.name for path in folder.iterdir() if path.name not in known)
    tally.record("no kit without an order", strangers)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--binary", required=True, help="the program to check")
    parser.add_argument("--kits", required=True, type=Path, help="the folder `make` wrote to")
    parser.add_argument("--orders", required=True, type=Path, help="the folder it read")
    options = parser.parse_args()
    binary = check_binary_path(options.binary)
    tally = Tally(None)
    kits = load_kits(binary, options.orders, options.kits, tally)
    for kit in kits:
        check_kit(kit, tally)
    check_no_strangers(kits, options.kits, tally)
    made = [kit for kit in kits if not kit.is_held]
    if not made:
        tally.record("there are kits to read", ["no order gives a kit"])
    for kit in made[:1]:
        check_fine_print(kit, tally)
        check_stocks(binary, kit, tally)
    tally.record("English words: how hard to read", attempt(reading_faults))
    return tally.close()


if __name__ == "__main__":
    sys.exit(main())
