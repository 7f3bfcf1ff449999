"""Headless Chromium with one browser kept open: HTML to PDF over the DevTools
protocol, by its pipe.

A tab has fonts and style sheet loaded once; a kit's documents are put into it one
after the other and printed. `--workers` is the number of tabs. With
`--variant tagged` the PDFs are tagged, as the program's are.
"""

import base64
import json
import os
import queue
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import harness
import html_pages

FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
    "--remote-debugging-pipe",
]
PATIENCE = 60  # seconds

SHOW = """
async function show(style, body) {
  document.getElementById("own").textContent = style;
  document.body.innerHTML = body;
  await Promise.all(Array.from(document.images, image => image.decode()));
}
"""


class Browser:
    """A browser and the pipe to it. Messages end with a zero byte."""

    def __init__(self, folder: Path):
        command_in, self.commands = os.pipe()
        self.answers, answer_out = os.pipe()
        line = (
            f'exec chromium {" ".join(FLAGS)} --user-data-dir="$0" 3<&{command_in} 4>&{answer_out}'
        )
        self.process = subprocess.Popen(
            ["bash", "-c", line, str(folder / "profile")],
            pass_fds=(command_in, answer_out),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        os.close(command_in)
        os.close(answer_out)
        self.lock = threading.Lock()
        self.last = 0
        self.waiting: dict[int, queue.Queue] = {}
        threading.Thread(target=self.listen, daemon=True).start()

    def listen(self) -> None:
        parts: list[bytes] = []
        while piece := os.read(self.answers, 1 << 20):
            *ends, rest = piece.split(b"\0")
            for end in ends:
                message = json.loads(b"".join([*parts, end]))
                parts = []
                # What has no number is an event; none is needed here.
                if waiting := self.waiting.pop(message.get("id"), None):
                    waiting.put(message)
            parts.append(rest)

    def ask(self, method: str, session: str | None = None, **parameters) -> dict:
        answer: queue.Queue = queue.Queue()
        with self.lock:
            self.last += 1
            number = self.last
            self.waiting[number] = answer
            message = {"id": number, "method": method, "params": parameters}
            if session:
                message["sessionId"] = session
            data = json.dumps(message).encode() + b"\0"
            while data:
                data = data[os.write(self.commands, data) :]
        message = answer.get(timeout=PATIENCE)
        if "error" in message:
            raise RuntimeError(f"{method}: {message['error']['message']}")
        return message["result"]

    def close(self) -> None:
        self.ask("Browser.close")
        self.process.wait(PATIENCE)


class Tab:
    """A page with fonts and style sheet."""

    def __init__(self, browser: Browser, frame: Path, tagged: bool):
        self.browser, self.tagged = browser, tagged
        target = browser.ask("Target.createTarget", url=frame.as_uri())["targetId"]
        attached = browser.ask("Target.attachToTarget", targetId=target, flatten=True)
        self.session = attached["sessionId"]
        loaded = (
            "new Promise(done => document.readyState == 'complete' ? done() : addEventListener('load', done))"
            ".then(() => Promise.all(Array.from(document.fonts, font => font.load())))"
            ".then(fonts => fonts.length)"
        )
        begin = time.monotonic()
        # The tab first shows an empty page, then the frame.
        while self.run(loaded) != 3:
            if time.monotonic() - begin > PATIENCE:
                raise RuntimeError("the fonts of the frame were not loaded")

    def run(self, expression: str):
        answer = self.browser.ask(
            "Runtime.evaluate",
            self.session,
            expression=expression,
            awaitPromise=True,
            returnByValue=True,
        )
        if "exceptionDetails" in answer:
            raise RuntimeError(answer["exceptionDetails"]["text"])
        return answer["result"].get("value")

    def print(self, style: str, body: str) -> bytes:
        self.run(f"show({json.dumps(style)}, {json.dumps(body)})")
        answer = self.browser.ask(
            "Page.printToPDF",
            self.session,
            preferCSSPageSize=True,
            printBackground=True,
            generateTaggedPDF=self.tagged,
            generateDocumentOutline=False,
        )
        return base64.b64decode(answer["data"])


def frame_of(folder: Path) -> Path:
    def inlined(path: Path) -> str:
        return "data:font/ttf;base64," + base64.b64encode(path.read_bytes()).decode()

    frame = folder / "frame.html"
    frame.write_text(
        f'<!doctype html><html lang="en"><meta charset="utf-8"><title>Kit</title>'
        f"<style>{html_pages.font_faces(inlined)}{html_pages.CSS}</style>"
        f'<style id="own"></style><script>{SHOW}</script><body></body></html>'
    )
    return frame


def make(tab: Tab, kit: harness.Kit, logo: str) -> dict[str, bytes]:
    documents = html_pages.documents(kit, logo)
    return {name: tab.print(style, body) for name, (style, body) in documents.items()}


def main() -> None:
    args = harness.arguments()
    logo = (args.data / "logo.svg").read_text()
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as name:
        folder = Path(name)
        browser = Browser(folder)
        frame = frame_of(folder)
        tabs = [Tab(browser, frame, args.variant == "tagged") for _ in range(args.workers)]
        folders = harness.folders_of(args.data, 1 if args.once else args.limit)
        failed: list[BaseException] = []

        def work(index: int) -> None:
            try:
                for kit_folder in folders[index :: args.workers]:
                    kit = harness.read(kit_folder)
                    harness.write(args.out, kit, make(tabs[index], kit, logo))
            except BaseException as error:
                failed.append(error)

        seconds = []
        # The first round warms up.
        for _ in range(1 if args.once or args.one_pass else args.rounds + 1):
            begin = time.perf_counter()
            threads = [
                threading.Thread(target=work, args=(index,)) for index in range(args.workers)
            ]
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()
            seconds.append(time.perf_counter() - begin)
        browser.close()
        if failed:
            sys.exit(f"a tab failed: {failed[0]!r}")
        if seconds[1:]:
            harness.report(len(folders), seconds[1:])


if __name__ == "__main__":
    main()
