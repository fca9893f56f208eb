"""The long run: numbered frames both ways for hours, in slices, so that it can be paused and gone on with later.

What counts is kept in a small value that is written after every slice; a run that was stopped is resumed from it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import msgspec

from linkcheck.bench.bench import Bench, Measured, rate_words, row
from linkcheck.bench.frames import numbered
from linkcheck.bench.harness import Side
from linkcheck.bench.ledger import count_numbers
from linkcheck.bench.limits import LONGEST_GAP_S
from linkcheck.bench.result import Row
from linkcheck.bench.rows_load import longest_gap_s
from linkcheck.live.port import PortLostError, PortRefusedError

__all__ = ["SoakState", "soak"]

_SLICE_FRAMES = 500
_PACE_S = 0.004  # about a third of a 250 kbit/s bus, like a lively truck
_RETRIES = 3  # a lost port is opened again, and counted


class SoakState(msgspec.Struct):
    """Where a long run stands.

    Attributes:
        seed, rate: of the run. done_s: seconds soaked. slices: of `_SLICE_FRAMES` each, both ways in turn.
        sent, lost, doubled, out_of_order, changed: frames. losses_of_port: times a port went away.

    """

    seed: int
    rate: int
    done_s: float = 0.0
    slices: int = 0
    sent: int = 0
    lost: int = 0
    doubled: int = 0
    out_of_order: int = 0
    changed: int = 0
    losses_of_port: int = 0
    longest_gap_s: float = 0.0


def soak(bench: Bench, state: SoakState, on_slice: Callable[[SoakState], None]) -> Iterator[Row]:
    """Go on with a long run up to the plan's length; `on_slice` keeps the state.

    A keyboard interrupt leaves it paused, with the state of the last whole slice.
    """
    while state.done_s < bench.plan.soak_s and state.losses_of_port < _RETRIES:
        began = bench.harness.now_ns()
        try:
            _slice(bench, state, "a" if state.slices % 2 else "b")
        except (PortLostError, PortRefusedError):
            state.losses_of_port += 1
            bench.harness.close()
        state.done_s = round(state.done_s + (bench.harness.now_ns() - began) / 1e9, 3)
        state.slices += 1
        on_slice(state)
        bench.tick(min(1.0, state.done_s / bench.plan.soak_s))
    bench.harness.close()
    yield row(
        "soak",
        "Long run",
        f"nothing lost or changed, no gap over {LONGEST_GAP_S:g} s",
        _judged(state),
        conditions=f"{rate_words(state.rate)}, {state.done_s / 60:.1f} minutes, both ways in turn, seed {state.seed}",
    )


def _slice(bench: Bench, state: SoakState, sender: Side) -> None:
    if set(bench.harness.ports) != {"a", "b"}:
        bench.harness.open_both(state.rate)
    first = state.slices * _SLICE_FRAMES
    frames = list(numbered(state.seed, _SLICE_FRAMES, first=first))
    carried = bench.harness.carry(frames, sender, pace_s=_PACE_S, while_waiting=lambda: bench.tick(None))
    arrived = [heard.frame for heard in carried.arrived]
    account = count_numbers(state.seed, first, _SLICE_FRAMES, arrived, carried.refused)
    state.sent += account.sent
    state.lost += account.lost
    state.doubled += account.doubled
    state.out_of_order += account.out_of_order
    state.changed += account.changed
    state.longest_gap_s = max(state.longest_gap_s, round(longest_gap_s(carried), 4))


def _judged(state: SoakState) -> Measured:
    wrong = state.lost + state.doubled + state.out_of_order + state.changed + state.losses_of_port
    parts = [f"{state.sent:,} frames", f"{state.lost} lost, {state.doubled} doubled, {state.out_of_order} out of order"]
    parts += [f"{state.changed} changed", f"longest gap {state.longest_gap_s * 1e3:.0f} ms"]
    parts += [f"a port went away {state.losses_of_port} times"] if state.losses_of_port else []
    good = not wrong and state.longest_gap_s <= LONGEST_GAP_S and state.sent > 0
    return Measured("pass" if good else "fail", ", ".join(parts), msgspec.to_builtins(state))
