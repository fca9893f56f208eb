"""The connector's drawing against its pinout, and which cavities a fault marks."""

import math
import re
import xml.etree.ElementTree as ET

import pytest

from linkcheck.faults.catalogue import FAULTS
from linkcheck.pinout import find_pinout, load_pinout
from linkcheck.report.face_svg import face_svg
from linkcheck.report.marks import place_of
from linkcheck.walk.layout import layout_of

PINOUTS = ("9-pin-type-1", "9-pin-type-2", "6-pin", "16-pin-j1962")


def pinout(name):
    return load_pinout(find_pinout(name))


def drawn(name, side, **marks):
    """Label to (x, y, classes of its marks), from the drawing alone."""
    root = ET.fromstring(face_svg(pinout(name), side, **marks))  # noqa: S314  our own
    found = {}
    for group in root.iter("g"):
        if group.get("class", "").startswith("cavity"):
            x, y = map(float, re.findall(r"-?[\d.]+", group.get("transform")))
            label = next(text.text for text in group.iter("text") if text.get("class") == "label")
            found[label] = (x, y, {circle.get("class") for circle in group.iter("circle")} - {None})
    return found


@pytest.mark.parametrize("name", PINOUTS)
def test_every_cavity_is_where_the_pinout_puts_it_and_the_wire_side_is_the_mirror(name):
    mating, wire = drawn(name, "mating"), drawn(name, "wire")
    assert set(mating) == set(wire) == {cavity.label for cavity in pinout(name).cavities}
    cavities = {cavity.label: cavity for cavity in pinout(name).cavities}
    wide = max(abs(x) for x, _, _ in mating.values()) / max(abs(each.x) for each in cavities.values())
    high = max(abs(y) for _, y, _ in mating.values()) / max(abs(each.y) for each in cavities.values())
    for label, (x, y, _) in mating.items():
        assert x == pytest.approx(cavities[label].x * wide, abs=0.2)
        assert y == pytest.approx(-cavities[label].y * high, abs=0.2)  # SVG counts downwards
        assert wire[label][:2] == pytest.approx((-x, y), abs=0.2)


@pytest.mark.parametrize("name", PINOUTS)
def test_no_cavity_covers_another(name):
    places = list(drawn(name, "mating").values())
    radius = 19 if pinout(name).shape == "circle" else 14
    for k, (x, y, _) in enumerate(places):
        assert all(math.dist((x, y), other[:2]) > 2 * radius for other in places[k + 1 :])


def test_bad_cavities_are_crossed_and_others_ringed_on_both_sides():
    for side in ("mating", "wire"):
        marks = {label: each[2] for label, each in drawn("9-pin-type-1", side, bad=["B"], behind=["C"]).items()}
        assert marks.pop("B") == {"bad"}
        assert marks.pop("C") == {"behind"}
        assert not any(marks.values())
        assert 'aria-label="' in (svg := face_svg(pinout("9-pin-type-1"), side, ["B"], ["C"]))
        assert "crossed: B; ringed: C" in svg


@pytest.mark.parametrize(
    ("fault", "bad", "behind"),
    [
        ("cavity_open:B", ["B"], []),
        ("swapped:C-D", ["C", "D"], []),
        ("leakage:B-C", ["B", "C"], []),
        ("feed_fuse_open", [], ["B"]),
        ("ground_resistance", [], ["A"]),
        ("terminator_missing", [], ["C", "D"]),
        ("short:can_low-battery", [], ["D"]),
        ("short:can_high-shield", [], ["C", "E"]),
        ("stub_open:high", [], ["C"]),
        ("backbone_open:both", [], ["C", "D"]),
        ("short:j1708_minus-ground", [], ["G"]),
        ("j1708_open:plus", [], ["F"]),
        ("battery_low", [], []),
        ("module_open:high", [], []),
        ("adapter_power", [], []),
    ],
)
def test_where_a_fault_is(fault, bad, behind):
    assert place_of([fault], layout_of(pinout("9-pin-type-1"))) == (bad, behind)


def test_every_fault_marks_what_is_on_the_connector_and_wiring_faults_mark_something():
    elsewhere = {"none", "battery_low", "battery_connection", "key_supply_dead", "bit_rate"}
    for name in PINOUTS:
        layout = layout_of(pinout(name))
        labels = {cavity.label for cavity in pinout(name).cavities}
        for fault in layout.faults():
            place = place_of([fault], layout)
            assert {*place.bad, *place.behind} <= labels
            assert not set(place.bad) & set(place.behind)
            if fault not in elsewhere and FAULTS[fault].subsystem in ("supply", "can", "j1708"):
                assert place.bad or place.behind, fault
