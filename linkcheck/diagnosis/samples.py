"""The prediction table: what every check would read on sampled trucks, for every fault and pair of faults.

A *hypothesis* is the tuple of fault ids that are present, in sorted order; `SOUND` is the empty one. The trucks are
the same under every hypothesis (truck i of one is truck i of another with another fault), so that a column minus the
sound truck's column is what the fault does.

Values in, values out: `to_bytes` and `from_bytes` leave the file, and where it is kept, to the caller; `digest` gives
it a name that changes with whatever the table depends on.
"""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.diagnosis.scale import Quantity
from linkcheck.errors import DataError

__all__ = ["ALL", "SOUND", "Hypothesis", "Observable", "Rows", "Samples", "Table", "digest", "hypothesis"]

Array = npt.NDArray[Any]
Hypothesis = tuple[str, ...]
Rows = npt.NDArray[np.intp] | slice
ALL = slice(None)
SOUND: Hypothesis = ()
FORMAT = 1


def hypothesis(*faults: str) -> Hypothesis:
    """The hypothesis that exactly these faults are present; "none" stands for no fault."""
    return tuple(sorted(set(faults) - {"none"}))


@dataclass(frozen=True, slots=True)
class Observable:
    """What the diagnosis needs to know of a check.

    Attributes:
        id: its name.
        quantity: "dc_volts", "ohms", or "category" for what is seen or shown.
        subsystem: what it shares with other checks on the same truck: "supply", "can", "j1708".
        lines: the lines it measures; high ohms with the same entry count once. Empty: it counts by itself.
        categories: the possible answers, the one that hides others first (no power, silent, errors, frames).
        mistaken: chance of another category than the true one.

    """

    id: str
    quantity: Quantity
    subsystem: str
    lines: str = ""
    categories: tuple[str, ...] = ()
    mistaken: float = 0.02


class Table:
    """Hypotheses, checks, and a prediction for each of them on each of some trucks, wherever it comes from."""

    def __init__(self, hypotheses: Sequence[Hypothesis], observables: Sequence[Observable], trucks: int) -> None:
        self.hypotheses = tuple(hypotheses)
        self.observables = tuple(observables)
        self.trucks = trucks
        self._rows = {name: k for k, name in enumerate(self.hypotheses)}
        self._columns = {each.id: k for k, each in enumerate(self.observables)}

    def row(self, which: Hypothesis) -> int:
        """Place of a hypothesis.

        Raises:
            DataError: the table has no such hypothesis.

        """
        if which not in self._rows:
            raise DataError("the table has no predictions for this.", where=" + ".join(which) or "none")
        return self._rows[which]

    def column(self, check: str) -> int:
        """Place of a check.

        Raises:
            DataError: the table has no such check.

        """
        if check not in self._columns:
            raise DataError("the table has no predictions for this check.", where=check)
        return self._columns[check]

    def predictions(self, which: Hypothesis, check: str) -> npt.NDArray[np.float32]:
        """What a check reads on the trucks of a hypothesis, float32[trucks]."""
        return np.asarray(self.of_check(check, np.array([self.row(which)]))[0])

    def of_check(self, check: str, rows: Rows = ALL, trucks: slice = ALL) -> npt.NDArray[np.float32]:
        """What a check reads under some hypotheses on some trucks, float32[rows, trucks]."""
        raise NotImplementedError

    def ends(self, check: str) -> tuple[float, float]:
        """The lowest and the highest prediction of a check."""
        raise NotImplementedError


class Samples(Table):
    """Predictions, float32[hypotheses, checks, trucks]: volts, ohms (infinite: OL), or the index of a category."""

    def __init__(
        self, hypotheses: Sequence[Hypothesis], observables: Sequence[Observable], values: npt.NDArray[np.float32]
    ) -> None:
        if values.shape[:2] != (len(hypotheses), len(observables)):
            raise DataError(f"predictions of shape {values.shape} do not fit {len(hypotheses)} x {len(observables)}.")
        super().__init__(hypotheses, observables, int(values.shape[2]))
        self.values = values

    def of_check(self, check: str, rows: Rows = ALL, trucks: slice = ALL) -> npt.NDArray[np.float32]:
        """What a check reads under some hypotheses on some trucks, float32[rows, trucks]."""
        return np.asarray(self.values[rows, self.column(check), trucks])

    def ends(self, check: str) -> tuple[float, float]:
        """The lowest and the highest prediction of a check."""
        found = self.of_check(check)
        return float(found.min()), float(found.max())

    def with_rows(self, more: Sequence[Hypothesis], values: npt.NDArray[np.float32]) -> Samples:
        """The table with hypotheses added, or replaced where it has them already."""
        new = dict(zip(more, values, strict=True))
        kept = [k for k, name in enumerate(self.hypotheses) if name not in new]
        return Samples(
            [*(self.hypotheses[k] for k in kept), *new],
            self.observables,
            np.concatenate([self.values[kept], np.stack(list(new.values()))]) if new else self.values,
        )

    def to_bytes(self) -> bytes:
        """The table as a compressed numpy archive."""
        head = {
            "format": FORMAT,
            "hypotheses": self.hypotheses,
            "observables": [asdict(each) for each in self.observables],
        }
        store = io.BytesIO()
        np.savez_compressed(store, head=np.frombuffer(json.dumps(head).encode(), np.uint8), values=self.values)
        return store.getvalue()

    @classmethod
    def from_bytes(cls, data: bytes) -> Samples:
        """A table from `to_bytes`.

        Raises:
            DataError: the bytes are damaged or of another format.

        """
        try:
            with np.load(io.BytesIO(data), allow_pickle=False) as archive:
                head = json.loads(archive["head"].tobytes())
                values = archive["values"]
            if head["format"] != FORMAT or values.dtype != np.float32:
                raise DataError("the table of predictions is of another format.", todo="Build it anew.")
            observables = [
                Observable(**{**each, "categories": tuple(each["categories"])}) for each in head["observables"]
            ]
            return cls([tuple(each) for each in head["hypotheses"]], observables, values)
        except (OSError, EOFError, KeyError, TypeError, ValueError, zipfile.BadZipFile) as error:
            raise DataError("the table of predictions is damaged.", todo="Build it anew.") from error


def digest(parts: Iterable[str]) -> str:
    """A name for what depends on these texts, in this order: 32 hexadecimal digits."""
    total = hashlib.sha256()
    for part in parts:
        total.update(hashlib.sha256(part.encode()).digest())
    return total.hexdigest()[:32]
