"""The walk itself: events in, cards out. A pure state machine: no files, no clock, no screen.

Everything follows from the list of events, so undoing is an event too, and a record can be replayed or gone on with.
A round is what lies between repairs; after one, the readings that showed the fault are taken again first.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import msgspec
from msgspec import UNSET

from linkcheck.circuit import State
from linkcheck.diagnosis.explain import band
from linkcheck.diagnosis.reading import Taken
from linkcheck.diagnosis.samples import SOUND
from linkcheck.errors import DataError, UsageError
from linkcheck.faults.catalogue import FAULTS
from linkcheck.faults.fault import Proof
from linkcheck.quantities import Meter, Reading, read_reading
from linkcheck.walk.checks import CHECKS, Check
from linkcheck.walk.costs import minutes_for
from linkcheck.walk.findings import compared, finding
from linkcheck.walk.judge import Judge, Opinion
from linkcheck.walk.layout import Layout
from linkcheck.walk.messages import Answer, Back, Card, Event, Finding, Repaired, Setup, Skip, Suspects
from linkcheck.walk.reasons import why
from linkcheck.walk.steps import steps
from linkcheck.walk.table import RATES_TOGETHER

__all__ = ["Round", "Walk", "read_answer"]

METER = Meter(leads_nulled=True)
# Leads that were not nulled may add this much; counted as uncertainty, since nobody says whether they were.
LEADS_OHMS = 0.3
TALKS = Proof("listen:own", shows=("frames",))  # what every repair is for
SHOWN = 10  # suspects told after each reading
LEAST_SHARE = 0.001
EXPECT = 0.9  # of sound trucks are inside the expected band


@dataclass(frozen=True, slots=True)
class Round:
    """What was done since the start, or since the last repair.

    Attributes:
        readings: in order.
        skipped: checks that are not asked again.
        state: the truck's.
        minutes: spent.
        due: checks to make first.
        repaired: faults that were repaired before it.

    """

    readings: tuple[Taken, ...] = ()
    skipped: frozenset[str] = frozenset()
    state: State = field(default_factory=State)
    minutes: float = 0.0
    due: tuple[str, ...] = ()
    repaired: tuple[str, ...] = ()

    def after(self, check: str) -> Round:
        """The truck is in the state of this check now, and the check is not due any more."""
        return replace(
            self,
            state=CHECKS[check].state,
            minutes=self.minutes + minutes_for(CHECKS[check], self.state),
            due=tuple(name for name in self.due if name != check),
        )


def read_answer(check: Check, text: str, span: float = 0.0) -> tuple[Taken, Reading | None]:
    """A reading as the diagnosis wants it, and as it was understood (None for a word).

    Raises:
        DataError: the text is no answer to this check.

    """
    if check.quantity in ("dc_volts", "ohms"):
        reading = read_reading(text, check.quantity)
        extra = LEADS_OHMS if check.quantity == "ohms" else abs(span) / 4.0
        uncertainty = 0.0 if reading.over_range else (METER.uncertainty(reading) ** 2 + extra**2) ** 0.5
        return Taken(check.id, reading.value, uncertainty), reading
    words = check.observable.categories
    word = text.strip().lower().replace(" ", "_").replace("-", "_")
    matches = [each for each in words if each == word] or [each for each in words if word and each.startswith(word)]
    if len(matches) != 1:
        raise DataError(f'"{text.strip()}" is no answer here.', todo=f"Answer with one of {', '.join(words)}.")
    return Taken(check.id, matches[0]), None


class Walk:
    """One walk.

    Args:
        setup: what it was started with.
        layout: the connector's.
        judge: over the table of such trucks.
        events: to begin with, from a record; the setup itself is none of them.

    """

    def __init__(self, setup: Setup, layout: Layout, judge: Judge, events: Iterable[Event] = ()) -> None:
        self.setup = setup
        self.layout = layout
        self.judge = judge
        self.events: list[Event] = []
        known = {observable.id for observable in judge.samples.observables}
        self._checks = tuple(each for each in layout.checks(by_eye=setup.by_eye, looks=setup.looks) if each.id in known)
        self._rounds: list[Round] = [Round()]
        self._think()
        for event in events:
            self._apply(event)
        self._think()

    # In ----------------------------------------------------------------------------------------------------------

    def take(self, event: Event) -> None:
        """Let something happen.

        Raises:
            DataError: an answer that cannot be read; nothing has changed.
            UsageError: an event that has no place here; nothing has changed.

        """
        self._apply(event)
        self._think()

    def _apply(self, event: Event) -> None:
        match event:
            case Answer(check=check, text=text, span=span):
                taken, _ = read_answer(self._check(check), text, span)
                now = self._rounds[-1].after(check)
                self._rounds[-1] = replace(now, readings=(*now.readings, taken))
            case Skip(check=check):
                self._check(check)
                now = self._rounds[-1]
                due = tuple(name for name in now.due if name != check)
                self._rounds[-1] = replace(now, skipped=now.skipped | {check}, due=due)
            case Repaired(faults=faults):
                now = self._rounds[-1]
                due = self._to_read_again(now, faults)
                self._rounds.append(Round(state=now.state, minutes=now.minutes, due=due, repaired=tuple(faults)))
            case Back():
                self._undo()
                return
            case _:
                raise UsageError("a walk is set up once, at its start.")
        self.events.append(event)

    def _check(self, name: str) -> Check:
        if name not in CHECKS:
            raise UsageError("there is no such check.", where=name)
        return CHECKS[name]

    def _undo(self) -> None:
        """Take the last event back: all the others happen again. The record keeps the event and the undoing."""
        kept = self._effective()
        if not kept:
            raise UsageError("there is nothing to take back.")
        before, self.events, self._rounds = [*self.events, Back()], [], [Round()]
        for event in kept[:-1]:
            self._apply(event)
        self.events = before

    def _effective(self) -> list[Event]:
        """The events that stand: each `Back` takes away the one before it."""
        kept: list[Event] = []
        for event in self.events:
            if isinstance(event, Back):
                kept.pop()
            else:
                kept.append(event)
        return kept

    def _to_read_again(self, before: Round, faults: Sequence[str]) -> tuple[str, ...]:
        """What showed the faults, then what else shows that they are gone, then whether the link talks."""
        asked = {check.id for check in self._checks}
        read = [reading.check for reading in before.readings]
        gone = [proof.check for fault in faults for proof in FAULTS[fault].after]
        shown = [proof.check for fault in faults for together in FAULTS[fault].proof for proof in together]
        again = [check for check in read if check in (*shown, *gone)]
        return tuple(check for check in dict.fromkeys([*again, *gone, TALKS.check]) if check in asked)

    # Thinking ----------------------------------------------------------------------------------------------------

    def _think(self) -> None:
        now = self.now
        allowed = [check.id for check in self._checks if check.id not in now.skipped]
        self._opinion = self.judge.opinion(now.readings, now.state, allowed, now.due)

    # Out ---------------------------------------------------------------------------------------------------------

    @property
    def now(self) -> Round:
        """The round that is going on."""
        return self._rounds[-1]

    @property
    def before(self) -> Round | None:
        """The round before the last repair."""
        return self._rounds[-2] if len(self._rounds) > 1 else None

    @property
    def opinion(self) -> Opinion:
        """What is thought by now."""
        return self._opinion

    @property
    def readings(self) -> int:
        """How many readings were taken, in all rounds."""
        return sum(len(each.readings) for each in self._rounds)

    @property
    def asked(self) -> int:
        """How many checks were answered or skipped."""
        return sum(isinstance(event, Answer | Skip) for event in self._effective())

    @property
    def repair_holds(self) -> bool:
        """All that was to be read again after the repair was read, and shows that the faults are gone."""
        now = self.now
        if not now.repaired or now.due:
            return False
        asked = {check.id for check in self._checks} - now.skipped
        proofs = [*(proof for fault in now.repaired for proof in FAULTS[fault].after), TALKS]
        return all(self.judge.met(proof, now.readings) for proof in proofs if proof.check in asked)

    @property
    def over(self) -> bool:
        """No further check is asked."""
        return self._opinion.next_check is None or self.repair_holds or self.readings >= self.setup.max_checks

    @property
    def check(self) -> Check | None:
        """The check to make."""
        return None if self.over else CHECKS[str(self._opinion.next_check)]

    @property
    def card(self) -> Card | None:
        """The check to make, with all that a person or a program needs for it."""
        check = self.check
        if check is None:
            return None
        rate, state = self.bit_rate(check), check.state
        plugged = state.adapter != "unplugged"
        return Card(
            n=self.asked + 1,
            id=check.id,
            quantity=check.quantity,
            red=self.layout.named(check.red),
            black=self.layout.named(check.black),
            state={
                "key": state.key,
                "battery": state.battery,
                "adapter": "plugged" if plugged else "unplugged",
                "fuse": state.fuse,
                "unplugged": sorted(state.unplugged),
            },
            do=steps(check, self.now.state, self.layout, rate),
            expect=self.expected(check),
            minutes=round(minutes_for(check, self.now.state), 1),
            why=why(self._opinion, check, self.layout),
            adapter=state.adapter if plugged else UNSET,
            bit_rate=round(rate) if check.quantity in ("listen", "heard") else UNSET,
        )

    def bit_rate(self, check: Check) -> float:
        """What the adapter is set to for a check, in bit/s."""
        rate = self.layout.equipment.bit_rate
        return RATES_TOGETHER - rate if check.other_rate else rate

    def expected(self, check: Check) -> dict[str, object]:
        """What nine of ten sound trucks show."""
        words = check.observable.categories  # the last is the good one
        if words:
            return {"shows": "silent" if check.other_rate else words[-1]}
        low, high = band(self.judge.weigher, SOUND, check.id, EXPECT)
        digits = 2 if check.quantity == "dc_volts" else 1
        figures = [None if each == float("inf") else round(each, digits) for each in (low, high)]
        return {"low": figures[0], "high": figures[1], "unit": "V" if check.quantity == "dc_volts" else "ohm"}

    @property
    def suspects(self) -> Suspects:
        """The belief: faults with their probability, most certain first."""
        belief = self._opinion.belief
        shares = [(fault, share) for fault, share in belief.of_fault.items() if share >= LEAST_SHARE]
        return Suspects(
            n=self.asked,
            suspects=[
                {"fault": self.layout.named(fault), "probability": round(share, 4)} for fault, share in shares[:SHOWN]
            ],
            none_of_these=round(belief.none_of_these, 4),
        )

    @property
    def finding(self) -> Finding:
        """What the walk has found by now; to be believed as far as it says. Where a repair holds: what was repaired."""
        possible, before = [check.id for check in self._checks], self.before
        if before is None or not self.repair_holds:
            return finding(self._opinion, self.judge, self._rounds, self.layout, possible)
        opinion = self.judge.opinion(before.readings, before.state, possible)
        return msgspec.structs.replace(
            finding(opinion, self.judge, self._rounds[:-1], self.layout, possible),
            readings=self.readings,
            minutes=round(self.now.minutes, 1),
            confirmation=" ".join(compared(before.readings, self.now.readings, self.layout)),
        )
