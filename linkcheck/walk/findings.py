"""The finding of a walk: complaint, cause, correction, confirmation, and the honest list where it is not proven."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Protocol

from linkcheck.diagnosis.reading import Taken
from linkcheck.diagnosis.samples import Hypothesis
from linkcheck.faults.catalogue import FAULTS, NONE_OF_THESE
from linkcheck.faults.repairs import REPAIRS
from linkcheck.walk.checks import CHECKS
from linkcheck.walk.judge import Judge, Opinion
from linkcheck.walk.layout import Layout
from linkcheck.walk.messages import Finding
from linkcheck.walk.reasons import check_words, figure_words, title

__all__ = ["compared", "finding"]

SHORT_LIST = 5
LEAST_SHARE = 0.02  # of what the short list names


class _Round(Protocol):
    @property
    def readings(self) -> tuple[Taken, ...]: ...
    @property
    def minutes(self) -> float: ...


def finding(
    opinion: Opinion, judge: Judge, rounds: Sequence[_Round], layout: Layout, possible: Sequence[str]
) -> Finding:
    """What has been found.

    Args:
        opinion: after the last reading.
        judge: who formed it.
        rounds: what was done, before and after repairs.
        layout: the connector's.
        possible: ids of the checks that could be made.

    """
    leader, readings = opinion.belief.leader, rounds[-1].readings
    unknown = opinion.belief.none_of_these >= 0.5 and not opinion.confirmed
    return Finding(
        faults=_faults(opinion, judge, readings, layout),
        confirmed=opinion.confirmed,
        readings=sum(len(each.readings) for each in rounds),
        minutes=round(rounds[-1].minutes, 1),
        repair=" ".join(_repairs(leader)) if not unknown else "Nothing yet: no known fault explains these readings.",
        root_cause=layout.named(_root_cause(leader, judge, readings)),
        then=[layout.named(each) for each in _then(opinion, possible, layout)],
        none_of_these=round(opinion.belief.none_of_these, 4),
        complaint=_complaint(rounds[0].readings),
        cause=_cause(opinion, readings, layout),
        correction=layout.named(" ".join(step for fault in leader for step in REPAIRS[FAULTS[fault].repair].steps)),
        confirmation=_confirmation(opinion, judge, rounds, layout),
    )


def _faults(opinion: Opinion, judge: Judge, readings: Sequence[Taken], layout: Layout) -> list[dict[str, Any]]:
    """Confirmed: the leader's faults. Otherwise what remains, one fault or pair after the other, and the unknown."""
    belief = opinion.belief
    shares: dict[str, float] = {}
    if opinion.confirmed or len(belief.leader) > 1:
        shares = {fault: belief.of_fault[fault] for fault in belief.leader or ("none",)}
        shares = dict(sorted(shares.items(), key=lambda item: -item[1]))
    if not opinion.confirmed:
        for fault, share in belief.of_fault.items():
            if share >= LEAST_SHARE and len(shares) < SHORT_LIST:
                shares.setdefault(fault, share)
        shares = shares or {next(iter(belief.of_fault)): next(iter(belief.of_fault.values()))}
        if belief.none_of_these >= LEAST_SHARE:
            shares[NONE_OF_THESE] = belief.none_of_these
            if belief.none_of_these >= 0.5:
                shares = dict(sorted(shares.items(), key=lambda item: -item[1]))
    return [
        {
            "fault": layout.named(fault),
            "probability": round(min(share, 1.0), 4),
            "parameters": _parameters(fault, judge, readings),
        }
        for fault, share in shares.items()
    ]


def _parameters(fault: str, judge: Judge, readings: Sequence[Taken]) -> dict[str, Any]:
    """What the proving reading says of how far the fault goes, and where."""
    if fault in ("none", NONE_OF_THESE):
        return {}
    for reading in judge.proven_by(fault, readings):
        if isinstance(reading.value, str):
            continue
        check = CHECKS[reading.check]
        figure = None if reading.value == float("inf") else round(reading.value, 3)
        found: dict[str, Any] = {"ohms" if check.quantity == "ohms" else "volts": figure}
        places = {name.split(".")[0] for name in (check.red, check.black) if name.startswith("terminator")}
        if len(places) == 1:
            found["terminator"] = int(places.pop()[-1])
        return found
    return {}


def _repairs(leader: Hypothesis) -> list[str]:
    repairs = dict.fromkeys(FAULTS[fault].repair for fault in leader or ("none",))
    return [f"{REPAIRS[name].title}." for name in repairs]


def _root_cause(leader: Hypothesis, judge: Judge, readings: Sequence[Taken]) -> str:
    sentences = []
    for fault in leader:
        known = [cause.text for cause in FAULTS[fault].causes if not _ruled_out(cause.fault, judge, readings)]
        if known:
            sentences.append(f"{FAULTS[fault].title}: look for {'; '.join(known)}.")
    return " ".join(sentences)


def _ruled_out(fault: str | None, judge: Judge, readings: Sequence[Taken]) -> bool:
    """A cause that is a fault of its own is ruled out where its proof was read and not met."""
    if fault is None:
        return False
    read = {reading.check for reading in readings}
    tried = any(proof.check in read for together in FAULTS[fault].proof for proof in together)
    return tried and not judge.proven_by(fault, readings)


def _then(opinion: Opinion, possible: Sequence[str], layout: Layout) -> list[str]:
    """What to do next: what would split what remains, what to mind, what to read after the repair."""
    leader = opinion.belief.leader
    steps: list[str] = []
    if not opinion.confirmed:
        steps += _splits(opinion, layout)
    for fault in leader:
        steps += [text for text in (FAULTS[fault].caution, REPAIRS[FAULTS[fault].repair].caution) if text]
    after = [proof.check for fault in leader for proof in FAULTS[fault].after if proof.check in possible]
    if after:
        named = "; ".join(check_words(CHECKS[check], layout) for check in dict.fromkeys(after))
        steps.append(f"After the repair read again: {named}.")
    if not leader and opinion.confirmed:
        steps.append("If the complaint comes and goes: move the harness section by section while the meter is watched.")
    return list(dict.fromkeys(steps))


def _splits(opinion: Opinion, layout: Layout) -> list[str]:
    """Sentences of the catalogue on how what remains is told apart."""
    belief = opinion.belief
    remaining = [fault for fault, share in belief.of_fault.items() if share >= LEAST_SHARE][:SHORT_LIST]
    found = []
    for fault in remaining:
        for alike in FAULTS[fault].look_alikes:
            if alike.fault in remaining:
                check = f"{check_words(CHECKS[alike.check], layout)}: " if alike.check in CHECKS else ""
                pair = f"{FAULTS[fault].title} or {FAULTS[alike.fault].title}"
                found.append(f"{pair}: {check}{alike.how}")
    if belief.none_of_these >= LEAST_SHARE:
        found.append(
            "Something the catalogue does not know is possible: take the odd readings again, then call for help."
        )
    return found


def _complaint(readings: Sequence[Taken]) -> str:
    """What did not work, as the adapter showed it, if it was asked."""
    shown = [reading.value for reading in readings if reading.check == "listen:own"]
    words = {
        "no_power": "The adapter gets no power from the connector.",
        "silent": "The adapter has power and hears nothing.",
        "errors": "The adapter hears errors only.",
        "frames": "The adapter hears frames.",
    }
    return words[str(shown[0])] if shown else "No communication at the diagnostic connector."


def _cause(opinion: Opinion, readings: Sequence[Taken], layout: Layout) -> str:
    belief, leader = opinion.belief, opinion.belief.leader
    read = "; ".join(
        f"{check_words(CHECKS[each.check], layout)} {figure_words(each.value, CHECKS[each.check].quantity)}"
        for each in readings
    )
    if opinion.confirmed:
        return f"{title(leader, layout)}. Proven by {read}." if read else f"{title(leader, layout)}."
    if belief.none_of_these >= 0.5:
        return f"None of the known faults explains the readings: {read}."
    return f"Most likely: {title(leader, layout)} ({belief.probability(leader):.0%}); not proven. Readings: {read}."


def _confirmation(opinion: Opinion, judge: Judge, rounds: Sequence[_Round], layout: Layout) -> str:
    if len(rounds) > 1:
        return " ".join(compared(rounds[-2].readings, rounds[-1].readings, layout)) or "Nothing was read again."
    after = [proof for fault in opinion.belief.leader or ("none",) for proof in FAULTS[fault].after]
    met = [proof for proof in after if judge.met(proof, rounds[-1].readings)]
    if not opinion.belief.leader and met:
        return f"Good: {'; '.join(check_words(CHECKS[proof.check], layout) for proof in met)}."
    return "Not repaired yet: take the same readings again afterwards."


def compared(before: Sequence[Taken], after: Sequence[Taken], layout: Layout) -> list[str]:
    """Readings taken before and after a repair, side by side."""
    first = {reading.check: reading.value for reading in before}
    found = []
    for check, value in {reading.check: reading.value for reading in after}.items():
        quantity = CHECKS[check].quantity
        was = f"{figure_words(first[check], quantity)} before, " if check in first else ""
        found.append(f"{check_words(CHECKS[check], layout)}: {was}{figure_words(value, quantity)} now.")
    return found
