"""Signals worth a look for plausibility, decoded as columns.

The layouts are data: `signals.dbc` beside this file, read with cantools on first use. Look-up goes by PGN, not by the
whole identifier. What a raw value means beyond a number follows SAE J1939-71 (from memory; the limits agree with
SystemsCyber/CyberTruckResources, Jupyter/J1939db.json): highest byte FE is an error, FF is not available, FB to FD are
other special cases; none of them is a measurement.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Self

import numpy as np
import numpy.typing as npt

from linkcheck.errors import DataError
from linkcheck.j1939.identifier import split

__all__ = ["Decoded", "SignalSpec", "SignalTable", "signal_table"]

_FIRST_SPECIAL, _ERROR, _NOT_AVAILABLE = 0xFB, 0xFE, 0xFF  # of the highest byte


@dataclass(frozen=True, slots=True)
class SignalSpec:
    """Where a signal sits and what it means.

    Attributes:
        name: as in the database, e.g. "battery_potential". spn, pgn: its parameter and group.
        start, size: first byte, from 0, and bytes, least significant first.
        scale, offset: value = raw * scale + offset. unit: as text, e.g. "degC".

    """

    name: str
    spn: int
    pgn: int
    start: int
    size: int
    scale: float
    offset: float
    unit: str


@dataclass(frozen=True, slots=True, eq=False)
class Decoded:
    """One signal over n frames.

    Attributes:
        spec: which. values: float64[n], NaN where nothing was measured.
        error, not_available: bool[n]; the sender says the sensor failed, or that there is none.

    """

    spec: SignalSpec
    values: npt.NDArray[np.float64]
    error: npt.NDArray[np.bool_]
    not_available: npt.NDArray[np.bool_]


class SignalTable:
    """The signals of a database, by PGN."""

    def __init__(self, specs: tuple[SignalSpec, ...]) -> None:
        self._by_pgn: dict[int, tuple[SignalSpec, ...]] = {}
        for spec in specs:
            self._by_pgn[spec.pgn] = (*self._by_pgn.get(spec.pgn, ()), spec)

    @classmethod
    def from_dbc(cls, text: str) -> Self:
        """Read the text of a database that cantools accepts.

        Raises:
            DataError: a signal that is not made of whole bytes, unsigned, lowest first.

        """
        from cantools.database.can.database import Database  # noqa: PLC0415  -- 0.15 s only a decoding run should pay

        database = Database()
        database.add_dbc_string(text)
        specs = []
        for message in database.messages:
            pgn = split(message.frame_id).pgn
            for signal in message.signals:
                if signal.is_signed or signal.byte_order != "little_endian" or signal.start % 8 or signal.length % 8:
                    raise DataError(
                        f"Signal {signal.name} of PGN {pgn} is not made of whole unsigned bytes.",
                        todo="Describe it as start|8, 16, 24 or 32@1+.",
                    )
                specs.append(
                    SignalSpec(
                        name=signal.name,
                        spn=signal.spn or 0,
                        pgn=pgn,
                        start=signal.start // 8,
                        size=signal.length // 8,
                        scale=float(signal.conversion.scale),
                        offset=float(signal.conversion.offset),
                        unit=signal.unit or "",
                    )
                )
        return cls(tuple(specs))

    @property
    def pgns(self) -> frozenset[int]:
        """Groups that carry a known signal."""
        return frozenset(self._by_pgn)

    def signals(self, pgn: int) -> tuple[SignalSpec, ...]:
        """Signals of one group; empty for an unknown one."""
        return self._by_pgn.get(pgn, ())

    def decode(
        self, pgn: int, data: npt.NDArray[np.uint8], length: npt.NDArray[np.uint8] | None = None
    ) -> dict[str, Decoded]:
        """Decode every signal of one group.

        Args:
            pgn: the group all frames belong to.
            data: uint8[n, 8] payloads.
            length: uint8[n] bytes really sent; a signal beyond them is not available. None: all eight.

        """
        return {spec.name: _decode(spec, data, length) for spec in self.signals(pgn)}


def _decode(spec: SignalSpec, data: npt.NDArray[np.uint8], length: npt.NDArray[np.uint8] | None) -> Decoded:
    end = spec.start + spec.size
    weights = 256.0 ** np.arange(spec.size)  # exact: at most 32 bits
    values = data[:, spec.start : end] @ weights * spec.scale + spec.offset
    highest = data[:, end - 1]
    sent = np.ones(len(data), np.bool_) if length is None else length >= end
    values[~sent | (highest >= _FIRST_SPECIAL)] = np.nan
    return Decoded(spec, values, sent & (highest == _ERROR), ~sent | (highest == _NOT_AVAILABLE))


@cache
def signal_table() -> SignalTable:
    """The table shipped with the program."""
    text = resources.files("linkcheck.j1939").joinpath("signals.dbc").read_text("ascii")
    return SignalTable.from_dbc(text)
