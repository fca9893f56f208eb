"""What was sent against what arrived: lost, twice, out of order, changed, never sent. Values in, an account out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from linkcheck.bench.frames import BenchFrame, number_of

__all__ = ["Account", "compare", "count_numbers"]


@dataclass(frozen=True, slots=True)
class Account:
    """The outcome of one transfer.

    Attributes:
        sent, arrived: frames. lost: sent and never seen. doubled: seen once more than sent. out_of_order: seen after
            a later one. changed: arrived damaged, or never sent. examples: the first few that went wrong, in words.

    """

    sent: int
    arrived: int
    lost: int
    doubled: int
    out_of_order: int
    changed: int
    examples: tuple[str, ...] = ()

    @property
    def clean(self) -> bool:
        """Whether every frame arrived once, in order and as sent."""
        return not (self.lost or self.doubled or self.out_of_order or self.changed)

    @property
    def words(self) -> str:
        """The account in a line."""
        parts = (("lost", self.lost), ("doubled", self.doubled), ("out of order", self.out_of_order))
        wrong = [f"{count} {name}" for name, count in (*parts, ("changed", self.changed)) if count]
        return f"{self.arrived:,} of {self.sent:,} arrived" + (f"; {', '.join(wrong)}" if wrong else ", all identical")


def compare(sent: Sequence[BenchFrame], arrived: Sequence[BenchFrame]) -> Account:
    """Frames of any kind: told apart by all they hold, so a frame may be sent more than once."""
    wanted, got = Counter(sent), Counter(arrived)
    lost, strange = wanted - got, got - wanted
    doubled = sum(count for frame, count in strange.items() if frame in wanted)
    changed = strange.total() - doubled
    places: dict[BenchFrame, list[int]] = {}
    for place, frame in enumerate(sent):
        places.setdefault(frame, []).append(place)
    order = [places[frame].pop(0) for frame in arrived if places.get(frame)]
    examples = [f"never arrived: {frame.words}" for frame in lost] + [
        f"not as sent: {frame.words}" for frame in strange
    ]
    # A changed frame is also one that never arrived: it is counted once.
    return Account(
        len(sent), len(arrived), max(0, lost.total() - changed), doubled, _backward(order), changed, tuple(examples[:4])
    )


def count_numbers(run: int, first: int, sent: int, arrived: Sequence[BenchFrame], refused: int = 0) -> Account:
    """Numbered frames, which may be too many to compare one by one; `refused` were never sent, and are not lost."""
    numbers = [number_of(run, frame) for frame in arrived]
    good = [number for number in numbers if number is not None and first <= number < first + sent]
    changed = len(numbers) - len(good)
    seen = Counter(good)
    lost = sent - len(seen)
    examples = [f"not as sent: {frame.words}" for frame, n in zip(arrived, numbers, strict=True) if n is None][:4]
    return Account(
        sent,
        len(arrived),
        max(0, lost - changed - refused),
        len(good) - len(seen),
        _backward(good),
        changed,
        tuple(examples),
    )


def _backward(numbers: Sequence[int]) -> int:
    """How many come after a later one; a repetition is no disorder."""
    highest, count = -1, 0
    for number in numbers:
        count += number < highest
        highest = max(highest, number)
    return count
