"""Opening, and frames of every kind both ways: what must work before anything else is worth measuring."""

from __future__ import annotations

from collections.abc import Iterator

from linkcheck.bench.bench import Bench, Measured, missing_acknowledgements, rate_words, row
from linkcheck.bench.frames import every_kind
from linkcheck.bench.harness import Side
from linkcheck.bench.ledger import compare
from linkcheck.bench.result import Row
from linkcheck.frames import SENT
from linkcheck.live.port import PortRefusedError

__all__ = ["acknowledges", "every_kind_rows", "opens", "tells_status"]

_CONFIRMS = "opens, and confirms the bit rate where its protocol can"


def opens(bench: Bench) -> Iterator[Row]:
    """A opens at every rate and says so."""
    for rate in bench.plan.rates:
        try:
            port = bench.harness.open("a", rate)
        except PortRefusedError as error:
            owned = error.reason == "rate" and not bench.is_serial("a")  # the system sets its rate, not we
            note = f"{error.what} Set it there and test again." if owned else error.sentence
            found = Measured("not measured" if owned else "fail", "does not open", {"reason": error.reason}, note)
        else:
            bench.usable.add(rate)
            bench.identity = port.facts.identity
            confirmed = port.facts.bit_rate is not None
            figure = f"opens, rate {'confirmed' if confirmed else 'not confirmed'}"
            if confirmed or not bench.is_serial("a"):
                note = "" if confirmed else "this interface does not tell its rate"
                found = Measured("pass", figure, {"confirmed": confirmed}, note)
            else:
                found = Measured("fail", figure, {"confirmed": False}, "nothing tells a refusal from success")
            bench.harness.close("a")
        yield row(f"opens_{rate // 1000}k", "Opens", _CONFIRMS, found, conditions=rate_words(rate))


def tells_status(bench: Bench) -> Iterator[Row]:
    """A serial-line adapter answers when asked for its controller's status."""
    if not bench.is_serial("a"):
        found = Measured("not measured", note="only serial-line adapters are asked")
    else:
        port = bench.harness.open("a", min(bench.usable))
        answer = port.command(b"F")  # type: ignore[attr-defined]  # serial-line ports have it
        tells = bool(answer) and answer.startswith(b"F")
        figure = f"answers {answer.decode('ascii', 'replace')}" if tells else "does not answer"
        found = Measured("pass" if tells else "fail", figure, {"tells": tells})
        bench.harness.close("a")
    yield row("tells_status", "Tells its controller's status", "answers", found)


def acknowledges(bench: Bench) -> Iterator[Row]:
    """A, as the only partner, acknowledges what B sends."""
    if not bench.partner_tells():
        found = Measured("not measured", note="the partner does not report missing acknowledgements")
    else:
        rate = min(bench.usable)
        bench.harness.open_both(rate)
        missing = missing_acknowledgements(bench.poke("b", 0.3, 5), "b")
        words = "acknowledges" if not missing else f"does not acknowledge ({missing} reports at B)"
        found = Measured("fail" if missing else "pass", words, {"missing": missing})
        bench.harness.close()
    yield row("acknowledges", "Acknowledges frames", "no report at B", found, source="ISO 11898-1, ACK slot")


def every_kind_rows(bench: Bench) -> Iterator[Row]:
    """Frames of every kind arrive as they were sent, in both directions at every rate; nothing comes back twice."""
    returned = flagged = 0
    frames = every_kind(bench.seed, bench.plan.repeats)
    directions: tuple[tuple[Side, str], ...] = (("a", "sends"), ("b", "receives"))
    for rate in bench.rates():
        for sender, verb in directions:
            bench.harness.open_both(rate)
            carried = bench.harness.carry(frames, sender, window=1, while_waiting=lambda: bench.tick(None))
            account = compare(frames[: len(carried.sent)], [heard.frame for heard in carried.arrived])
            if not carried.arrived:
                bench.dead.add((rate, sender))
            good = account.clean and account.sent == len(frames)
            numbers = {"sent": account.sent, "arrived": account.arrived, "lost": account.lost}
            numbers |= {"doubled": account.doubled, "out_of_order": account.out_of_order, "changed": account.changed}
            damaged = bench.harness.ports["a"].counters().damaged
            note = "; ".join(account.examples[:2]) + (
                f"; {damaged} lines garbled on the serial line" if damaged else ""
            )
            found = Measured("pass" if good else "fail", account.words, numbers, note.strip("; "))
            conditions = f"{rate_words(rate)}, 11 and 29 bit, 0 to 8 bytes, data and remote, seed {bench.seed}"
            title = f"{verb.capitalize()} every kind of frame"
            yield row(f"kinds_{verb}_{rate // 1000}k", title, "all identical", found, conditions=conditions)
            if sender == "a":
                returned += sum(not heard.flags & SENT for heard in carried.echoes)
                flagged += sum(bool(heard.flags & SENT) for heard in carried.echoes)
    bench.harness.close()
    words = f"{returned} came back unmarked" + (f", {flagged} marked as sent" if flagged else "")
    found = Measured("fail" if returned else "pass", words, {"unmarked": returned, "marked": flagged})
    yield row("own_echo", "Own frames are not taken for received ones", "0 unmarked", found)
