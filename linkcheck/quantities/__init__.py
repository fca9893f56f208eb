"""Readings, units and the meter that took them. Pure, and light: pint is loaded at the first text with a unit.

`entry` reads what a meter shows, `meter` says how far to believe it, `registry` reads the quantities in files.
"""

from linkcheck.quantities.entry import Quantity, Reading, read_reading
from linkcheck.quantities.meter import Meter
from linkcheck.quantities.registry import in_unit

__all__ = ["Meter", "Quantity", "Reading", "in_unit", "read_reading"]
