"""What needs a hand or an instrument: unplugging, a shorted pair, the supply, the resistance across the pins."""

from __future__ import annotations

from collections.abc import Iterator
from math import isinf

from linkcheck.bench.bench import NOTHING_PASSES, Bench, Measured, bus_offs, rate_words, row
from linkcheck.bench.frames import number_of, numbered
from linkcheck.bench.harness import Carried
from linkcheck.bench.limits import (
    SUPPLY_LEAST_V,
    SUPPLY_MOST_V,
    SUPPLY_SOURCE,
    TERMINATION_LEAST_OHMS,
    TERMINATION_SOURCE,
)
from linkcheck.bench.result import Row
from linkcheck.live.port import PortLostError, PortRefusedError

__all__ = ["bus_off", "replug", "supply_sweep", "termination"]

_NOT_DONE = Measured("not measured", note="left out, or nobody at the bench to do it")
_COUNT, _ENOUGH = 30, 24  # frames that show that traffic flows
SWEEP_V = (13.8, 12.0, 11.0, 10.0, 9.0, 8.0, 7.0, 6.0, 13.8, 16.0, 24.0, 28.0, 32.0, 13.8)


def _flows(bench: Bench, rate: int) -> bool:
    """Whether both sides open and most frames pass both ways; single losses are other tests' business."""
    try:
        bench.harness.open_both(rate)
        for sender in ("a", "b"):
            run = bench.next_run()
            carried = bench.harness.carry(list(numbered(run, _COUNT)), sender)
            numbers = {number_of(run, heard.frame) for heard in carried.arrived} - {None}
            if len(numbers) < _ENOUGH:
                return False
    except (PortLostError, PortRefusedError):
        return False
    finally:
        bench.harness.close()
    return True


def replug(bench: Bench) -> Iterator[Row]:
    """A is unplugged from the host while open, and put back."""
    title, limit = "Unplugged from the host and put back", "the loss is noticed, traffic flows again"
    rate = min(bench.usable)
    if bench.dead:
        yield row("replug", title, limit, NOTHING_PASSES)
        return
    bench.harness.open_both(rate)
    if not bench.hands.unplug():
        bench.harness.close()
        yield row("replug", title, limit, _NOT_DONE)
        return
    noticed = False
    try:
        for _ in range(20):
            bench.poke("a", 0.1)
    except (PortLostError, PortRefusedError):
        noticed = True
    bench.harness.close()
    bench.hands.replug()
    again = _flows(bench, rate)
    figure = f"loss {'noticed' if noticed else 'not noticed'}, traffic {'flows' if again else 'does not flow'} again"
    found = Measured("pass" if noticed and again else "fail", figure, {"noticed": noticed, "again": again})
    yield row("replug", title, limit, found, conditions=rate_words(rate))


def bus_off(bench: Bench) -> Iterator[Row]:
    """CAN high is shorted to low while A sends: that drives its controller bus-off. Without the short it comes back."""
    title, limit = "Recovery after a shorted pair", "traffic flows again"
    rate = min(bench.usable)
    if bench.dead:
        yield row("bus_off", title, limit, NOTHING_PASSES)
        return
    bench.harness.open_both(rate)
    if not bench.hands.short_pair():
        bench.harness.close()
        note = "two interfaces cannot force errors; it takes a hand to short the pair"
        yield row("bus_off", title, limit, Measured("not measured", note=note))
        return
    carried = Carried()
    try:
        for frame in numbered(bench.next_run(), 8):
            bench.harness.send("a", frame)
        bench.harness.listen(carried, "a", 0.5)
    except (PortLostError, PortRefusedError):
        pass  # some drivers say so by an error; what counts is whether it comes back
    off = bus_offs(carried, "a")
    bench.hands.open_pair()
    bench.harness.close()
    again = _flows(bench, rate)
    reached = "bus-off reported" if off else f"bus-off not reported, {len(carried.errors['a'])} errors"
    figure = f"{reached}; traffic {'flows' if again else 'does not flow'} again"
    found = Measured("pass" if again else "fail", figure, {"bus_off": off, "again": again})
    source = "ISO 11898-1, fault confinement"
    yield row(
        "bus_off", title, limit, found, source=source, conditions=f"{rate_words(rate)}, shorted by hand, reopened"
    )


def supply_sweep(bench: Bench) -> Iterator[Row]:
    """A's supply goes down and up; at each step frames must pass."""
    rate = min(bench.usable)
    steps: list[tuple[float, bool, float | None]] = []
    for share, volts in enumerate(() if bench.dead else SWEEP_V):
        if not bench.hands.set_volts(volts):
            break
        bench.tick(share / len(SWEEP_V))
        amps = bench.hands.amps()
        steps.append((volts, _flows(bench, rate), amps))
    limit = f"works from {SUPPLY_LEAST_V:g} to {SUPPLY_MOST_V:g} V"
    found = NOTHING_PASSES if bench.dead else _swept(steps)
    yield row("supply", "Supply sweep", limit, found, source=SUPPLY_SOURCE, conditions=rate_words(rate))


def _swept(steps: list[tuple[float, bool, float | None]]) -> Measured:
    if not steps:
        return _NOT_DONE
    works = sorted({volts for volts, good, _ in steps if good})
    inside = [(volts, good) for volts, good, _ in steps if SUPPLY_LEAST_V <= volts <= SUPPLY_MOST_V]
    failed = sorted({volts for volts, good in inside if not good})
    currents = [(volts, amps) for volts, _, amps in steps if amps is not None]
    figure = f"works at {works[0]:g} to {works[-1]:g} V" if works else "works at no voltage"
    figure += f", not at {', '.join(f'{volts:g}' for volts in failed)} V" if failed else ""
    if currents:
        volts, amps = max(currents, key=lambda pair: pair[1])
        figure += f"; draws at most {amps * 1e3:.0f} mA (at {volts:g} V)"
    whole = {SUPPLY_LEAST_V, SUPPLY_MOST_V} <= {volts for volts, _, _ in steps}
    numbers = {"steps": [{"volts": volts, "works": good, "amps": amps} for volts, good, amps in steps]}
    if failed:
        return Measured("fail", figure, numbers)
    return Measured(
        "pass" if whole else "no verdict", figure, numbers, "" if whole else "not the whole range was swept"
    )


def termination(bench: Bench) -> Iterator[Row]:
    """Ohms across A's CAN pins, alone: a terminator inside would be a third one on a truck."""
    ohms = bench.hands.ohms()
    limit = f"at least {TERMINATION_LEAST_OHMS / 1e3:g} kohm"
    if ohms is None:
        found = Measured("not measured", note="no reading; ohms between CAN high and low of the adapter alone")
    else:
        figure = "over range" if isinf(ohms) else f"{ohms / 1e3:.1f} kohm" if ohms >= 1e3 else f"{ohms:.1f} ohm"
        note = "" if ohms >= TERMINATION_LEAST_OHMS else "a terminator or a load inside: on a truck it is one too many"
        found = Measured(
            "pass" if ohms >= TERMINATION_LEAST_OHMS else "fail", figure, {"ohms": None if isinf(ohms) else ohms}, note
        )
    title, where = "Nothing across its CAN pins", "adapter alone, without supply"
    yield row("termination", title, limit, found, source=TERMINATION_SOURCE, conditions=where)
