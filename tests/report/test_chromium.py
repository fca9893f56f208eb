"""The pages in a browser: nothing sticks out on a phone or a tablet, and the print is whole on Letter and A4.

The same files were looked at by eye; this keeps what was seen. Skipped where headless Chromium is missing.
"""

import re
import shutil
import subprocess
from xml.etree import ElementTree as ET

import msgspec
import pytest

from linkcheck.report.content import Text
from linkcheck.report.customer import LONGEST, as_customer_page
from linkcheck.report.page import as_html

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
)
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="headless Chromium is not installed")
PHONE, TABLET, DESK = (390, 844), (820, 1180), (1280, 900)  # CSS pixels of common screens
PAPERS = {"letter": (612, 792), "A4": (595, 842)}  # points: 8.5 x 11 in; 210 x 297 mm (ISO 216)
MARGIN = 36  # points; every printer reaches this far


@pytest.fixture
def browser(tmp_path):
    def run(*words):
        profile = tmp_path / "profile"
        shutil.rmtree(profile, ignore_errors=True)
        done = subprocess.run(
            [CHROMIUM, *FLAGS, f"--user-data-dir={profile}", *map(str, words)],
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )
        assert done.returncode == 0, done.stderr[-2000:]
        return done.stdout

    return run


def measured(browser, tmp_path, page, size):
    """Width and height of the content in a frame of that size, measured by a script in a copy that allows scripts.

    A frame, because a headless window has a least width of its own.
    """
    free = re.sub(r"<meta http-equiv=\"Content-Security-Policy\"[^>]*>", "", page)
    (tmp_path / "page.html").write_text(free, encoding="utf-8")
    (tmp_path / "frame.html").write_text(
        f'<!DOCTYPE html><iframe id="f" src="page.html" width="{size[0]}" height="{size[1]}" frameborder="0"></iframe>'
        "<script>onload = () => { const d = document.getElementById('f').contentDocument.documentElement;"
        "document.title = [d.clientWidth, d.scrollWidth, d.scrollHeight].join(' ') }</script>"
    )
    dom = browser("--allow-file-access-from-files", "--dump-dom", f"file://{tmp_path / 'frame.html'}")
    inner, width, height = map(int, re.search(r"<title>([\d ]+)</title>", dom)[1].split())
    assert inner == size[0]
    return width, height


@pytest.mark.parametrize("size", [PHONE, TABLET, DESK], ids=["phone", "tablet", "desk"])
@pytest.mark.parametrize("name", ["terminator", "terminal", "empty"])
def test_nothing_sticks_out(browser, tmp_path, reports, name, size):
    width, _ = measured(browser, tmp_path, as_html(reports[name]), size)
    assert width <= size[0]


@pytest.mark.parametrize("size", [PHONE, TABLET], ids=["phone", "tablet"])
@pytest.mark.parametrize("name", ["fuse", "unrepaired", "unfinished", "long"])
def test_the_customer_page_is_one_screen(browser, tmp_path, reports, name, size):
    report = reports["fuse" if name == "long" else name]
    if name == "long":
        words = "A long tale of a mouse in the fuse box and what it did there. " * 5
        report = msgspec.structs.replace(report, cause=Text(words[:LONGEST], "technician"))
    width, height = measured(browser, tmp_path, as_customer_page(report), size)
    assert width <= size[0]
    assert height <= size[1]


@pytest.mark.skipif(not shutil.which("pdftotext"), reason="pdftotext is not installed")
@pytest.mark.parametrize("paper", PAPERS)
def test_the_print_is_whole(browser, tmp_path, reports, paper):
    """Every word inside the margins of every page, and none lost beside the screen's."""
    report = reports["terminator"]
    page, pdf = tmp_path / "page.html", tmp_path / "page.pdf"
    sized = as_html(report).replace("</style>", f"@page {{ size: {paper}; }}</style>")
    page.write_text(sized, encoding="utf-8")
    browser("--no-pdf-header-footer", f"--print-to-pdf={pdf}", f"file://{page}")
    boxes = subprocess.run(["pdftotext", "-bbox", pdf, "-"], capture_output=True, text=True, check=True).stdout
    sheets = ET.fromstring(re.sub(r"<!DOCTYPE[^>]*>|xmlns=\"[^\"]*\"", "", boxes)).iter("page")  # noqa: S314
    words = []
    for sheet in sheets:
        assert (float(sheet.get("width")), float(sheet.get("height"))) == pytest.approx(PAPERS[paper], abs=1.5)
        for word in sheet.iter("word"):
            assert float(word.get("xMin")) >= MARGIN
            assert float(word.get("xMax")) <= PAPERS[paper][0] - MARGIN
            assert float(word.get("yMax")) <= PAPERS[paper][1] - MARGIN
            words.append(word.text)
    text = " ".join(words)
    for part in (report.cause, report.correction, report.confirmation):
        assert re.sub(r"(?<=\d )ohm\b", "Ω", part.text)[:80] in text
    for row in report.readings:
        for figures in row.rounds:
            for figure in figures:
                assert figure.words.replace("kohm", "kΩ").replace("ohm", "Ω") in text
    assert "Crossed" in text or "Ringed" in text
    assert len(words) > 300


@pytest.mark.skipif(not shutil.which("pdftotext"), reason="pdftotext is not installed")
def test_the_customer_page_prints_on_one_sheet(browser, tmp_path, reports):
    page, pdf = tmp_path / "page.html", tmp_path / "page.pdf"
    page.write_text(as_customer_page(reports["fuse"]), encoding="utf-8")
    browser("--no-pdf-header-footer", f"--print-to-pdf={pdf}", f"file://{page}")
    text = subprocess.run(["pdftotext", "-layout", pdf, "-"], capture_output=True, text=True, check=True).stdout
    assert text.count("\f") == 1
    assert "Repaired and checked." in text
