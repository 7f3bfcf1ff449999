"""ReportLab's canvas with pages placed by hand: no paragraphs or tables of its own,
which are several times slower.

Texts of a page are one text object, drawn after its lines; a QR code is a picture of
one pixel a module. ReportLab does not kern.
"""

import io
import re
from pathlib import Path

from PIL import Image as PixelImage
from reportlab import rl_config
from reportlab.lib.utils import ImageReader
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

import harness
import placed
from measure import FILES, FONTS, Box, Image, Line, Text

LOGO_HEIGHT = 16.8
# Bytes as they are, not as letters.
rl_config.useA85 = 0


class Logo:
    """The path of a logo of one stroke: `M`, `h`, `v` and `q`, which is all that the
    demo laboratory's has."""

    def __init__(self, svg: str):
        self.view = [float(n) for n in re.search(r'viewBox="([^"]+)"', svg)[1].split()]
        self.path = re.findall(r"[A-Za-z]|-?[\d.]+", re.search(r' d="([^"]+)"', svg)[1])
        self.stroke = float(re.search(r'stroke-width="([^"]+)"', svg)[1])

    def draw(self, canvas: Canvas, left: float, top: float) -> None:
        scale = LOGO_HEIGHT / self.view[3]
        path, parts = canvas.beginPath(), iter(self.path)
        x = y = 0.0

        def at(x: float, y: float) -> tuple[float, float]:
            return left + x * scale, top - y * scale

        for part in parts:
            if part == "M":
                x, y = float(next(parts)), float(next(parts))
                path.moveTo(*at(x, y))
            elif part == "h":
                x += float(next(parts))
                path.lineTo(*at(x, y))
            elif part == "v":
                y += float(next(parts))
                path.lineTo(*at(x, y))
            elif part == "q":
                cx, cy, ex, ey = (float(next(parts)) for _ in range(4))
                end = (x + ex, y + ey)
                one = (x + cx * 2 / 3, y + cy * 2 / 3)
                two = (end[0] + (cx - ex) * 2 / 3, end[1] + (cy - ey) * 2 / 3)
                path.curveTo(*at(*one), *at(*two), *at(*end))
                x, y = end
            else:
                raise ValueError(f"the logo has a `{part}`, which is not drawn here")
        canvas.setLineWidth(self.stroke * scale)
        canvas.drawPath(path, stroke=1, fill=0)


def picture(canvas: Canvas, image: Image, high: float) -> None:
    """A QR code as a grey picture of one pixel a module."""
    side = image.modules
    pixels = PixelImage.frombytes("L", (side, side), bytes(image.pixels))
    canvas.drawImage(
        ImageReader(pixels), image.x, high - image.y - image.side, image.side, image.side
    )


class LogoPlace:
    """Where the logo is; a shape like the others."""

    def __init__(self, x: float, y: float):
        self.x, self.y = x, y


def draw(size: tuple[float, float], pages: list[list], title: str, logo: Logo | None) -> bytes:
    stream = io.BytesIO()
    canvas = Canvas(stream, pagesize=size, pageCompression=1, invariant=1, lang="en")
    canvas.setTitle(title)
    high = size[1]
    for shapes in pages:
        texts = []
        for shape in shapes:
            if isinstance(shape, Text):
                texts.append(shape)
            elif isinstance(shape, Line):
                canvas.setLineWidth(shape.width)
                if shape.dash:
                    canvas.setLineCap(1)
                    canvas.setDash(*shape.dash)
                canvas.line(shape.x1, high - shape.y1, shape.x2, high - shape.y2)
                if shape.dash:
                    canvas.setDash()
                    canvas.setLineCap(0)
            elif isinstance(shape, Box):
                canvas.setLineWidth(shape.stroke)
                canvas.setFillGray(1)
                canvas.roundRect(
                    shape.x, high - shape.y - shape.h, shape.w, shape.h, shape.radius, 1, 1
                )
                canvas.setFillGray(0)
            elif isinstance(shape, Image):
                picture(canvas, shape, high)
            elif logo:
                logo.draw(canvas, shape.x, high - shape.y)
        written = canvas.beginText()
        face = None
        for text in texts:
            if (text.face, text.size) != face:
                written.setFont(text.face, text.size)
                face = (text.face, text.size)
            written.setTextOrigin(text.x, high - text.y)
            written.textOut(text.text)
        canvas.drawText(written)
        canvas.showPage()
    canvas.save()
    return stream.getvalue()


def start(data: Path) -> harness.Make:
    for face, file in FILES.items():
        pdfmetrics.registerFont(TTFont(face, str(FONTS / file)))
    logo = Logo((data / "logo.svg").read_text())

    def make(kit: harness.Kit) -> dict[str, bytes]:
        def place_logo(out: list, x: float, y: float) -> None:
            out.append(LogoPlace(x, y))

        title = kit["paper"]["page"]["title"]
        return {
            "paper": draw(*placed.paper(kit["paper"], place_logo), title, logo),
            "labels": draw(*placed.labels(kit["labels"]), kit["labels"]["title"], None),
            "packing": draw(*placed.packing(kit["packing"]), kit["packing"]["title"], None),
        }

    return make


if __name__ == "__main__":
    harness.run(start)
