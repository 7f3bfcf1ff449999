"""WeasyPrint: HTML and CSS to PDF in Python.

Fonts, the parsed style sheet and the cache of pictures are kept from kit to kit.
"""

from pathlib import Path

from weasyprint import CSS, HTML
from weasyprint.text.fonts import FontConfiguration

import harness
import html_pages


def start(data: Path) -> harness.Make:
    logo = (data / "logo.svg").read_text()
    fonts = FontConfiguration()
    shared = html_pages.font_faces(lambda path: path.as_uri()) + html_pages.CSS
    style = CSS(string=shared, font_config=fonts)

    def make(kit: harness.Kit) -> dict[str, bytes]:
        files = {}
        for name, (own, body) in html_pages.documents(kit, logo).items():
            page = HTML(string=f'<html lang="en"><body>{body}</body></html>')
            sheets = [style, CSS(string=own, font_config=fonts)]
            files[name] = page.write_pdf(stylesheets=sheets, font_config=fonts)
        return files

    return make


if __name__ == "__main__":
    harness.run(start)
