"""The three documents of a kit as HTML, for WeasyPrint and Chromium alike.

Takes the data that the program's own templates get. `pages.css` holds what all kits
share; what comes out here is a style of the kit's own (size of the page, its foot)
and a body.
"""

import base64
import struct
import zlib
from html import escape
from pathlib import Path

from measure import (
    ASCENT,
    DESCENT,
    FILES,
    FONTS,
    MM,
    Box,
    Image,
    Line,
    Text,
    label,
    ruler,
    timeline,
)

CSS = (Path(__file__).with_name("pages.css")).read_text()
SIZES = {"us-letter": (612.0, 792.0), "a4": (210 * MM, 297 * MM)}
FAMILY = {
    "regular": "",
    "bold": ";font-weight:bold",
    "mono": ";font-weight:bold;font-family:KitMono",
}


def font_faces(address) -> str:
    """The declarations of the fonts; `address` gives a file's URL."""
    faces = [("Kit", "normal", "regular"), ("Kit", "bold", "bold"), ("KitMono", "bold", "mono")]
    return "\n".join(
        f"@font-face {{ font-family: {family}; font-weight: {weight};"
        f" src: url({address(FONTS / FILES[face])}) }}"
        for family, weight, face in faces
    )


def one_bit_png(modules: int, pixels: list[int]) -> bytes:
    """A QR code as the smallest picture: one bit a module."""
    rows = bytearray()
    for start in range(0, modules * modules, modules):
        bits = 0
        for pixel in pixels[start : start + modules]:
            bits = bits << 1 | (pixel > 0)
        wide = (modules + 7) // 8
        rows += b"\0" + (bits << (wide * 8 - modules)).to_bytes(wide, "big")

    def chunk(kind: bytes, body: bytes) -> bytes:
        sum_of = zlib.crc32(kind + body)
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", sum_of)

    head = struct.pack(">IIBBBBB", modules, modules, 1, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(bytes(rows)))
        + chunk(b"IEND", b"")
    )


def drawn(shapes: list, width: float, height: float) -> str:
    """Shapes as one SVG for the lines and a placed element for each text: an SVG's
    own text is set less well."""
    lines, rest = [], []
    for shape in shapes:
        if isinstance(shape, Line):
            dash = ""
            if shape.dash:
                dash = f' stroke-dasharray="{shape.dash[0]:.2f} {shape.dash[1]:.2f}" stroke-linecap="round"'
            lines.append(
                f'<path d="M{shape.x1:.2f} {shape.y1:.2f}L{shape.x2:.2f} {shape.y2:.2f}"'
                f' stroke="#000" stroke-width="{shape.width:.2f}"{dash}/>'
            )
        elif isinstance(shape, Box):
            lines.append(
                f'<rect x="{shape.x:.2f}" y="{shape.y:.2f}" width="{shape.w:.2f}" height="{shape.h:.2f}"'
                f' rx="{shape.radius:.2f}" fill="#fff" stroke="#000" stroke-width="{shape.stroke}"/>'
            )
        elif isinstance(shape, Image):
            png = base64.b64encode(one_bit_png(shape.modules, shape.pixels)).decode()
            rest.append(
                f'<img src="data:image/png;base64,{png}" alt="{escape(shape.alt)}" style="left:{shape.x:.2f}pt;'
                f'top:{shape.y:.2f}pt;width:{shape.side:.2f}pt;height:{shape.side:.2f}pt">'
            )
        elif isinstance(shape, Text):
            top = shape.y - (1 + ASCENT - DESCENT) / 2 * shape.size
            rest.append(
                f'<div class="at" style="left:{shape.x:.2f}pt;top:{top:.2f}pt;font-size:{shape.size:.2f}pt'
                f'{FAMILY[shape.face]}">{escape(shape.text)}</div>'
            )
    svg = (
        f'<svg width="{width:.2f}pt" height="{height:.2f}pt" viewBox="0 0 {width:.2f} {height:.2f}">'
        f"{''.join(lines)}</svg>"
    )
    return svg + "".join(rest)


def quoted(text: str) -> str:
    """A text as a string of CSS."""
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def page_style(page: dict) -> str:
    """The size of the pages and what stands at their feet."""
    width, height = SIZES[page["paper"]]
    # "Page 1 of 5": the first figure is that of the page.
    before, after = page["numbers"][0].split("1", 1)
    foot = f'{quoted(page["foot"])} "\\A" {quoted(page["foot-more"])}'
    return (
        f"@page {{ size: {width}pt {height}pt; @bottom-left {{ content: {foot} }}"
        f" @bottom-right {{ content: {quoted(before)} counter(page) {quoted(after)} }} }}"
    )


def who(entries: list[dict]) -> str:
    labels = "".join(f"<td>{escape(entry['label'])}" for entry in entries)
    values = "".join(f"<td>{escape(entry['value'])}" for entry in entries)
    return f'<table class="who"><tr>{labels}<tr>{values}</table>'


def dashes(lines: list[str]) -> str:
    return "<ul>" + "".join(f"<li>{escape(line)}" for line in lines) + "</ul>"


def section(title: str, body: str) -> str:
    return f"<section><h2>{escape(title)}</h2>{body}</section>"


def row(cells: list[str], tag: str = "td") -> str:
    return "<tr>" + "".join(f"<{tag}>{cell}</{tag}>" for cell in cells) + "</tr>"


def header(columns: list[str], fit: int = 0) -> str:
    """A row of headings; the first `fit` columns are as wide as they must be."""
    cells = (
        f"<th{' class=fit' if index < fit else ''}>{escape(column)}</th>"
        for index, column in enumerate(columns)
    )
    return f"<tr>{''.join(cells)}</tr>"


def bold(text: str) -> str:
    return f"<b>{escape(text)}</b>"


def step(one: dict) -> str:
    day = f'<tr><td colspan="2" class="day">{escape(one["day"])}' if one["day"] else ""
    more = [escape(line) for line in one["more"]]
    if one["card"] is None:
        action = " ".join([escape(one["action"]), *more])
    else:
        action = (
            f'<table class="card"><tr><td><span>{escape(one["card"])}</span>'
            f"<td>{bold(one['action'])} {'<br>'.join(more)}</table>"
        )
    return f"{day}<tr><td>{escape(one['time'])}<td>{action}"


def sheet(data: dict, logo: str, area: float) -> str:
    first = [escape(line) for line in data["first"]["lines"]]
    shapes, height = timeline(data["timeline"], area)
    parts = [
        f'<div class="lab">{logo}{escape(data["lab"])}</div>',
        f'<table class="title"><tr><td><h1>{escape(data["title"])}</h1>'
        f'<td class="r b large">{escape(data["start"])}</table>',
        who(data["who"]),
        f'<div class="first">{bold(data["first"]["title"])} {" ".join(first[:-1])} <b>{first[-1]}</b></div>',
        *(f'<div class="before">{escape(line)}</div>' for line in data["before"]),
        f'<div class="line" role="img" aria-label="{escape(data["timeline"]["alt"])}" style="height:{height:.2f}pt;'
        f'margin:3pt 0">{drawn(shapes, area, height)}</div>',
        f"<p>{bold(data['remember'])}</p>",
    ]
    for part in data["parts"]:
        steps = "".join(step(one) for one in part["steps"])
        parts.append(section(part["heading"], f'<table class="steps">{steps}</table>'))
    lines = "".join(
        f"<tr><td>{escape(e['label'])}<td>{escape(e['value'])}" for e in data["how"]["lines"]
    )
    parts.append(section(data["how"]["title"], f'<table class="num">{lines}</table>'))
    medicines = data["medicines"]
    parts.append(f"<h2>{escape(medicines['title'])}</h2><p>{bold(medicines['rule'])}</p>")
    if medicines["rows"]:
        head = medicines["columns"]
        rows = "".join(
            row(
                [escape(r["medicine"]), escape(r["usual"]), escape(r["before"]), escape(r["after"])]
            )
            for r in medicines["rows"]
        )
        parts.append(
            f'<table class="t tight"><tr><th style="width:30%">{escape(head[0])}<th class="fit">{escape(head[1])}'
            f'<th style="width:27%">{escape(head[2])}<th style="width:27%">{escape(head[3])}</tr>{rows}</table>'
        )
    parts += [f'<div class="note">{escape(note)}</div>' for note in medicines["notes"]]
    parts.append(section(data["wrong"]["title"], dashes(data["wrong"]["lines"])))
    repeats = data["repeats"]
    rows = "".join(
        f'<tr><td class="fit b">{escape(r["card"])}<td class="fit">{escape(r["day"])}<td>{escape(r["empty"])}'
        f"<td>{escape(r['stop'])}<td class=b>{escape(r['collect'])}"
        for r in repeats["rows"]
    )
    table = (
        f'<table class="t narrow"><colgroup><col><col><col style="width:21%"><col style="width:21%">'
        f'<col style="width:30%"></colgroup>{header(repeats["columns"])}{rows}</table>'
    )
    parts.append(section(repeats["title"], table))
    parts += [f'<div class="note">{escape(note)}</div>' for note in repeats["notes"]]
    parts.append(section(data["care"]["title"], dashes(data["care"]["lines"])))
    calls = "".join(f'<div class="note">{escape(line)}</div>' for line in data["call"]["lines"])
    parts.append(section(data["call"]["title"], calls))
    return "".join(parts)


def side_by_side(tables: list[str], gap: float) -> str:
    cells = f'<td style="width:{gap}mm">'.join(f"<td>{table}" for table in tables)
    return f'<table class="cols"><tr>{cells}</table>'


def fluids(data: dict) -> str:
    rows = "".join(row([escape(r["label"]), bold(r["value"])]) for r in data["rows"])
    parts = [
        f"<h1>{escape(data['title'])}</h1>{who(data['who'])}<p>{escape(data['intro'])}</p>",
        f'<table class="t" style="table-layout:fixed">{header(data["columns"])}{rows}</table>',
        dashes(data["notes"]),
    ]
    if data["tables"]:

        def face(one: dict, key: str) -> str:
            return bold(one[key]) if one["own"] else escape(one[key])

        tables = [
            f'<table class="t look"><colgroup><col style="width:45.5%"><col></colgroup>{header(one["columns"])}'
            + "".join(row([face(r, "weight"), face(r, "amount")]) for r in one["rows"])
            + "</table>"
            for one in data["tables"]
        ]
        own = f'<div class="heavy large">{escape(data["own"])}</div>' if data["own"] else ""
        parts.append(
            section(
                data["table-title"], f"{own}<p>{escape(data['cup'])}</p>{side_by_side(tables, 5)}"
            )
        )
    elif data["no-table"]:
        parts.append(f'<div class="heavy">{escape(data["no-table"])}</div>')
    if data["changes"]["tables"]:

        def at(one: dict, key: str) -> str:
            return bold(one[key]) if one["planned"] else escape(one[key])

        tables = [
            f'<table class="t mid" style="table-layout:fixed">{header(one["columns"])}'
            + "".join(row([at(r, "if-at"), at(r, "then-at")]) for r in one["rows"])
            + "</table>"
            for one in data["changes"]["tables"]
        ]
        parts.append(section(data["changes"]["title"], side_by_side(tables, 4)))
    return "".join(parts)


TICK = '<span class="box"></span>'


def ticks(lines: list[str]) -> str:
    return (
        '<table class="ticks">'
        + "".join(f"<tr><td>{TICK}<td>{escape(x)}" for x in lines)
        + "</table>"
    )


def card_ticks(cards: list[dict], size: float) -> str:
    rows = "".join(
        f'<tr><td>{TICK}<td>{escape(c["label"])}<td class="code" style="font-size:{size}pt">{escape(c["value"])}'
        for c in cards
    )
    return f'<table class="ticks close" style="table-layout:fixed">{rows}</table>'


def checklist(data: dict) -> str:
    address = "".join(f"<p>{escape(line)}</p>" for line in data["address"])
    return (
        f"<h1>{escape(data['title'])}</h1>{who(data['who'])}"
        f'<p style="margin:6.6pt 0">{bold(data["intro"])}</p>{ticks(data["items"])}'
        + section(data["cards-title"], card_ticks(data["cards"], 12))
        + section(
            data["address-title"], f'{address}<p style="margin-top:9pt">{bold(data["keep"])}</p>'
        )
    )


def written(label_text: str) -> str:
    """A label and a line to write on."""
    label_cell = f"<td>{escape(label_text)}" if label_text else '<td style="padding-right:2mm">'
    return f'<table class="write"><tr>{label_cell}<td><div></div></table>'


def pairs(labels: list[str]) -> str:
    cells = [written(text) for text in labels]
    rows = "".join(
        f"<tr><td>{cells[i]}<td>{cells[i + 1] if i + 1 < len(cells) else ''}"
        for i in range(0, len(cells), 2)
    )
    return f'<table class="pair">{rows}</table>'


def information_card(data: dict) -> str:
    known = "".join(
        f'<span style="margin-right:8mm">{escape(e["label"])} {bold(e["value"])}</span>'
        for e in data["known"]
    )
    question, yes, no = (escape(text) for text in data["pregnant"])
    head = "".join(
        f'<th class="fit">{escape(c)}' if i < 3 else f'<th style="width:15.4%">{escape(c)}'
        for i, c in enumerate(data["columns"])
    )
    pens = "<td>" * (len(data["columns"]) - 3)
    rows = "".join(
        f'<tr><td class="fit b">{escape(r["card"])}<td class="fit code" style="font-size:10.8pt">{escape(r["code"])}'
        f'<td class="fit">{escape(r["planned"])}{pens}'
        for r in data["rows"]
    )
    return "".join(
        [
            f'<table class="title"><tr><td><h1>{escape(data["title"])}</h1>'
            f'<td class="r b">{escape(data["intro"])}</table>',
            who(data["who"]),
            f'<p style="margin-top:3.5pt">{known}</p>',
            pairs(data["blanks"][:-1]),
            written(data["blanks"][-1]),
            f'<p style="margin:6pt 0 3pt">{question}<span class="box" style="margin:0 2mm 0 4mm;vertical-align:-2pt">'
            f'</span>{yes}<span class="box" style="margin:0 2mm 0 6mm;vertical-align:-2pt"></span>{no}</p>',
            section(data["times-title"], f'<table class="t pen"><tr>{head}</tr>{rows}</table>'),
            pairs(data["night"]),
            written(data["drinks"]),
            written(""),
            written(""),
            f"<h2>{escape(data['medicines-title'])}</h2>",
            *(written(medicine) for medicine in data["medicines"]),
            written(data["other-medicines"]),
            written(""),
            written(data["sign"]),
            f'<div class="accession">{escape(data["accession"])}</div>',
        ]
    )


def paper(data: dict, logo: str) -> tuple[str, str]:
    """The style and the body of a kit's paper; `logo` is its SVG."""
    page = data["page"]
    area = SIZES[page["paper"]][0] - 30 * MM
    body = [
        sheet(data["sheet"], logo, area),
        f'<div class="new">{fluids(data["fluids"])}</div>',
        f'<div class="new">{checklist(data["checklist"])}</div>',
        f'<div class="new">{information_card(data["card"])}</div>',
    ]
    return page_style(page), "".join(body)


def labels(data: dict) -> tuple[str, str]:
    width, height = data["page-width"] * MM, data["page-height"] * MM
    style = (
        f"@page {{ size: {width}pt {height}pt; margin: 0;"
        " @bottom-left { content: none } @bottom-right { content: none } }"
    )
    sheets = []
    for index, sheet_of in enumerate(data["sheets"]):
        shapes = ruler(data)
        for one in sheet_of:
            shapes += label(one, data)
        new = " new" if index else ""
        sheets.append(
            f'<div class="sheet{new}" style="width:{width:.2f}pt;height:{height - 1:.2f}pt">'
            f"{drawn(shapes, width, height - 1)}</div>"
        )
    return style, "".join(sheets)


def packing(slip: dict) -> tuple[str, str]:
    facts = "".join(f"<tr><td>{escape(f['label'])}<td>{bold(f['value'])}" for f in slip["facts"])
    findings = ""
    if slip["findings"]:
        findings = (
            f"<h2>{escape(slip['findings-title'])}</h2>"
            f'<div class="heavy" style="font-weight:normal">{dashes(slip["findings"])}</div>'
        )
    body = [
        f'<table class="title"><tr><td><h1>{escape(slip["title"])}</h1>'
        f'<td class="r b">{escape(slip["notice"])}</table>',
        who(slip["who"]),
        f'<table class="facts" style="margin-top:6pt">{facts}</table>{findings}',
        f"<h2>{escape(slip['contents-title'])}</h2>{ticks(slip['contents'])}",
        section(
            slip["cards-title"],
            f"<p style='margin-bottom:4pt'>{escape(slip['tick'])}</p>{card_ticks(slip['cards'], 13.8)}",
        ),
        f"<div style='margin-top:12pt'>{pairs(slip['sign'])}</div>",
    ]
    return page_style(slip["page"]), "".join(body)


def documents(data: dict, logo: str) -> dict[str, tuple[str, str]]:
    """Each file of a kit: its name, its style, its body."""
    return {
        "paper": paper(data["paper"], logo),
        "labels": labels(data["labels"]),
        "packing": packing(data["packing"]),
    }
