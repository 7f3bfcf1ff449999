"""The pages of a kit placed by hand: what a program without a layout engine does.

Takes the data that the program's own templates get and gives each page as shapes with
their places, in points from the upper left corner. Distances are those of the
templates: a line of text is as tall as its capitals, and what stands below a block
gives way to the larger distance above the next one.

The crate in `benches/floor` does the same in Rust.
"""

from typing import Callable

from measure import CAP, MM, Box, Line, Text, label, ruler, timeline, width

EM = 12.0
LEADING = 0.45 * EM
HAIR, RULE, HEAVY = 0.6, 1.0, 2.0
SIZES = {"us-letter": (612.0, 792.0), "a4": (210 * MM, 297 * MM)}
LEFT, TOP, BOTTOM = 15 * MM, 10 * MM, 20 * MM

# Draws at a height and gives where it ends.
Place = Callable[[list, float], float]
Run = tuple[str, str]


class Flow:
    """Pages that are filled from the top; what does not fit begins the next one."""

    def __init__(self, page: dict):
        self.width, self.height = SIZES[page["paper"]]
        self.area = self.width - 2 * LEFT
        self.page = page
        self.pages: list[list] = []
        self.new_page()

    def new_page(self) -> None:
        self.out: list = []
        self.pages.append(self.out)
        self.y, self.below, self.empty = TOP, 0.0, True

    def add(self, place: Place, above: float = 6.0, below: float = 6.0) -> None:
        """Places a block that stays on one page."""
        start = self.y if self.empty else self.y + max(self.below, above)
        mark = len(self.out)
        end = place(self.out, start)
        if end > self.height - BOTTOM and not self.empty:
            del self.out[mark:]
            self.new_page()
            end = place(self.out, self.y)
        self.y, self.below, self.empty = end, below, False

    def skip(self, distance: float) -> None:
        self.y += distance

    def finish(self) -> list[list]:
        for out, number in zip(self.pages, self.page["numbers"]):
            y = self.height - BOTTOM + 3 * MM
            right = LEFT + self.area
            out.append(Line(LEFT, y, right, y, HAIR))
            y += 1.2 * MM + CAP * EM
            out.append(Text(LEFT, y, EM, "regular", self.page["foot"]))
            out.append(Text(right - width(number, "regular", EM), y, EM, "regular", number))
            y += (CAP + 0.4) * EM
            out.append(Text(LEFT, y, EM, "regular", self.page["foot-more"]))
        return self.pages


def wrapped(runs: list[Run], size: float, room: float) -> list[list[tuple[float, str, str]]]:
    """Lines of runs of one face each: where they begin, face and text."""
    lines: list[list[tuple[float, str, str]]] = [[]]
    x = 0.0
    for face, text in runs:
        space = width(" ", face, size)
        for word in text.split(" "):
            wide = width(word, face, size)
            line = lines[-1]
            if line and x + space + wide > room:
                lines.append([(0.0, face, word)])
                x = wide
                continue
            if line and line[-1][1] == face:
                start, _, before = line[-1]
                line[-1] = (start, face, f"{before} {word}")
                x += space + wide
            else:
                if line:
                    x += space
                line.append((x, face, word))
                x += wide
    return lines


def tall(lines: int, size: float, leading: float) -> float:
    return lines * CAP * size + (lines - 1) * leading


def para(
    out: list,
    x: float,
    y: float,
    room: float,
    runs: list[Run],
    size: float = EM,
    leading: float = LEADING,
) -> float:
    for line in wrapped(runs, size, room):
        y += CAP * size
        for start, face, text in line:
            out.append(Text(x + start, y, size, face, text))
        y += leading
    return y - leading


def plain(text: str) -> list[Run]:
    return [("regular", text)]


def strong(text: str) -> list[Run]:
    return [("bold", text)]


def frame(out: list, x: float, y: float, w: float, h: float, stroke: float) -> None:
    for x1, y1, x2, y2 in (
        (x, y, x + w, y),
        (x, y + h, x + w, y + h),
        (x, y, x, y + h),
        (x + w, y, x + w, y + h),
    ):
        out.append(Line(x1, y1, x2, y2, stroke))


def heading(text: str, level: int) -> Place:
    size = 21.0 if level == 1 else 14.4
    return lambda out, y: para(out, LEFT, y, 500, strong(text), size)


def paragraph(
    flow: Flow, text: str, face: str = "regular", above: float = 6.0, below: float = 6.0
) -> None:
    flow.add(lambda out, y: para(out, LEFT, y, flow.area, [(face, text)]), above, below)


def section(flow: Flow, title: str, body: Place) -> None:
    """A heading and what stays with it on one page."""

    def place(out: list, y: float) -> float:
        return body(out, heading(title, 2)(out, y) + 7.2)

    flow.add(place, 8.4, 8.4)


def who(flow: Flow, entries: list[dict], above: float) -> None:
    def place(out: list, y: float) -> float:
        high = 4 * MM + 2 * CAP * EM + 3.6
        frame(out, LEFT, y, flow.area, high, RULE)
        first, second = y + 2 * MM + CAP * EM, y + 2 * MM + 2 * CAP * EM + 3.6
        right = LEFT + flow.area - 3 * MM
        xs = []
        for entry in reversed(entries[1:]):
            right -= max(width(entry["label"], "regular", EM), width(entry["value"], "bold", EM))
            xs.insert(0, right)
            right -= 6 * MM
        for x, entry in zip([LEFT + 3 * MM, *xs], entries):
            out.append(Text(x, first, EM, "regular", entry["label"]))
            out.append(Text(x, second, EM, "bold", entry["value"]))
        return y + high

    flow.add(place, above)


def title_line(flow: Flow, title: str, beside: str, size: float) -> None:
    def place(out: list, y: float) -> float:
        base = y + CAP * 21
        out.append(Text(LEFT, base, 21, "bold", title))
        x = LEFT + flow.area - width(beside, "bold", size)
        out.append(Text(x, base, size, "bold", beside))
        return base

    flow.add(place)


def columns_of(
    rows: list[list[list[Run]]], shares: list[float], area: float, inset: float
) -> list[float]:
    """Widths of columns: a share of 0 is as wide as it must be."""
    widths = [0.0] * len(shares)
    for index, share in enumerate(shares):
        if share == 0:
            widths[index] = 2 * inset + max(
                sum(width(text, face, EM) for face, text in row[index]) for row in rows
            )
    left, total = area - sum(widths), sum(shares)
    return [taken or left * share / total for taken, share in zip(widths, shares)]


def table(
    out: list,
    x: float,
    y: float,
    area: float,
    rows: list[list[list[Run]]],
    shares: list[float],
    inset: tuple[float, float],
    centre: bool = False,
    pen: float = 0.0,
) -> float:
    """A table with rules; the rows below the first are at least `pen` high inside."""
    widths = columns_of(rows, shares, area, inset[0])
    edges = [x]
    for one in widths:
        edges.append(edges[-1] + one)
    heights = []
    for number, row in enumerate(rows):
        cells = [wrapped(runs, EM, wide - 2 * inset[0]) for runs, wide in zip(row, widths)]
        inner = max(tall(len(lines), EM, LEADING) for lines in cells)
        inner = max(inner, pen) if number else inner
        high = inner + 2 * inset[1]
        for left, wide, lines in zip(edges, widths, cells):
            base = y + (high - tall(len(lines), EM, LEADING)) / 2 + CAP * EM
            for line in lines:
                for start, face, text in line:
                    if not text:
                        continue
                    shift = (wide - 2 * inset[0] - width(text, face, EM)) / 2 if centre else 0.0
                    out.append(Text(left + inset[0] + start + shift, base, EM, face, text))
                base += CAP * EM + LEADING
        heights.append(y)
        y += high
    for at in [*heights, y]:
        out.append(Line(edges[0], at, edges[-1], at, HAIR))
    for edge in edges:
        out.append(Line(edge, heights[0], edge, y, HAIR))
    return y


def dashes(out: list, y: float, area: float, lines: list[str], x: float = LEFT) -> float:
    for line in lines:
        at = y + CAP * EM - 0.35 * EM
        out.append(Line(x, at, x + 2 * MM, at, RULE))
        y = para(out, x + 4 * MM, y, area - 4 * MM, plain(line)) + 0.34 * EM
    return y - 0.34 * EM


def tick(out: list, x: float, y: float) -> None:
    frame(out, x, y, 4 * MM, 4 * MM, RULE)


def ticks(out: list, y: float, area: float, lines: list[str]) -> float:
    for line in lines:
        text: list = []
        end = para(text, LEFT + 7 * MM, 0, area - 7 * MM, plain(line))
        high = max(4 * MM, end)
        tick(out, LEFT, y + (high - 4 * MM) / 2)
        shift = y + (high - end) / 2
        out += [one._replace(y=one.y + shift) for one in text]
        y += high + EM
    return y - EM


def card_ticks(
    out: list, y: float, area: float, cards: list[dict], size: float, gap: float
) -> float:
    half = (area - 10 * MM) / 2
    for card in cards:
        tick(out, LEFT, y)
        middle = y + 2 * MM
        out.append(Text(LEFT + 7 * MM, middle + CAP * EM / 2, EM, "regular", card["label"]))
        x = LEFT + 10 * MM + half
        out.append(Text(x, middle + CAP * size / 2, size, "mono", card["value"]))
        y += 4 * MM + gap
    return y - gap


def write(out: list, x: float, y: float, room: float, text: str) -> float:
    """A label and a line to write on; gives its baseline, at which it ends."""
    base = y + 0.7 * EM
    start = x + width(text, "regular", EM) + 2 * MM
    if text:
        out.append(Text(x, base, EM, "regular", text))
    out.append(Line(start, base + 1, x + room, base + 1, HAIR))
    return base


def write_pairs(flow: Flow, labels: list[str], gap: float, high: float = 0.7 * EM) -> None:
    half = (flow.area - 6 * MM) / 2

    def place(out: list, y: float) -> float:
        end = y
        for index, text in enumerate(labels):
            x = LEFT + (index % 2) * (half + 6 * MM)
            end = write(out, x, y, half, text)
            if index % 2:
                y = end + gap
        return end

    flow.add(place)


def write_line(flow: Flow, text: str) -> None:
    flow.add(lambda out, y: write(out, LEFT, y, flow.area, text), 1.05 * EM, 1.05 * EM)


# ------------------------------------------------------------------------ pages


def steps(flow: Flow, part: dict) -> None:
    column, gap, size = 27 * MM, 3 * MM, 1.1 * EM

    def place(out: list, y: float) -> float:
        for step in part["steps"]:
            if step["day"]:
                y = para(out, LEFT, y, flow.area, strong(step["day"])) + 0.55 * EM
            lines = wrapped(strong(step["time"]), size, column)
            base = y + CAP * size
            for line in lines:
                start, face, text = line[0]
                out.append(Text(LEFT + column - width(text, face, size), base, size, face, text))
                base += CAP * size + LEADING
            end = base - CAP * size - LEADING
            x, room = LEFT + column + gap, flow.area - column - gap
            if step["card"] is None:
                runs = plain(" ".join([step["action"], *step["more"]]))
                end = max(end, para(out, x, y, room, runs, EM, 0.4 * EM))
            else:
                wide, high = 7.5 * MM, 8.5 * MM
                inner = room - wide - 2 * MM
                first, *others = step["more"] or [""]
                texts = [[*strong(step["action"]), *(plain(first) if first else [])]]
                texts += [plain(more) for more in others]
                count = sum(len(wrapped(runs, EM, inner)) for runs in texts)
                text_high = tall(count, EM, 0.4 * EM)
                both = max(high, text_high)
                out.append(Box(x, y, wide, high, HEAVY, MM))
                number = step["card"]
                left = x + (wide - width(number, "bold", 19.2)) / 2
                if number:
                    out.append(Text(left, y + (high + CAP * 19.2) / 2, 19.2, "bold", number))
                at = y + (both - text_high) / 2
                for runs in texts:
                    at = para(out, x + wide + 2 * MM, at, inner, runs, EM, 0.4 * EM) + 0.4 * EM
                end = max(end, y + both)
            y = end + 0.55 * EM
        return y - 0.55 * EM

    section(flow, part["heading"], place)


def sheet(flow: Flow, data: dict, logo: Callable[[list, float, float], None]) -> None:
    def lab(out: list, y: float) -> float:
        logo(out, LEFT, y)
        out.append(Text(LEFT + 33.6 + 2 * MM, y + 8.4 + CAP * EM / 2, EM, "regular", data["lab"]))
        return y + 16.8

    flow.add(lab)
    flow.skip(0.4 * EM)
    title_line(flow, data["title"], data["start"], 14.4)
    who(flow, data["who"], 6.0)

    def first(out: list, y: float) -> float:
        lines = data["first"]["lines"]
        runs = [*strong(data["first"]["title"]), *plain(" ".join(lines[:-1])), *strong(lines[-1])]
        end = para(out, LEFT + 3 * MM, y + 2 * MM, flow.area - 6 * MM, runs, EM, 0.4 * EM) + 2 * MM
        frame(out, LEFT, y, flow.area, end - y, HEAVY)
        return end

    flow.add(first, 8.4, 6.0)
    for line in data["before"]:

        def before(out: list, y: float, line: str = line) -> float:
            end = para(out, LEFT + 3 * MM, y + MM, flow.area - 3 * MM, plain(line)) + MM
            out.append(Line(LEFT, y, LEFT, end, HEAVY))
            return end

        flow.add(before)
    shapes, high = timeline(data["timeline"], flow.area)

    def drawing(out: list, y: float) -> float:
        for shape in shapes:
            if isinstance(shape, Line):
                out.append(
                    shape._replace(
                        x1=shape.x1 + LEFT, x2=shape.x2 + LEFT, y1=shape.y1 + y, y2=shape.y2 + y
                    )
                )
            else:
                out.append(shape._replace(x=shape.x + LEFT, y=shape.y + y))
        return y + high

    flow.add(drawing)
    paragraph(flow, data["remember"], "bold")
    for part in data["parts"]:
        steps(flow, part)

    def how(out: list, y: float) -> float:
        lines = data["how"]["lines"]
        indent = max(width(line["label"], "bold", EM) for line in lines) + 2.5 * MM
        for line in lines:
            out.append(Text(LEFT, y + CAP * EM, EM, "bold", line["label"]))
            y = para(out, LEFT + indent, y, flow.area - indent, plain(line["value"])) + 0.34 * EM
        return y - 0.34 * EM

    section(flow, data["how"]["title"], how)
    medicines = data["medicines"]
    # The heading stays with the line below it.

    def rule(out: list, y: float) -> float:
        y = heading(medicines["title"], 2)(out, y) + 7.2
        return para(out, LEFT, y, flow.area, strong(medicines["rule"]))

    flow.add(rule, 12.96, 6.0)
    if medicines["rows"]:
        rows = [[strong(column) for column in medicines["columns"]]]
        rows += [
            [plain(row[key]) for key in ("medicine", "usual", "before", "after")]
            for row in medicines["rows"]
        ]
        inset = (1.6 * MM, 0.27 * EM)
        flow.add(lambda out, y: table(out, LEFT, y, flow.area, rows, [1.1, 0, 1, 1], inset))
    for note in medicines["notes"]:
        paragraph(flow, note, above=4.08, below=4.08)
    wrong = data["wrong"]
    section(flow, wrong["title"], lambda out, y: dashes(out, y, flow.area, wrong["lines"]))
    repeats = data["repeats"]
    made_up = [[strong(column) for column in repeats["columns"]]]
    made_up += [
        [
            strong(row["card"]),
            plain(row["day"]),
            plain(row["empty"]),
            plain(row["stop"]),
            strong(row["collect"]),
        ]
        for row in repeats["rows"]
    ]
    shares, narrow = [0, 0, 1, 1, 1.4], (1.2 * MM, 0.27 * EM)
    section(
        flow,
        repeats["title"],
        lambda out, y: table(out, LEFT, y, flow.area, made_up, shares, narrow),
    )
    for note in repeats["notes"]:
        paragraph(flow, note, above=4.08, below=4.08)
    care, call = data["care"], data["call"]
    section(flow, care["title"], lambda out, y: dashes(out, y, flow.area, care["lines"]))

    def calls(out: list, y: float) -> float:
        for line in call["lines"]:
            y = para(out, LEFT, y, flow.area, plain(line)) + 0.3 * EM
        return y - 0.3 * EM

    section(flow, call["title"], calls)


def side_by_side(out: list, y: float, area: float, count: int, gap: float, one: Callable) -> float:
    wide = (area - gap * (count - 1)) / count
    return max(one(index, out, LEFT + index * (wide + gap), y, wide) for index in range(count))


def fluids(flow: Flow, data: dict) -> None:
    flow.add(heading(data["title"], 1), below=10.5)
    who(flow, data["who"], 6.0)
    paragraph(flow, data["intro"])
    rows = [[strong(column) for column in data["columns"]]]
    rows += [[plain(row["label"]), strong(row["value"])] for row in data["rows"]]
    flow.add(lambda out, y: table(out, LEFT, y, flow.area, rows, [1, 1], (1.6 * MM, 1.6 * MM)))
    flow.add(lambda out, y: dashes(out, y, flow.area, data["notes"]))
    if data["tables"]:

        def look_up(out: list, y: float) -> float:
            if data["own"]:
                end = (
                    para(
                        out,
                        LEFT + 3 * MM,
                        y + 3 * MM,
                        flow.area - 6 * MM,
                        strong(data["own"]),
                        14.4,
                    )
                    + 3 * MM
                )
                frame(out, LEFT, y, flow.area, end - y, HEAVY)
                y = end + 6
            y = para(out, LEFT, y, flow.area, plain(data["cup"])) + 6

            def one(index: int, out: list, x: float, y: float, wide: float) -> float:
                part = data["tables"][index]
                cells = [[strong(column) for column in part["columns"]]]
                for row in part["rows"]:
                    face = strong if row["own"] else plain
                    cells.append([face(row["weight"]), face(row["amount"])])
                return table(out, x, y, wide, cells, [1, 1.2], (1.6 * MM, 0.3 * EM))

            return side_by_side(out, y, flow.area, len(data["tables"]), 5 * MM, one)

        section(flow, data["table-title"], look_up)
    elif data["no-table"]:

        def no_table(out: list, y: float) -> float:
            end = (
                para(out, LEFT + 3 * MM, y + 3 * MM, flow.area - 6 * MM, strong(data["no-table"]))
                + 3 * MM
            )
            frame(out, LEFT, y, flow.area, end - y, HEAVY)
            return end

        flow.add(no_table)
    changes = data["changes"]
    if changes["tables"]:

        def change(index: int, out: list, x: float, y: float, wide: float) -> float:
            part = changes["tables"][index]
            cells = [[strong(column) for column in part["columns"]]]
            for row in part["rows"]:
                face = strong if row["planned"] else plain
                cells.append([face(row["if-at"]), face(row["then-at"])])
            return table(out, x, y, wide, cells, [1, 1], (MM, 0.28 * EM), centre=True)

        count = len(changes["tables"])
        section(
            flow,
            changes["title"],
            lambda out, y: side_by_side(out, y, flow.area, count, 4 * MM, change),
        )


def checklist(flow: Flow, data: dict) -> None:
    flow.new_page()
    flow.add(heading(data["title"], 1), below=10.5)
    who(flow, data["who"], 6.0)
    paragraph(flow, data["intro"], "bold", EM, EM)
    flow.add(lambda out, y: ticks(out, y, flow.area, data["items"]))
    cards = data["cards"]
    section(
        flow, data["cards-title"], lambda out, y: card_ticks(out, y, flow.area, cards, EM, 0.8 * EM)
    )

    def address(out: list, y: float) -> float:
        for line in data["address"]:
            y = para(out, LEFT, y, flow.area, plain(line)) + 0.4 * EM
        return para(out, LEFT, y + 0.8 * EM, flow.area, strong(data["keep"]))

    section(flow, data["address-title"], address)


def card(flow: Flow, data: dict) -> None:
    flow.new_page()
    title_line(flow, data["title"], data["intro"], EM)
    who(flow, data["who"], 6.0)
    flow.skip(0.3 * EM)

    def known(out: list, y: float) -> float:
        x = LEFT
        for entry in data["known"]:
            out.append(Text(x, y + CAP * EM, EM, "regular", entry["label"]))
            x += width(entry["label"] + " ", "regular", EM)
            out.append(Text(x, y + CAP * EM, EM, "bold", entry["value"]))
            x += width(entry["value"], "bold", EM) + 8 * MM
        return y + CAP * EM

    if data["known"]:
        flow.add(known)
    write_pairs(flow, data["blanks"][:-1], 1.05 * EM)
    write_line(flow, data["blanks"][-1])

    def pregnant(out: list, y: float) -> float:
        question, *answers = data["pregnant"]
        base = y + 0.85 * 4 * MM
        out.append(Text(LEFT, base, EM, "regular", question))
        x = LEFT + width(question, "regular", EM) + 4 * MM
        for answer in answers:
            tick(out, x, y)
            x += 6 * MM
            out.append(Text(x, base, EM, "regular", answer))
            x += width(answer, "regular", EM) + 6 * MM
        return y + 4 * MM

    flow.add(pregnant, 0.8 * EM, 0.6 * EM)
    pens = len(data["columns"]) - 3
    rows = [[strong(column) for column in data["columns"]]]
    rows += [
        [strong(row["card"]), [("mono", row["code"])], plain(row["planned"]), *([plain("")] * pens)]
        for row in data["rows"]
    ]
    shares = [0, 0, 0, *([1] * pens)]

    def times(out: list, y: float) -> float:
        return table(out, LEFT, y, flow.area, rows, shares, (1.6 * MM, MM), pen=9 * MM)

    section(flow, data["times-title"], times)
    write_pairs(flow, data["night"], 1.05 * EM)
    write_line(flow, data["drinks"])
    write_line(flow, "")
    write_line(flow, "")
    flow.add(heading(data["medicines-title"], 2), 12.96, 7.2)
    for text in [*data["medicines"], data["other-medicines"], "", data["sign"]]:
        write_line(flow, text)

    def accession(out: list, y: float) -> float:
        frame(out, LEFT, y, flow.area, 13 * MM, RULE)
        para(out, LEFT + 2.5 * MM, y + 2.5 * MM, flow.area, plain(data["accession"]))
        return y + 13 * MM

    flow.add(accession, EM)


def paper(
    data: dict, logo: Callable[[list, float, float], None]
) -> tuple[tuple[float, float], list[list]]:
    """The size of a kit's pages, and their shapes."""
    flow = Flow(data["page"])
    sheet(flow, data["sheet"], logo)
    flow.new_page()
    fluids(flow, data["fluids"])
    checklist(flow, data["checklist"])
    card(flow, data["card"])
    return (flow.width, flow.height), flow.finish()


def labels(data: dict) -> tuple[tuple[float, float], list[list]]:
    pages = []
    for one_sheet in data["sheets"]:
        shapes = ruler(data)
        for one in one_sheet:
            shapes += label(one, data)
        pages.append(shapes)
    return (data["page-width"] * MM, data["page-height"] * MM), pages


def packing(slip: dict) -> tuple[tuple[float, float], list[list]]:
    flow = Flow(slip["page"])
    title_line(flow, slip["title"], slip["notice"], EM)
    who(flow, slip["who"], 6.0)
    flow.skip(0.5 * EM)

    def facts(out: list, y: float) -> float:
        indent = max(width(fact["label"], "regular", EM) for fact in slip["facts"]) + 4 * MM
        for fact in slip["facts"]:
            out.append(Text(LEFT, y + CAP * EM, EM, "regular", fact["label"]))
            y = para(out, LEFT + indent, y, flow.area - indent, strong(fact["value"])) + 0.5 * EM
        return y - 0.5 * EM

    flow.add(facts)
    if slip["findings"]:
        flow.add(heading(slip["findings-title"], 2), 12.96, 7.2)

        def findings(out: list, y: float) -> float:
            end = (
                dashes(out, y + 3 * MM, flow.area - 6 * MM, slip["findings"], LEFT + 3 * MM)
                + 3 * MM
            )
            frame(out, LEFT, y, flow.area, end - y, HEAVY)
            return end

        flow.add(findings)
    flow.add(heading(slip["contents-title"], 2), 12.96, 7.2)
    flow.add(lambda out, y: ticks(out, y, flow.area, slip["contents"]))

    def cards(out: list, y: float) -> float:
        y = para(out, LEFT, y, flow.area, plain(slip["tick"])) + 0.9 * EM
        return card_ticks(out, y, flow.area, slip["cards"], 1.15 * EM, 0.9 * EM)

    section(flow, slip["cards-title"], cards)
    flow.skip(1.5 * EM)
    half = (flow.area - 8 * MM) / 2

    def sign(out: list, y: float) -> float:
        base = y + CAP * EM
        for index, text in enumerate(slip["sign"]):
            x = LEFT + index * (half + 8 * MM)
            out.append(Text(x, base, EM, "regular", text))
            start = x + width(text, "regular", EM) + 2 * MM
            out.append(Line(start, base + 1, x + half, base + 1, HAIR))
        return base

    flow.add(sign)
    return (flow.width, flow.height), flow.finish()
