"""A workaround: `diagnosis.next_check` cuts volts off a few units above 0 V, so that 11 V and 12.6 V are one bin.

Until it does not, volts are shifted below zero before the bins are cut. Remove this once `_bins` there caps only ohms.
"""

from __future__ import annotations

import math

from linkcheck.diagnosis.likelihood import Array, Column
from linkcheck.diagnosis.next_check import Chooser, Grid

__all__ = ["VoltsChooser"]


class _Shifted(Column):
    """A column of volts whose highest prediction lies at zero."""

    def __init__(self, column: Column) -> None:  # takes over what the column has worked out
        self.__dict__.update(column.__dict__)
        self._top = math.ceil(float(column.places.max()))
        self.places = column.places - self._top

    def slip(self, place: Array | float) -> Array:
        return super().slip(place + self._top)


class VoltsChooser(Chooser):
    """A chooser that tells volts apart."""

    def grid(self, check: str) -> Grid:
        """A check in bins."""
        if check not in self._grids:
            column = self.weigher.column(check)
            volts = column.observable.quantity == "dc_volts"
            self._grids[check] = Grid(_Shifted(column) if volts else column)
        return self._grids[check]
