"""How an adapter behaves on a bus that is not well: alone, told to be silent, set to the wrong rate."""

from __future__ import annotations

from collections.abc import Iterator

from linkcheck.bench.bench import (
    Bench,
    Measured,
    bus_offs,
    disturbances,
    missing_acknowledgements,
    rate_words,
    row,
)
from linkcheck.bench.frames import numbered
from linkcheck.bench.harness import Carried
from linkcheck.bench.result import Row, Verdict
from linkcheck.live.port import PortRefusedError

__all__ = ["alone", "listens_only", "wrong_rate"]

_ALONE_S = 1.0


def alone(bench: Bench) -> Iterator[Row]:
    """A sends and nobody acknowledges: it must say so, turn error-passive at most, and go on once B is there."""
    rate = min(bench.usable)
    harness = bench.harness
    harness.close()
    harness.open("a", rate)
    (frame,) = numbered(bench.next_run(), 1)
    carried = Carried()
    harness.send("a", frame)
    harness.listen(carried, "a", _ALONE_S)
    reports, off = missing_acknowledgements(carried, "a"), bus_offs(carried, "a")
    harness.open("b", rate)
    after = Carried()
    harness.listen(after, "a", _ALONE_S)
    harness.close()
    arrived = any(heard.frame == frame for heard in after.arrived)
    parts = ["reported" if reports else "not reported", "went bus-off" if off else "not bus-off"]
    parts.append("sent once the partner came" if arrived else "not sent when the partner came")
    numbers = {"reports": reports, "bus_off": off, "arrived": arrived}
    good = reports and not off and arrived
    yield row(
        "alone",
        "Alone on the bus",
        "reported, not bus-off, goes on with a partner",
        Measured("pass" if good else "fail", ", ".join(parts), numbers),
        source="ISO 11898-1, fault confinement: a missing acknowledgement never leads to bus-off",
        conditions=f"{rate_words(rate)}, one frame, {_ALONE_S:g} s without a partner",
    )


def listens_only(bench: Bench) -> Iterator[Row]:
    """A, told to listen only and the only partner, must not acknowledge what B sends."""
    rate = min(bench.usable)
    harness = bench.harness
    if not bench.partner_tells():
        found = Measured("not measured", note="the partner does not report missing acknowledgements")
    else:
        harness.close()
        harness.open("b", rate)
        try:
            port = harness.open("a", rate, active=False)
        except PortRefusedError as error:
            # Whether other interfaces listen only is set outside, or their library cannot tell.
            verdict: Verdict = "fail" if bench.is_serial("a") else "not measured"
            found = Measured(verdict, "does not listen only", {"reason": error.reason}, error.sentence)
        else:
            carried = bench.poke("b", 0.3)
            silent = missing_acknowledgements(carried, "b") > 0
            words = "silent" if silent else "acknowledged although told to listen only"
            note = f"silence {port.facts.silence.value}"
            found = Measured("pass" if silent else "fail", words, {"silent": silent}, note)
    harness.close()
    yield row(
        "listens_only",
        "Listen-only is silent",
        "does not acknowledge as the only partner",
        found,
        source="ISO 11898-1, bus monitoring mode",
        conditions=f"{rate_words(rate)}, B sends one frame",
    )


def wrong_rate(bench: Bench) -> Iterator[Row]:
    """A listens at the wrong rate: it must see errors and no frames, and leave the bus alone."""
    title, limit = "Wrong bit rate, listening", "errors and no frames at A, no disturbance at B"
    harness = bench.harness
    if len(bench.usable) < 2:
        yield row("wrong_rate", title, limit, Measured("not measured", note="needs two rates at which A opens"))
        return
    right, wrong = min(bench.usable), max(bench.usable)
    harness.close()
    harness.open("b", right)
    try:
        # The partner says what is right; it is opened last so that it decides.
        harness.open("a", wrong, active=False)
    except PortRefusedError as error:
        found = Measured("not measured", note=f"A does not listen only: {error.what}")
    else:
        carried = bench.poke("b", 0.3, 3)
        errors, frames = len(carried.errors["a"]), len(carried.arrived)
        spoilt = disturbances(carried, "b")
        figure = f"{errors} errors and {frames} frames at A, {spoilt} disturbances at B"
        numbers = {"errors": errors, "frames": frames, "disturbances": spoilt}
        found = Measured("pass" if errors and not frames and not spoilt else "fail", figure, numbers)
    harness.close()
    yield row("wrong_rate", title, limit, found, conditions=f"A at {rate_words(wrong)}, B at {rate_words(right)}")
