"""The drawings: every cavity is there, the wire side is the mirror image, and it fits in 80 columns."""

import re

import pytest

from linkcheck.pinout import Cavity, Pinout, Role, draw_faces, find_pinout, load_pinout
from linkcheck.pinout.face import draw_face

CONNECTORS = ("9-pin-type-1", "9-pin-type-2", "6-pin", "16-pin-j1962")


def centres(drawing, width):
    """Row and column, counted from the middle of the face, of every label."""
    return {
        match[1]: (row, match.start() + match.end() - 1 - (width - 1))
        for row, line in enumerate(drawing.splitlines())
        for match in re.finditer(r"[(\[](\w+)[)\]]", line)
    }


@pytest.mark.parametrize("name", CONNECTORS)
def test_the_wire_side_is_the_mirror_image_of_the_mating_side(name):
    pinout = load_pinout(find_pinout(name))
    width = 37 if pinout.shape == "circle" else 77
    mating, wire = (centres(draw_face(pinout, side), width) for side in ("mating", "wire"))
    assert mating.keys() == wire.keys() == {cavity.label for cavity in pinout.cavities}
    assert wire == {label: (row, -column) for label, (row, column) in mating.items()}


@pytest.mark.parametrize("name", CONNECTORS)
def test_left_and_right_up_and_down_are_those_of_the_file(name):
    pinout = load_pinout(find_pinout(name))
    found = centres(draw_face(pinout, "mating"), 37 if pinout.shape == "circle" else 77)
    for one in pinout.cavities:
        for other in pinout.cavities:
            if one.x < other.x:
                assert found[one.label][1] < found[other.label][1]
            if one.y > other.y:
                assert found[one.label][0] < found[other.label][0]


@pytest.mark.parametrize("name", CONNECTORS)
def test_both_faces_fit_an_80_column_terminal_and_say_which_they_are(name):
    drawing = draw_faces(load_pinout(find_pinout(name)))
    assert max(map(len, drawing.splitlines())) <= 80
    assert drawing.count("MATING SIDE") == drawing.count("WIRE SIDE") == 1


def test_sixteen_pin_seen_from_behind_starts_with_eight():
    mating, wire = (draw_face(load_pinout(find_pinout("16-pin-j1962")), side) for side in ("mating", "wire"))
    assert re.findall(r"\((\d+)\)", mating) == [str(number) for number in range(1, 17)]
    assert re.findall(r"\((\d+)\)", wire) == [str(number) for number in (*range(8, 0, -1), *range(16, 8, -1))]


def test_leads_are_marked_on_both_faces_and_nothing_else_changes():
    pinout = load_pinout(find_pinout("9-pin-type-1"))
    drawing = draw_faces(pinout, marks={"B": "RED", "A": "BLACK"})
    assert drawing.count("[B]") == drawing.count("[A]") == drawing.count("RED") == drawing.count("BLACK") == 2
    assert drawing.count("(C)") == 2
    plain = re.sub(r"bat[+-]|[()]", "", draw_faces(pinout)).split()
    assert re.sub(r"RED|BLACK|[()\[\]]", "", drawing).split() == plain


def test_cavities_at_the_very_edge_stay_inside():
    corners = [
        Cavity(label, Role.UNUSED, x, y, "test")
        for label, x, y in (("AAA", -1, -1), ("BBB", 1, -1), ("CCC", -1, 1), ("DDD", 1, 1))
    ]
    for shape in ("circle", "rectangle", "trapezoid"):
        drawing = draw_faces(Pinout("x", "x", shape, "test", tuple(corners)))
        assert all(drawing.count(f"({label})") == 2 for label in ("AAA", "BBB", "CCC", "DDD"))
        assert max(map(len, drawing.splitlines())) <= 80
