"""The sheet of a walk: all that a face shows of it, as finished values and words. Faces only lay it out.

Pure: a session in, a frozen `Sheet` out. It takes as long as explaining takes (some milliseconds), so a screen has it
made in a worker and gets the whole of it at once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from linkcheck.diagnosis.reading import Taken
from linkcheck.faults.catalogue import FAULTS, NONE_OF_THESE
from linkcheck.walk.checks import CHECKS, Check
from linkcheck.walk.engine import Walk
from linkcheck.walk.findings import compared
from linkcheck.walk.messages import Card, Finding
from linkcheck.walk.reasons import case_for, check_words, figure_words, title
from linkcheck.walk.steps import cautions_for, point_words, state_words

if TYPE_CHECKING:
    from linkcheck.jobs.session import Session

__all__ = [
    "ReadingLine",
    "Sheet",
    "Suspect",
    "Verdict",
    "expected_words",
    "finding_rows",
    "plain_title",
    "sheet_of",
    "verdict",
]

Verdict = Literal["sound", "low", "high", "other"]
CHANCES = ((0.95, "near certain"), (0.6, "likely"), (0.25, "possible"), (0.05, "less likely"), (0.0, "unlikely"))


@dataclass(frozen=True, slots=True)
class Suspect:
    """A fault it may be: title in trade words, probability, and that as a word."""

    title: str
    share: float

    @property
    def chance(self) -> str:
        """The probability in words."""
        return next(word for least, word in CHANCES if self.share >= least)


@dataclass(frozen=True, slots=True)
class ReadingLine:
    """One reading that was taken.

    Attributes:
        check: id.
        name: "ohms C to D".
        state: "battery off".
        shown: "59.8 ohm".
        expected: what a sound truck shows: "55 to 65 ohm".
        verdict: the reading beside that.

    """

    check: str
    name: str
    state: str
    shown: str
    expected: str
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class Sheet:
    """What a walk shows.

    Attributes:
        check: the check to make; None when the walk is at its end.
        card: the same with what has to be done.
        red, black: the two points in words; empty with an adapter.
        words: the answers to choose from, where a word is the answer.
        cautions: to be read before this check.
        suspects: most likely first.
        none_of_these: probability of a fault nobody listed.
        leader: what leads, in words.
        evidence: for and against the leader, weightiest first.
        readings: since the start or the last repair, in order.
        before: readings before the repair; empty without one.
        compared: what was read before and after, in sentences.
        finding: what has been found by now.
        repairable: ids of the faults that a repair would be of.

    """

    check: Check | None
    card: Card | None
    red: str
    black: str
    words: tuple[str, ...]
    cautions: tuple[str, ...]
    suspects: tuple[Suspect, ...]
    none_of_these: float
    leader: str
    evidence: tuple[str, ...]
    readings: tuple[ReadingLine, ...]
    before: tuple[ReadingLine, ...]
    compared: tuple[str, ...]
    finding: Finding
    repairable: tuple[str, ...]


def sheet_of(session: Session, acknowledged: frozenset[str] = frozenset()) -> Sheet:
    """The sheet of a walk as it stands.

    Args:
        session: the walk.
        acknowledged: cautions that were read already.

    """
    walk, check, card = session.walk, session.check, session.card
    leader = walk.opinion.belief.leader
    told = walk.suspects
    return Sheet(
        check=check,
        card=card,
        red=_point(check.red, walk) if check else "",
        black=_point(check.black, walk) if check else "",
        words=_words(check),
        cautions=tuple(cautions_for(check, session.pinout.cautions, acknowledged)) if check else (),
        suspects=tuple(Suspect(plain_title(str(each["fault"]), walk), each["probability"]) for each in told.suspects),
        none_of_these=told.none_of_these,
        leader=title(leader, walk.layout),
        evidence=tuple(case_for(walk.opinion, leader, walk.layout)) if walk.now.readings else (),
        readings=_lines(walk, walk.now.readings),
        before=_lines(walk, walk.before.readings) if walk.before else (),
        compared=tuple(compared(walk.before.readings, walk.now.readings, walk.layout)) if walk.before else (),
        finding=walk.finding,
        repairable=tuple(leader),
    )


def _point(point: str, walk: Walk) -> str:
    return point_words(point, walk.layout) if point else ""


def _words(check: Check | None) -> tuple[str, ...]:
    if check is None or check.quantity in ("dc_volts", "ohms"):
        return ()
    return check.observable.categories


def plain_title(fault: str, walk: Walk) -> str:
    """A fault's title from the id that a message carries, which has the connector's own labels."""
    if fault == NONE_OF_THESE:
        return "None of the faults known here"
    layout = walk.layout
    return layout.named(next((row.title for name, row in FAULTS.items() if layout.named(name) == fault), fault))


def _lines(walk: Walk, readings: Sequence[Taken]) -> tuple[ReadingLine, ...]:
    return tuple(_line(walk, CHECKS[reading.check], reading.value) for reading in readings)


def _line(walk: Walk, check: Check, value: float | str) -> ReadingLine:
    expect = walk.expected(check)
    return ReadingLine(
        check.id,
        check_words(check, walk.layout),
        state_words(check.state),
        figure_words(value, check.quantity),
        expected_words(expect),
        verdict(value, expect),
    )


def expected_words(expect: Mapping[str, object]) -> str:
    """What a sound truck shows: "55 to 65 ohm", "over 1 kohm, or OL", "OL", "frames"."""
    if "shows" in expect:
        return str(expect["shows"])
    low, high, unit = expect["low"], expect["high"], str(expect["unit"])
    if not isinstance(low, int | float):
        return "OL"
    if not isinstance(high, int | float):
        return f"over {_figure(low, unit)}, or OL"
    first, second = _figure(low, unit), _figure(high, unit)
    number, _, first_unit = first.partition(" ")
    return f"{number} to {second}" if second.endswith(f" {first_unit}") else f"{first} to {second}"


def _figure(value: float, unit: str) -> str:
    return figure_words(value, "dc_volts" if unit == "V" else "ohms")


def verdict(value: float | str, expect: Mapping[str, object]) -> Verdict:
    """A reading beside what a sound truck shows."""
    if isinstance(value, str):
        return "sound" if value == expect.get("shows") else "other"
    low, high = (expect.get(end) for end in ("low", "high"))
    if (isinstance(low, int | float) and value < low) or (low is None and value != float("inf")):
        return "low"
    return "high" if isinstance(high, int | float) and value > high else "sound"


def finding_rows(found: Finding) -> dict[str, str]:
    """A finding as complaint, cause, correction, confirmation; parts without words are left out."""
    rows = {
        "Complaint": found.complaint,
        "Cause": found.cause,
        "Root cause": found.root_cause,
        "Correction": f"{found.repair} {found.correction}".strip(),
        "Confirmation": found.confirmation,
        "Then": " ".join(found.then),
    }
    return {name: text for name, text in rows.items() if text}
