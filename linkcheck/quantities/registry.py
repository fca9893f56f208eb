"""Quantities written in files ("60 ohm", "12.6 V", "250 kbit/s"), turned into plain floats at one place.

One pint registry for the whole program, made when the first quantity is read: importing pint costs about 0.2 s, so
nothing here may import it at module level. The registry knows the units below and no others. Loading them takes a
twentieth of the time pint's full list does, a unit that has no business in a pinout is refused, and bits are a
dimension of their own, so that 250 kHz is not taken for a bit rate.
"""

from __future__ import annotations

import math
import re
from functools import cache
from typing import TYPE_CHECKING

from linkcheck.errors import DataError

if TYPE_CHECKING:
    from pint import UnitRegistry

__all__ = ["in_unit", "registry"]

# pint's definition language. The micro sign, the ohm sign and the Greek letters look alike and are all in use.
UNITS = """
micro- = 1e-6 = \u00b5- = \u03bc- = u-
milli- = 1e-3 = m-
centi- = 1e-2 = c-
kilo- = 1e3 = k-
mega- = 1e6 = M-
second = [time] = s
metre = [length] = m = meter
ampere = [current] = A = amp
volt = [potential] = V
ohm = volt / ampere = Ω = \u2126 = Ohm
bit = [information]
inch = 0.0254 * metre = in
foot = 12 * inch = ft = feet
"""

# A number and a unit, nothing else: pint's own parser would evaluate "9**9**9" as well.
QUANTITY = re.compile(r"\s*([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))\s*([a-zA-Z\u00b5\u03bcΩ\u2126]+²?(?:/[a-zA-Z]+)?)\s*")


@cache
def registry() -> UnitRegistry[float]:
    """The program's one unit registry."""
    from pint import UnitRegistry  # noqa: PLC0415  loaded late on purpose: see above

    units: UnitRegistry[float] = UnitRegistry(None)
    units.load_definitions(UNITS.strip().splitlines())
    return units


def in_unit(text: str, unit: str, *, where: str = "") -> float:
    """The magnitude of a quantity, in the unit asked for.

    Args:
        text: a number and a unit, such as "4.7 kohm".
        unit: the unit of the answer; the text's own must be of the same kind.
        where: the place, for the message.

    Raises:
        DataError: no number and unit, an unknown unit, or a unit of another kind.

    """
    shown = f'"{text[:40]}"'
    todo = f'Write it like "60 {unit}".'
    match = QUANTITY.fullmatch(text)
    if match is None:
        raise DataError(f"{shown} is not a number with a unit.", where=where, todo=todo)
    from pint.errors import DimensionalityError, PintError  # noqa: PLC0415  as above

    number, written = match.groups()
    try:
        value = float(registry().Quantity(float(number), registry().parse_units(written)).m_as(unit))
    except DimensionalityError as error:
        raise DataError(f"{shown} cannot be given in {unit}.", where=where, todo=todo) from error
    except (PintError, ValueError) as error:  # ValueError: pint takes "nan" for a number
        raise DataError(f"{shown} has a unit that is not known here.", where=where, todo=todo) from error
    if not math.isfinite(value):
        raise DataError(f"{shown} is too large.", where=where)
    return value
