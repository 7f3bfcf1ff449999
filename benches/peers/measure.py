"""Widths of text, and the two drawings that no layout engine does by itself: the
timeline and the labels. Both come out as shapes with their places, which each peer
then draws in its own way.

The arithmetic is that of `templates/timeline.typ` and `templates/labels.typ`. All
lengths are points from the upper left corner.
"""

from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from fontTools.ttLib import TTFont

FONTS = Path(__file__).resolve().parents[2] / "fonts"
FILES = {
    "regular": "AtkinsonHyperlegibleNext-Regular.ttf",
    "bold": "AtkinsonHyperlegibleNext-Bold.ttf",
    "mono": "AtkinsonHyperlegibleMono-Bold.ttf",
}
MM = 72 / 25.4
# Heights of the family in ems, from its files: a line is as tall as its capitals.
CAP, ASCENT, DESCENT = 0.668, 0.984, 0.316


class Text(NamedTuple):
    """A line of text at its baseline; `x` is its left edge."""

    x: float
    y: float
    size: float
    face: str
    text: str


class Line(NamedTuple):
    x1: float
    y1: float
    x2: float
    y2: float
    width: float
    # Lengths of dash and gap, with round ends.
    dash: tuple[float, float] | None = None


class Box(NamedTuple):
    """A white box with a black edge around `x`, `y`, `w`, `h`."""

    x: float
    y: float
    w: float
    h: float
    stroke: float
    radius: float


class Image(NamedTuple):
    """A QR code: one byte a module, 0 for black."""

    x: float
    y: float
    side: float
    modules: int
    pixels: list[int]
    alt: str


@lru_cache(maxsize=None)
def _advances(face: str) -> tuple[dict[int, str], dict[str, tuple[int, int]]]:
    font = TTFont(FONTS / FILES[face])
    return font.getBestCmap(), font["hmtx"].metrics


@lru_cache(maxsize=100_000)
def width(text: str, face: str, size: float) -> float:
    """How wide a text is, without kerning."""
    cmap, metrics = _advances(face)
    units = sum(metrics[cmap[ord(letter)]][0] for letter in text)
    return units * size / 1000


def wrap(text: str, face: str, size: float, room: float) -> list[str]:
    """The lines of a text in `room`; a word wider than that stands alone."""
    lines: list[str] = []
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width(longer, face, size) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def timeline(data: dict, area: float) -> tuple[list, float]:
    """The shapes of a timeline `area` wide, and its height."""
    stations, segments = data["stations"], data["segments"]
    body, number = 12.0, 12.0 * 1.6
    labels = [width(s["label"], "regular", body) for s in stations if s["label"]]
    margin = max([11 * MM, *(label / 2 for label in labels)])
    card, card_height, step = 8 * MM, 9.5 * MM, 6 * MM
    needs = []
    for segment in segments:
        words = (segment["label"] or "").split(" ")
        needs.append(card + 1.5 * MM + max(width(word, "regular", body) for word in words))
    total = max(1, sum(segment["weight"] for segment in segments))
    spare = max(0.0, area - 2 * margin - sum(needs))
    xs = [margin]
    for need, segment in zip(needs, segments):
        xs.append(xs[-1] + need + spare * segment["weight"] / total)

    levels = []
    last = {True: (-1000.0, 0), False: (-1000.0, 0)}
    for x, station in zip(xs, stations):
        side = station["card"] is not None
        half = width(station["time"], "bold", body) / 2 + MM
        edge, level = last[side]
        levels.append(1 if x - half < edge and level == 0 else 0)
        last[side] = (x + half, levels[-1])

    def lifted(side: bool) -> float:
        pairs = zip(levels, stations)
        return step if any(lv == 1 and (s["card"] is not None) == side for lv, s in pairs) else 0.0

    line_y = lifted(True) + step + card_height + 2 * MM
    below = any(station["card"] is None for station in stations)
    height = line_y + (lifted(False) + step * 2 + MM if below else 2 * MM)
    shapes: list = []

    def centred(x: float, top: float, size: float, face: str, text: str) -> None:
        left = x - width(text, face, size) / 2
        shapes.append(Text(left, top + CAP * size, size, face, text))

    for index, segment in enumerate(segments):
        start, end = xs[index], xs[index + 1]
        if segment["kind"] == "stop":
            shapes.append(Line(start, line_y, end, line_y, 2.2 * MM))
        elif segment["kind"] == "sleep":
            dash = (0.1 * MM, 2.2 * MM)
            shapes.append(Line(start, line_y, end, line_y, 0.9 * MM, dash))
        else:
            shapes.append(Line(start, line_y, end, line_y, 1))
        if segment["label"]:
            room = end - start - card - MM
            lines = wrap(segment["label"], "regular", body, room)
            tall = len(lines) * CAP * body + (len(lines) - 1) * 0.25 * body
            top = line_y - 2.4 * MM - tall
            for line in lines:
                centred(start + card / 2 + 0.5 * MM + room / 2, top, body, "regular", line)
                top += (CAP + 0.25) * body
    for x, level, station in zip(xs, levels, stations):
        if station["card"] is not None:
            top = line_y - card_height - 1.4 * MM
            shapes.append(Box(x - card / 2, top, card, card_height, 2, MM))
            middle = top + card_height / 2 - CAP * number / 2
            centred(x, middle, number, "bold", station["card"])
            above = line_y - card_height - 2 * MM - step * (level + 1) + MM
            centred(x, above, body, "bold", station["time"])
        else:
            drop = step * level
            shapes.append(Line(x, line_y, x, line_y + 2 * MM + drop, 1))
            centred(x, line_y + 2.6 * MM + drop, body, "bold", station["time"])
            centred(x, line_y + 2 * MM + drop + step, body, "regular", station["label"])
    return shapes, height


def fitted_name(name: str, room: float, tall: float, scale: float) -> tuple[float, list[str]]:
    """The largest size in which a name fits, and its lines."""
    sizes = [size * scale for size in (10, 9.5, 9, 8.5, 8, 7.5, 7)]
    for size in sizes:
        if width(name, "bold", size) <= room:
            return size, [name]
    for size in [*(size * 0.95 for size in sizes), 6.5, 6]:
        lines: list[str] = []
        for word in name.replace("-", "- ").split(" "):
            gap = "" if not lines or lines[-1].endswith("-") else " "
            if lines and width(lines[-1] + gap + word, "bold", size) <= room:
                lines[-1] += gap + word
            else:
                lines.append(word)
        high = (len(lines) * CAP + (len(lines) - 1) * 0.36) * size
        if high <= tall and all(width(line, "bold", size) <= room for line in lines):
            return size, lines
    raise ValueError(f"the name {name} does not fit its label")


def label(data: dict, sheet: dict) -> list:
    """The shapes of one label, in its place on the page."""
    inset = sheet["inset"] * MM
    left, top = data["x"] * MM + inset, data["y"] * MM + inset
    wide = sheet["label-width"] * MM - 2 * inset
    high = sheet["label-height"] * MM - 2 * inset
    scale = max(1.0, min(1.7, high / (21.5 * MM), wide / (47 * MM)))
    side = data["qr"]["side"] * MM
    column = wide - side - MM
    gap = 0.7 * MM * scale
    shapes: list = []
    y = top

    def put(size: float, face: str, text: str) -> None:
        nonlocal y
        shapes.append(Text(left, y + CAP * size, size, face, text))
        y += CAP * size + gap

    code = next(
        (
            s
            for s in (8 * scale, 7.5 * scale, 7 * scale, 6.5)
            if width(data["code"], "mono", s) <= column
        ),
        6.0,
    )
    fixed = CAP * (7.5 * scale + code) + 2 * gap
    size, lines = fitted_name(data["name"], column, side - fixed, scale)
    for index, line in enumerate(lines):
        shapes.append(Text(left, y + CAP * size, size, "bold", line))
        y += CAP * size + (0.36 * size if index + 1 < len(lines) else gap)
    put(7.5 * scale, "regular", data["born"])
    put(code, "mono", data["code"])
    # The smallest type is for labels with no room for a larger one.
    fits = width(data["planned"], "regular", 6) <= column
    plan = 6.0 if fits and scale < 1.1 else 6.5 * scale
    beside = width(data["planned"], "regular", plan) <= column and y + CAP * plan <= top + side
    if beside:
        put(plan, "regular", data["planned"])
    qr = data["qr"]
    shapes.append(Image(left + wide - side, top, side, qr["modules"], qr["pixels"], qr["alt"]))
    y = top + side + gap
    put(9.5 * scale, "bold", data["heading"])
    if not beside:
        put(plan, "regular", data["planned"])
    # The foot of the label: what the patient writes.
    small, baseline = 7 * scale, top + high
    half = data["half"]
    words = [data["date"], data["time"]]
    widths = [width(word, "regular", small) for word in words]
    x = left + width(data["collected"], "bold", small)
    shapes.append(Text(left, baseline, small, "bold", data["collected"]))
    x += 1.5 * MM
    tail = MM + width(half, "regular", small) if half else 0.0
    room = (left + wide - x - sum(widths) - 2 * MM - 1.5 * MM - tail) / 2
    for word, taken in zip(words, widths):
        shapes.append(Text(x, baseline, small, "regular", word))
        x += taken + MM
        shapes.append(Line(x, baseline, x + room, baseline, 1))
        x += room + 1.5 * MM
    if half:
        shapes.append(Text(x - 0.5 * MM, baseline, small, "regular", half))
    return shapes


def ruler(data: dict) -> list:
    """The line of 100 mm beside the labels, if there is room for it."""
    if data["ruler"] is None:
        return []
    x, y, end = 12 * MM, 8 * MM, 112 * MM
    return [
        Line(x, y, end, y, 0.6),
        Line(x, y - MM, x, y + MM, 0.6),
        Line(end, y - MM, end, y + MM, 0.6),
        Text(end + 3 * MM, y + MM, 9, "regular", data["ruler"]),
    ]
