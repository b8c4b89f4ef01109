"""Pages to PDF through an installed Chromium, or one of its relatives; dates taken from the trip, never the clock."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from pathlib import Path

from fieldkit.errors import OutputRefused

PAPERS = {"A4": (210, 297), "Letter": (216, 279), "A5": (148, 210)}
NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "microsoft-edge", "msedge")
_WINDOWS = (
    "Chromium/Application/chrome.exe",
    "Google/Chrome/Application/chrome.exe",
    "Microsoft/Edge/Application/msedge.exe",
)
_MAC = (
    "Chromium.app/Contents/MacOS/Chromium",
    "Google Chrome.app/Contents/MacOS/Google Chrome",
    "Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
)
_DATE = re.compile(rb"/(CreationDate|ModDate) \(D:\d{14}([^)]*)\)")


def find_browser() -> str | None:
    """Path of an installed Chromium or relative: ``$FIELDKIT_BROWSER``, the search path, then the usual places."""
    named = os.environ.get("FIELDKIT_BROWSER")
    if named:
        return named if Path(named).is_file() else None
    found = next((path for name in NAMES if (path := shutil.which(name))), None)
    return found or next((str(path) for path in _usual_places() if path.is_file()), None)


def _usual_places() -> Iterable[Path]:
    if sys.platform == "win32":
        roots = [os.environ.get(n, "") for n in ("PROGRAMFILES", "PROGRAMFILES(X86)", "LOCALAPPDATA")]
        return [Path(root) / tail for root in roots if root for tail in _WINDOWS]
    if sys.platform == "darwin":
        return [root / tail for root in (Path("/Applications"), Path.home() / "Applications") for tail in _MAC]
    return []


def need_browser() -> str:
    """The browser, or a message that says what to do without one.

    Raises
    ------
    OutputRefused
        If none is installed.
    """
    found = find_browser()
    if found is None:
        raise OutputRefused(
            "PDF needs an installed Chromium or one of its relatives, and none was found. Install one, or name it in "
            "FIELDKIT_BROWSER; or leave PDF out and print the pages from any browser's own print dialogue"
        )
    return found


def print_to_pdf(browser: str, page: Path, pdf: Path, made: date) -> None:
    """One page file to a PDF beside it.

    Parameters
    ----------
    browser : str
        As ``find_browser`` gives it.
    page, pdf : Path
        The HTML file, whose style sets the paper size, and the file to write.
    made : date
        Date written into the PDF.

    Raises
    ------
    OutputRefused
        If the browser did not make the file.
    """
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        command = [browser, "--headless", *_flags(), f"--user-data-dir={profile}", "--no-pdf-header-footer"]
        command += [f"--print-to-pdf={pdf}", page.absolute().as_uri()]
        try:
            done = subprocess.run(command, capture_output=True, timeout=300, check=False)
        except (OSError, subprocess.TimeoutExpired) as odd:
            raise OutputRefused(f"{browser} could not print {page.name}: {odd}") from None
    if not pdf.is_file():
        last = done.stderr.decode(errors="replace").strip().splitlines()[-1:]
        raise OutputRefused(f"{browser} did not print {page.name}: {' '.join(last) or 'no reason given'}")
    pdf.write_bytes(dated(pdf.read_bytes(), made))


def print_sheets(
    browser: str, sheets: Sequence[str], pdf: Path, made: date, told: Callable[[int], None] = lambda _: None
) -> None:
    """Whole pages of HTML, printed a few at a time and bound in their order into one PDF.

    A browser's time and memory grow faster than the page that it prints: many short pages stay quick where one long page does not.

    Parameters
    ----------
    sheets : sequence of str
        HTML documents; what they refer to lies beside ``pdf``.
    told : callable
        Called with the number of sheets printed after each.

    Raises
    ------
    OutputRefused
        If the browser did not print one of them.
    """
    from pypdf import PdfWriter

    def printed(number: int) -> Path:
        page, part = pdf.with_name(f".sheet-{number}.html"), pdf.with_name(f".sheet-{number}.pdf")
        page.write_text(sheets[number], encoding="utf-8", newline="\n")
        print_to_pdf(browser, page, part, made)
        page.unlink()
        return part

    if len(sheets) == 1:
        printed(0).replace(pdf)
        return
    bound = PdfWriter()
    with ThreadPoolExecutor(min(4, os.cpu_count() or 1)) as browsers:
        for number, part in enumerate(browsers.map(printed, range(len(sheets))), 1):
            bound.append(part, import_outline=False)
            part.unlink()
            told(number)
    bound.compress_identical_objects()
    bound.add_metadata({"/Producer": "fieldkit", "/CreationDate": f"D:{made:%Y%m%d}000000Z"})
    with pdf.open("wb") as out:
        bound.write(out)


def _flags() -> list[str]:
    flags = [
        "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
        "--disable-component-update", "--disable-sync", "--disable-extensions", "--host-resolver-rules=MAP * ~NOTFOUND",
    ]  # fmt: skip
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        flags.append("--no-sandbox")
    return flags


def dated(raw: bytes, made: date) -> bytes:
    """A PDF with its two dates replaced, byte for byte as long, so that nothing else moves.

    >>> from datetime import date
    >>> dated(b"/CreationDate (D:20261125023900+00'00')", date(2031, 4, 20))
    b"/CreationDate (D:20310420000000+00'00')"
    """
    stamp = made.strftime("%Y%m%d000000").encode()
    return _DATE.sub(lambda m: b"/" + m[1] + b" (D:" + stamp + m[2] + b")", raw)


def sized(html: str, paper: str) -> str:
    """A page file that asks for a paper size by a style sheet beside it (``a4.css``, ``letter.css``)."""
    return html.replace("</head>", f'<link rel="stylesheet" href="{paper.lower()}.css">\n</head>', 1)


def size_style(paper: str) -> str:
    return f"@page {{ size: {paper}; }}\n"


def folder_to_pdf(folder: Path, pages: Iterable[str], papers: Iterable[str], made: date) -> None:
    """Page files of one folder to ``<name>-<paper>.pdf`` beside them."""
    browser = need_browser()
    for paper in papers:
        style = folder / f"{paper.lower()}.css"
        style.write_text(size_style(paper), encoding="utf-8", newline="\n")
        for name in pages:
            page = folder / f"{name}.html"
            sheet = folder / f".{name}-{paper.lower()}.html"
            sheet.write_text(sized(page.read_text(encoding="utf-8"), paper), encoding="utf-8", newline="\n")
            print_to_pdf(browser, sheet, folder / f"{name}-{paper.lower()}.pdf", made)
            sheet.unlink()
        style.unlink()
