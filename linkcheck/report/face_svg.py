"""The face of a connector as a drawing (SVG), from the geometry of its pinout: mating side or wire side, cavities with
their labels and roles, the bad ones crossed, those with a fault behind them ringed. Pure: a `Pinout` in, text out.

Positions are the pinout's own (x right, y up, the shell's outline at 1); the wire side is the mirror image.
"""

from __future__ import annotations

from collections.abc import Collection
from html import escape

from linkcheck.pinout import Cavity, Pinout
from linkcheck.pinout.face import Side, tag

__all__ = ["face_svg"]

TITLES: dict[Side, str] = {"mating": "Mating side, seen from the front", "wire": "Wire side, seen from behind"}
ROUND = (130.0, 130.0)  # half width and half height of what the positions are in
LONG = (260.0, 70.0)
SHELL = 1.12  # the outline is drawn a little larger, so that roles under the outermost cavities stay inside
MARGIN, CAPTION = 24.0, 22.0
ROUND_CAVITY, LONG_CAVITY = 19.0, 14.0  # radius
SLANT = 40.0  # a trapezoid's lower edge is this much shorter at either end


def face_svg(pinout: Pinout, side: Side, bad: Collection[str] = (), behind: Collection[str] = ()) -> str:
    """One face.

    Args:
        pinout: the connector.
        side: "mating" or "wire".
        bad: labels of cavities to cross.
        behind: labels of cavities to ring: the fault is behind them.

    """
    place_x, place_y = ROUND if pinout.shape == "circle" else LONG
    half_width, half_height = place_x * SHELL, place_y * SHELL
    width, height = 2 * (half_width + MARGIN), 2 * (half_height + MARGIN) + CAPTION
    marked = [f"crossed: {', '.join(bad)}"] if bad else []
    marked += [f"ringed: {', '.join(behind)}"] if behind else []
    named = "; ".join([TITLES[side], *marked])
    parts = [
        f'<svg class="face" viewBox="0 0 {width:g} {height:g}" role="img" aria-label="{escape(named)}">',
        f'<g transform="translate({half_width + MARGIN:g} {half_height + MARGIN:g})">',
        _outline(pinout.shape, half_width, half_height, side),
    ]
    for cavity in pinout.cavities:
        x = cavity.x if side == "mating" else -cavity.x
        radius = ROUND_CAVITY if pinout.shape == "circle" else LONG_CAVITY
        mark = _cross(radius + 4) if cavity.label in bad else _ring(radius + 4) if cavity.label in behind else ""
        parts.append(_cavity(cavity, x * place_x, -cavity.y * place_y, radius, mark))
    parts += [
        f'<text class="side" x="0" y="{half_height + MARGIN + 8:g}">{escape(TITLES[side])}</text>',
        "</g></svg>",
    ]
    return "".join(parts)


def _outline(shape: str, half_width: float, half_height: float, side: Side) -> str:
    if shape == "circle":
        return f'<circle class="shell" cx="0" cy="0" r="{half_width:g}"/>'
    slant = SLANT if shape == "trapezoid" else 0.0
    corners = [
        (-half_width, -half_height),
        (half_width, -half_height),
        (half_width - slant, half_height),
        (slant - half_width, half_height),
    ]
    if side == "wire":  # a mirror image; shells drawn here are alike left and right
        corners = [(-x, y) for x, y in corners]
    points = " ".join(f"{x:g},{y:g}" for x, y in corners)
    return f'<polygon class="shell" points="{points}"/>'


def _cavity(cavity: Cavity, x: float, y: float, radius: float, mark: str) -> str:
    role = "unused" if cavity.role == "unused" else "used"
    parts = [
        f'<g class="cavity {role}" transform="translate({x:.1f} {y:.1f})">',
        f"<title>{escape(cavity.label)}: {cavity.role.value.replace('_', ' ')}</title>",
        f'<circle r="{radius:g}"/>',
        f'<text class="label" y="5">{escape(cavity.label)}</text>',
        f'<text class="role" y="{radius + 15:g}">{escape(tag(cavity))}</text>',
        f"{mark}</g>",
    ]
    return "".join(parts)


def _ring(radius: float) -> str:
    return f'<circle class="behind" r="{radius:g}"/>'


def _cross(radius: float) -> str:
    """A ring, and a cross whose arms stop short of the label."""
    parts = [f'<circle class="bad" r="{radius:g}"/>']
    for x, y in ((1, 1), (1, -1), (-1, 1), (-1, -1)):
        x1, y1, x2, y2 = (f"{radius * end:.1f}" for end in (x * 0.55, y * 0.55, x, y))
        parts.append(f'<line class="bad" x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}"/>')
    return "".join(parts)
