"""The tool beside a learner: what it would probe next on this truck, why, and whom it suspects by now.

It is the walk itself, fed with those of the learner's readings that are checks of the walk; a reading between points
that the walk does not ask for is kept by the lesson and not weighed here. It knows nothing of what is hidden.
"""

from __future__ import annotations

from dataclasses import dataclass

from linkcheck.circuit import State
from linkcheck.jobs.session import Session
from linkcheck.jobs.walk_file import NoRecord
from linkcheck.practice.hidden_faults import MODULE_ADDRESSES
from linkcheck.practice.hidden_truck import Probe, Seen
from linkcheck.practice.lesson import Step
from linkcheck.walk.checks import CHECKS, HEARD, Check
from linkcheck.walk.layout import Layout
from linkcheck.walk.messages import Answer, Repaired, Setup, Suspects
from linkcheck.walk.reasons import case_for, check_words, why
from linkcheck.walk.steps import steps
from linkcheck.walk.table import RATES_TOGETHER

__all__ = ["Advice", "Adviser", "find_check", "heard_word", "probe_of"]

MOST_CHECKS = 99  # a learner may measure as long as it pleases


@dataclass(frozen=True, slots=True)
class Advice:
    """What the tool would do next.

    Attributes:
        check: the check; None where it would end here.
        probe: the same as a probe; None as above.
        words: in a line: "volts B to A".
        do: steps from the truck's state, in order.
        expect: what a sound truck shows: low, high and unit, or "shows"; empty as above.
        why: what it splits, or why there is nothing more to ask.

    """

    check: Check | None
    probe: Probe | None
    words: str
    do: tuple[str, ...]
    expect: dict[str, object]
    why: str


def probe_of(check: Check, bit_rate: float) -> Probe:
    """A check of the walk as a probe; `bit_rate` is what the truck should have, in bit/s."""
    if check.quantity in ("listen", "heard"):
        return Probe("listen", bit_rate=RATES_TOGETHER - bit_rate if check.other_rate else bit_rate)
    return Probe("ohms" if check.quantity == "ohms" else "dc_volts", check.red, check.black)


def find_check(probe: Probe, state: State, bit_rate: float) -> tuple[Check, bool] | None:
    """The check of the walk that a probe in a state is, and whether its leads are the other way round."""
    for check in CHECKS.values():
        if check.state != state or check.quantity in ("heard", "look"):
            continue
        wanted = probe_of(check, bit_rate)
        if wanted.quantity != probe.quantity:
            continue
        if probe.quantity == "listen":
            if (probe.bit_rate or bit_rate) == wanted.bit_rate:
                return check, False
        elif (probe.red, probe.black) in ((wanted.red, wanted.black), (wanted.black, wanted.red)):
            return check, probe.red != wanted.red
    return None


def heard_word(seen: Seen) -> str:
    """How many of the truck's modules the adapter hears, as the walk asks for it: "none", "some", "all"."""
    return HEARD[(len(seen.heard) > 0) + (len(seen.heard) >= len(MODULE_ADDRESSES))]


class Adviser:
    """The walk beside the learner.

    Args:
        setup: of the walk; its own by-eye checks are asked for, because a learner can see everything.
        session: where it was made before; made here otherwise, which takes a moment.

    """

    def __init__(self, setup: Setup, session: Session | None = None) -> None:
        self.session = session or Session(setup, [], NoRecord())
        self.session.settle()

    @property
    def layout(self) -> Layout:
        """The connector's."""
        return self.session.walk.layout

    @property
    def bit_rate(self) -> float:
        """What the truck should have, in bit/s."""
        return self.layout.equipment.bit_rate

    @property
    def suspects(self) -> Suspects:
        """The belief after the readings so far."""
        return self.session.walk.suspects

    def take(self, probe: Probe, state: State, seen: Seen) -> Check | None:
        """Weigh a reading, if it is a check of the walk; which one."""
        found = find_check(probe, state, self.bit_rate)
        if found is None or found[0].id not in self._known():
            return None
        check, turned = found
        asked = self.session.check
        typed = seen.typed
        if turned and check.quantity == "dc_volts":
            typed = typed.removeprefix("-") if typed.startswith("-") else f"-{typed}"
        self.session.take(Answer(check.id, typed))
        by_eye = CHECKS["heard:own"]
        if check.id == "listen:own" and (seen.heard or asked is by_eye):
            self.session.take(Answer(by_eye.id, heard_word(seen)))
        return check

    def follow(self, step: Step) -> Check | None:
        """Take in a step of the lesson; which check it was, if any."""
        if step.kind == "repair":
            self.repaired(step.fault)
        if step.probe is None or step.seen is None:
            return None
        return self.take(step.probe, step.state, step.seen)

    def repaired(self, fault: str) -> None:
        """The learner repaired something; what showed it is read again first."""
        self.session.take(Repaired([fault]))

    def advice(self, state: State) -> Advice:
        """What to do next, from the state the truck is in."""
        walk, layout = self.session.walk, self.layout
        opinion = walk.opinion
        if state != walk.now.state:  # the learner went another way, so other checks are near
            allowed = sorted(self._known() - walk.now.skipped)
            opinion = walk.judge.opinion(walk.now.readings, state, allowed, walk.now.due)
        if opinion.next_check is None:
            return Advice(None, None, "Nothing more to probe", (), {}, self._ended())
        check = CHECKS[opinion.next_check]
        return Advice(
            check,
            probe_of(check, self.bit_rate),
            check_words(check, layout).replace("_", " "),
            tuple(steps(check, state, layout, walk.bit_rate(check))),
            walk.expected(check),
            why(opinion, check, layout),
        )

    def evidence(self) -> list[str]:
        """What speaks for and against the leading suspect, reading by reading."""
        walk = self.session.walk
        return case_for(walk.opinion, walk.opinion.belief.leader, self.layout)

    def _ended(self) -> str:
        finding = self.session.walk.finding
        return finding.cause if finding.confirmed else f"{finding.cause} {' '.join(finding.then[:1])}".strip()

    def _known(self) -> set[str]:
        known = {observable.id for observable in self.session.walk.judge.samples.observables}
        return {check.id for check in self.layout.checks(by_eye=True, looks=False)} & known
