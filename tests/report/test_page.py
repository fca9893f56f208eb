"""The pages: valid HTML (html5lib follows the WHATWG parser), nothing from outside, nothing that was typed runs."""

import base64
import re
import xml.etree.ElementTree as ET

import html5lib
import msgspec
import pytest

from linkcheck.jobs.events import Intake, Note, Photo
from linkcheck.jobs.store import open_store
from linkcheck.report.compose import compose
from linkcheck.report.customer import as_customer_page
from linkcheck.report.page import as_html

NAMES = ["fuse", "terminator", "terminal", "unrepaired", "unfinished", "stated", "empty"]
PAGES = [as_html, as_customer_page]
HTML = "{http://www.w3.org/1999/xhtml}"
# The one-pixel picture that browsers take as a PNG, made by hand from W3C PNG's own chunks.
PIXEL = base64.b64decode(
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNkYPhfDwAChwGA60e6kgAAAABJRU5ErkJggg=="
)


def parsed(page):
    """The tree; any error of the parser is raised."""
    return html5lib.HTMLParser(strict=True).parse(page)


@pytest.mark.parametrize("face", PAGES)
@pytest.mark.parametrize("name", NAMES)
def test_the_page_is_valid_and_needs_nothing_from_outside(reports, name, face):
    page = face(reports[name])
    tree = parsed(page)
    assert tree.find(f"{HTML}head/{HTML}title").text
    for element in tree.iter():
        assert element.tag not in (f"{HTML}script", f"{HTML}link", f"{HTML}iframe", f"{HTML}object", f"{HTML}base")
        for attribute, value in element.attrib.items():
            assert not attribute.startswith("on")
            if attribute in ("src", "href", "action", "data") or attribute.endswith("href"):
                assert value.startswith("data:image/")
    # W3C Content Security Policy 3, 6.6: with this a browser would refuse whatever the rest of this test missed.
    (policy,) = [meta.get("content") for meta in tree.iter(f"{HTML}meta") if meta.get("http-equiv")]
    assert policy.startswith("default-src 'none';")
    assert not re.search(r"https?:|//[a-z]|url\(|@import", page.partition("data:image")[0])
    assert not re.search(r"https?:", re.sub(r"data:[^\"]*", "", page))


@pytest.mark.parametrize("name", NAMES)
def test_rules_of_the_standard_that_a_parser_does_not_hold(reports, name):
    """HTML Standard: one h1, unique ids (3.2.6), an alt on every img (4.8.4.4), table rows of equal width (4.9.12)."""
    tree = parsed(as_html(reports[name]))
    assert len(list(tree.iter(f"{HTML}h1"))) == 1
    ids = [element.get("id") for element in tree.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    assert all(image.get("alt") for image in tree.iter(f"{HTML}img"))
    for table in tree.iter(f"{HTML}table"):
        assert len({len(list(row)) for row in table.iter(f"{HTML}tr")}) == 1
        assert table.find(f"{HTML}caption") is not None


def test_plots_are_well_formed_and_the_same_every_time(reports):
    page = as_html(reports["terminator"])
    assert as_html(reports["terminator"]) == page
    addresses = re.findall(r"data:image/svg\+xml;base64,([^\"]+)", page)
    assert len(addresses) == 2
    for address in addresses:
        root = ET.fromstring(base64.b64decode(address))  # noqa: S314  our own
        assert root.tag.endswith("svg")
        assert not any(element.tag.endswith(("script", "image")) for element in root.iter())


def test_everything_the_issue_asks_for_is_on_the_page(reports):
    text = "".join(parsed(as_html(reports["terminator"])).itertext())
    for words in (
        "Complaint",
        "Cause",
        "Correction",
        "Confirmation",
        "Before the repair",
        "After the repair",
        "56.9 to 63.4 Ω",
        "120.4 Ω ▲ too high",
        "60.4 Ω ✓ ok",
        "Mating side",
        "Wire side",
        "handheld, 10 Mohm",
        "own, two channels",
        "A. Example",
        "Volts first.",
        "drops-over-bumps.log",
        "healthy.log",
        "250 kbit/s",
        "brake system controller falls silent",
        "Road test",
    ):
        assert words in text, words


def test_what_was_typed_is_shown_and_never_run(tmp_path):
    nasty = "<script>alert(1)</script> \"'><img src=x onerror=alert(1)> & {{ 7*7 }} {% raw %}"
    with open_store(tmp_path / "jobs.db") as store:
        job = store.open(store.create(Intake(unit=nasty, complaint=nasty, connector=nasty, odometer=nasty)))
        job.add(Note(nasty))
        job.add(Photo("javascript:alert(1)", nasty))
        report = compose(job.record)
    for face in PAGES:
        tree = parsed(face(report))
        tags = {element.tag.removeprefix(HTML) for element in tree.iter() if isinstance(element.tag, str)}
        assert not tags & {"script", "img"}
        assert nasty in " ".join("".join(tree.itertext()).split())


def test_a_picture_is_carried_along_and_other_files_are_not(tmp_path):
    picture, secret = tmp_path / "fuse-box.png", tmp_path / "secret.png"
    picture.write_bytes(PIXEL)
    secret.write_text("no picture at all")
    with open_store(tmp_path / "jobs.db") as store:
        job = store.open(store.create(Intake(unit="x")))
        for path in (picture, secret, tmp_path / "gone.jpg", tmp_path):
            job.add(Photo(str(path), path.stem))
        page = as_html(compose(job.record))
    assert page.count("data:image/png;base64,") == 1
    assert base64.b64encode(secret.read_bytes()).decode() not in page
    assert page.count("not found when this was written") == 3


def test_units_are_on_every_figure(reports):
    for report in reports.values():
        for row in report.readings:
            for figures in row.rounds:
                for figure in figures:
                    assert figure.words.endswith((" V", " ohm", " kohm", " Mohm")) == (figure.value is not None)


def test_a_long_job_still_makes_a_page(reports):
    many = msgspec.structs.replace(reports["fuse"], belief=reports["fuse"].belief * 6, notes=reports["fuse"].notes * 80)
    parsed(as_html(many))
