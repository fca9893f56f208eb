"""The text for the work order and the JSON."""

import json
import re
from pathlib import Path

import msgspec
import pytest

from linkcheck.report import content
from linkcheck.report.content import Report, as_json
from linkcheck.report.text import as_text

NAMES = ["fuse", "terminator", "terminal", "unrepaired", "unfinished", "stated", "empty"]
FORMAT = (Path(content.__file__).parent / "format.md").read_text()


@pytest.mark.parametrize("name", NAMES)
def test_the_text_fits_a_work_order(reports, name):
    text = as_text(reports[name])
    assert max(len(line) for line in text.splitlines()) <= 72
    assert re.findall(r"^(COMPLAINT|CAUSE|CORRECTION|CONFIRMATION)$", text, re.MULTILINE) == [
        "COMPLAINT",
        "CAUSE",
        "CORRECTION",
        "CONFIRMATION",
    ]
    assert text.isascii()


def test_the_text_has_readings_before_and_after(reports):
    text = " ".join(as_text(reports["terminator"]).split())
    assert "expected 56.9 to 63.4 ohm; before the repair: 120.4 ohm" in text
    assert "after the repair: 60.4 ohm ok" in text
    assert "before the repair, can0: 13330 frames, bus load 24.8%" in text


@pytest.mark.parametrize("name", NAMES)
def test_json_reads_back_as_the_same_report(reports, name):
    text = as_json(reports[name])
    assert msgspec.json.decode(text, type=Report) == reports[name]
    plain = json.loads(text, parse_constant=lambda word: pytest.fail(f"{word} is no JSON"))
    assert plain["schema"] == "linkcheck.report/1"


def test_the_format_page_names_every_key_of_the_report_and_its_parts():
    for kind in (Report, content.Band, content.BeliefStep, content.Cause, content.Connector, content.Figure):
        for field in msgspec.structs.fields(kind):
            assert f"`{field.encode_name}`" in FORMAT, f"{kind.__name__}.{field.encode_name}"
    for field in msgspec.structs.fields(content.ReadingRow):
        assert f"`{field.encode_name}`" in FORMAT, field.encode_name


def test_a_word_longer_than_the_line_is_broken(reports):
    long = msgspec.structs.replace(reports["empty"], technician="x" * 200)
    assert max(len(line) for line in as_text(long).splitlines()) <= 72
