"""Physical signals over the capture: extremes, means, and what they were while the engine stood still.

A signal is sampled at most every 250 ms (no temperature moves faster), which keeps long captures cheap. Sums are kept
in raw counts, so the order and size of batches cannot change a mean.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from linkcheck.frames import ERROR, EXTENDED, REMOTE, FrameBatch, Marks
from linkcheck.j1939.identifier import pgns, sources
from linkcheck.j1939.signals import Decoded, SignalSpec, signal_table
from linkcheck.traffic.options import KeyTable
from linkcheck.traffic.result import SignalRow

__all__ = ["SAMPLE_NS", "STANDING_RPM", "Signals"]

SAMPLE_NS = 250_000_000
STANDING_RPM = 50.0  # below it no engine runs, and a sensor's noise stays below it
_SPEED = "engine_speed"
_PENDING = 16_384
_PENDING_PARTS = 256  # live batches are small and many


@dataclass(frozen=True, slots=True, eq=False)
class _Samples:
    """Frames to decode, as columns."""

    key: npt.NDArray[np.uint32]
    data: npt.NDArray[np.uint8]
    length: npt.NDArray[np.uint8]


@dataclass(slots=True)
class _Seen:
    """One signal of one address."""

    spec: SignalSpec
    samples: int = 0
    valid: int = 0
    errors: int = 0
    not_available: int = 0
    first: float | None = None
    last: float | None = None
    lowest: float = np.inf
    highest: float = -np.inf
    raw_sum: int = 0
    standing_count: int = 0
    standing_sum: int = 0

    def add(self, decoded: Decoded, standing: npt.NDArray[np.bool_]) -> None:
        """Count samples; `standing` tells for each whether the engine stood still."""
        self.samples += len(decoded.values)
        self.errors += int(np.count_nonzero(decoded.error))
        self.not_available += int(np.count_nonzero(decoded.not_available))
        good = ~np.isnan(decoded.values)
        values = decoded.values[good]
        if not len(values):
            return
        self.valid += len(values)
        self.first = float(values[0]) if self.first is None else self.first
        self.last = float(values[-1])
        self.lowest = min(self.lowest, float(values.min()))
        self.highest = max(self.highest, float(values.max()))
        raw = np.rint((values - self.spec.offset) / self.spec.scale).astype(np.int64)
        self.raw_sum += int(raw.sum())
        still = standing[good]
        self.standing_count += int(np.count_nonzero(still))
        self.standing_sum += int(raw[still].sum())

    def mean(self, total: int, count: int) -> float | None:
        """Mean of raw counts as a physical value."""
        return total / count * self.spec.scale + self.spec.offset if count else None


class Signals:
    """Follows the known signals of one channel. Samples are gathered and decoded some ten thousand at a time."""

    def __init__(self) -> None:
        self._table = signal_table()
        self._key_pgn = np.zeros(0, np.uint32)
        self._source = np.zeros(0, np.uint8)
        self._known = np.zeros(0, np.bool_)
        self._pending: list[_Samples] = []
        self._pending_count = 0
        self._speed = np.nan  # engine speed last heard
        self._seen: dict[tuple[str, int], _Seen] = {}

    def eat(self, batch: FrameBatch, marks: Marks, keys: KeyTable) -> None:
        """Sample a batch of one channel."""
        self._learn(keys)
        rows = np.flatnonzero(self._known.take(marks.key))
        if len(rows):
            rows = rows[_first_in_slot(batch.time_ns[rows], marks.gap_ns[rows])]
            self._pending.append(_Samples(marks.key[rows], batch.data[rows], batch.length[rows]))
            self._pending_count += len(rows)
            if self._pending_count > _PENDING or len(self._pending) > _PENDING_PARTS:
                self._settle()

    def _settle(self) -> None:
        """Decode what was gathered."""
        if not self._pending:
            return
        key, data, length = (np.concatenate([getattr(s, name) for s in self._pending]) for name in _Samples.__slots__)
        self._pending, self._pending_count = [], 0
        order = np.argsort(key, kind="stable")
        parts = np.split(order, np.flatnonzero(np.diff(key[order])) + 1)
        # The engine's state must be known before the other signals are judged.
        parts.sort(key=lambda part: not self._carries_speed(int(self._key_pgn[key[part[0]]])))
        speed_rows, speeds = np.full(1, -1), np.full(1, self._speed)
        for part in parts:
            k = key[part[0]]
            decoded = self._table.decode(int(self._key_pgn[k]), data[part], length[part])
            if _SPEED in decoded:
                speed_rows, speeds = _merge(speed_rows, speeds, part, decoded[_SPEED].values)
            latest = speeds[np.searchsorted(speed_rows, part, side="right") - 1]
            for name, column in decoded.items():
                seen = self._seen.setdefault((name, int(self._source[k])), _Seen(column.spec))
                seen.add(column, latest < STANDING_RPM)
        self._speed = float(speeds[-1])

    def _learn(self, keys: KeyTable) -> None:
        known, n = len(self._known), len(keys.identifier)
        if n > known:
            fresh = pgns(keys.identifier[known:])
            normal = keys.flags[known:] & (EXTENDED | ERROR | REMOTE) == EXTENDED
            self._key_pgn = np.concatenate([self._key_pgn, fresh])
            self._source = np.concatenate([self._source, sources(keys.identifier[known:])])
            self._known = np.concatenate([self._known, normal & np.isin(fresh, list(self._table.pgns))])

    def _carries_speed(self, pgn: int) -> bool:
        return any(spec.name == _SPEED for spec in self._table.signals(pgn))

    def rows(self) -> dict[str, SignalRow]:
        """The signals as rows of the result, named name@address."""
        self._settle()
        return {
            f"{name}@{source}": SignalRow(
                source_address=source,
                pgn=seen.spec.pgn,
                unit=seen.spec.unit,
                samples=seen.samples,
                valid=seen.valid,
                errors=seen.errors,
                not_available=seen.not_available,
                first=seen.first,
                last=seen.last,
                minimum=seen.lowest if seen.valid else None,
                maximum=seen.highest if seen.valid else None,
                mean=seen.mean(seen.raw_sum, seen.valid),
                engine_off=seen.mean(seen.standing_sum, seen.standing_count),
            )
            for (name, source), seen in sorted(self._seen.items())
        }


def _first_in_slot(time_ns: npt.NDArray[np.int64], gap_ns: npt.NDArray[np.int64]) -> npt.NDArray[np.bool_]:
    """Whether a frame is its identifier's first in its slot of time, told from the gap before it."""
    first: npt.NDArray[np.bool_] = (gap_ns < 0) | (time_ns // SAMPLE_NS != (time_ns - gap_ns) // SAMPLE_NS)
    return first


def _merge(
    rows: npt.NDArray[np.intp],
    values: npt.NDArray[np.float64],
    more: npt.NDArray[np.intp],
    new: npt.NDArray[np.float64],
) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.float64]]:
    """Engine speed by row, from one more sender of it; values that are no measurement are left out."""
    good = ~np.isnan(new)
    rows, values = np.concatenate([rows, more[good]]), np.concatenate([values, new[good]])
    order = np.argsort(rows, kind="stable")
    return rows[order], values[order]
