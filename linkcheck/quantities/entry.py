"""What a meter shows, typed by cold fingers, turned into a value, and stated back.

`read_reading` is forgiving about form and strict about meaning: spaces, commas, missing units, unicode signs and
"4k7" are read; another kind of quantity, "OL" on volts, or a number that could be two is refused with a sentence.
What was understood, and every assumption, is in the `Reading`. Pure text work: no pint, no files.

Choices made here, because a meter's display has no thousands separator and no megavolts (common practice, no
source): a comma is always a decimal point, and where it could have parted thousands the note says so; "m" is milli
and "M" mega on ohms, and both are milli on volts. A letter in the place of the point ("4k7", "12V4") follows
IEC 60062. Exponents are read for the sake of programs that print their numbers that way.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from linkcheck.errors import DataError

__all__ = ["Quantity", "Reading", "read_reading"]

Quantity = Literal["dc_volts", "ohms"]

SYMBOLS: dict[Quantity, str] = {"dc_volts": "V", "ohms": "Ω"}
SHORT: dict[Quantity, Literal["volts", "ohms"]] = {"dc_volts": "volts", "ohms": "ohms"}
NAMES: dict[Quantity, str] = {"dc_volts": "DC volts", "ohms": "ohms"}
EXAMPLES: dict[Quantity, str] = {"dc_volts": '"12.41" or "340 mV"', "ohms": '"59.8", "4.7k" or "OL"'}
POWERS = {"µ": -6, "m": -3, "": 0, "k": 3, "M": 6}

# No 12 or 24 V truck shows more across its data link, but a lost decimal point does. Judgement.
MOST_VOLTS = 100.0
MOST_OHMS = 1e9  # beyond the last range of a hand-held meter (common practice, no source)
LONGEST_TEXT = 40

# Signs that look alike: minus and dashes, ohm and omega, micro and mu, the spaces a keyboard or a printout adds.
ALIKE = str.maketrans(
    {"\u2212": "-", "\u2013": "-", "\u2011": "-", "\u2126": "Ω", "\u03bc": "µ", "\u2393": " dc "},
)

OVER_RANGE = re.compile(
    r"(?:\.?[o0]\.?ld?\.?|over ?(?:load|range|limit)?|open|∞)(?: ?[km]?(?:Ω|ohms?)?)?", re.IGNORECASE
)
NUMBER = re.compile(
    r"([+-]?) ?([0-9]*)[.,]?((?<=[.,])[0-9]*|)(?:e([+-]?[0-9]{1,2})(?![0-9]))? ?([^0-9]*)", re.IGNORECASE
)
LETTER_POINT = re.compile(r"([+-]?)([0-9]+)([kmrvΩ])([0-9]+) ?([^0-9]*)", re.IGNORECASE)
UNIT = re.compile(
    r"(?:(?P<early>dc|ac) )?(?P<prefix>mega|meg|kilo|kil|milli|micro|[kmµu]?) ?"
    r"(?:(?P<volts>v|volts?)|(?P<ohms>Ω|r|ohms?))? ?(?P<late>dc|ac|~)?",
    re.IGNORECASE,
)
PREFIXES = {"meg": "M", "mega": "M", "kil": "k", "kilo": "k", "K": "k", "milli": "m", "micro": "µ", "u": "µ", "U": "µ"}


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading, as it was understood.

    Attributes:
        quantity: what the meter was set to.
        value: volts or ohms; infinity for a resistance beyond the meter's range.
        resolution: volts or ohms of one step of the last digit shown; not a number beyond the range.
        understood: the reading stated back, with its unit: "12.41 V", "4.7 kΩ", "OL". Reads back to the same value.
        notes: sentences about what was assumed or looks odd; mostly empty.

    """

    quantity: Quantity
    value: float
    resolution: float
    understood: str
    notes: tuple[str, ...] = ()

    @property
    def over_range(self) -> bool:
        """More ohms than the meter can show: open, as far as it can tell."""
        return math.isinf(self.value)


def read_reading(text: str, quantity: Quantity) -> Reading:
    """Read what a meter shows.

    Args:
        text: as typed: "12.41", "12,41 v", "340mV", "4k7", "1.2 MΩ", "OL", "≈ 60 ohms".
        quantity: what the check asks for; its unit, V or Ω, is meant where the text names none.

    Raises:
        DataError: the text is no reading of this quantity; the sentence says why, and what to type.

    """
    plain = " ".join(text.translate(ALIKE).split()).lstrip("≈~= ")
    if len(plain) > LONGEST_TEXT or not plain:
        what = "There is more here than one reading." if plain else "There is no reading here."
        raise DataError(what, todo=_todo(quantity))
    if OVER_RANGE.fullmatch(plain):
        return _over_range(plain, quantity)
    number, unit = _split(plain, quantity)
    prefix, notes = _prefix(unit, plain, quantity)
    scaled = number.scaleb(POWERS[prefix])
    step = Decimal((0, (1,), int(scaled.as_tuple().exponent)))
    notes += _oddities(plain, float(scaled), quantity)
    return Reading(quantity, float(scaled), float(step), f"{number:f} {prefix}{SYMBOLS[quantity]}", notes)


def _todo(quantity: Quantity) -> str:
    return f"Type what the meter shows, like {EXAMPLES[quantity]}."


def _over_range(plain: str, quantity: Quantity) -> Reading:
    if quantity == "dc_volts":
        raise DataError(
            f'"{plain}" is no answer on DC volts: the meter is on ohms, or its range is too small.',
            todo="Set it to DC volts with automatic range and read again.",
        )
    return Reading(quantity, math.inf, math.nan, "OL", ("Over the meter's range: open, as far as it can tell.",))


def _split(plain: str, quantity: Quantity) -> tuple[Decimal, str]:
    """The number with all its digits, and what stands behind it."""
    if match := LETTER_POINT.fullmatch(plain):
        sign, whole, letter, part, unit = match.groups()
        return Decimal(f"{sign}{whole}.{part}"), letter + unit
    match = NUMBER.fullmatch(plain)
    if match is None or not (match[2] or match[3]):
        raise DataError(f'"{plain}" is not a reading.', todo=_todo(quantity))
    sign, whole, part, power, unit = match.groups()
    return Decimal(f"{sign}{whole or 0}.{part}").scaleb(int(power or 0)), unit


def _prefix(unit: str, plain: str, quantity: Quantity) -> tuple[str, tuple[str, ...]]:
    """The prefix meant ("", "k", "M", "m" or "µ") and what to say about it.

    Raises:
        DataError: the unit belongs to another quantity, or is none.

    """
    match = UNIT.fullmatch(unit.strip())
    other: Quantity = "ohms" if quantity == "dc_volts" else "dc_volts"
    if match and match[SHORT[other]]:
        raise DataError(
            f'"{plain}" is in {SHORT[other]}, and this check asks for {NAMES[quantity]}.',
            todo=f"Set the meter to {NAMES[quantity]} and read again.",
        )
    kind = match and (match["early"] or match["late"])
    if match is None or (kind and (quantity == "ohms" or kind.lower() != "dc")):
        raise DataError(
            f'The unit "{unit.strip()}" does not fit: this check asks for {NAMES[quantity]}.', todo=_todo(quantity)
        )
    written = match["prefix"]
    prefix = PREFIXES.get(written, PREFIXES.get(written.lower(), written))
    if prefix == "M" and quantity == "dc_volts":
        return "m", (f'"{written}" was read as milli.',)
    if quantity == "ohms" and written in ("m", "M"):
        return prefix, ('"M" was read as mega.' if written == "M" else '"m" was read as milli; mega is a capital M.',)
    return prefix, ()


def _oddities(plain: str, value: float, quantity: Quantity) -> tuple[str, ...]:
    """Notes about a reading that is possible but odd.

    Raises:
        DataError: the value is impossible.

    """
    if quantity == "dc_volts" and abs(value) > MOST_VOLTS:
        raise DataError(
            f'"{plain}" is more volts than this vehicle has.', todo='Check the decimal point; millivolts need "mV".'
        )
    if quantity == "ohms" and abs(value) > MOST_OHMS:
        raise DataError(f'"{plain}" is more ohms than a meter can show.', todo=_todo(quantity))
    notes: tuple[str, ...] = ()
    if re.search(r"[0-9],[0-9]{3}(?![0-9])", plain):
        notes += ("The comma was read as a decimal point.",)
    if quantity == "ohms" and value < 0:
        notes += ("Less than zero ohms: there is voltage on the circuit, or the leads were nulled too far.",)
    return notes
