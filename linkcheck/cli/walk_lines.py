"""A walk driven by another program: one JSON object a line, out and in, each flushed at once.

Out: check, belief, finding, error. In: {"reading": "12.41", "span": 0.2}, {"skip": true}, {"back": true}. Keys that
are not known are left alone. A line that cannot be used gets an error and the same check again; nothing is lost.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TextIO

import msgspec

from linkcheck.errors import DataError, LinkcheckError
from linkcheck.jobs.session import Session
from linkcheck.walk.checks import Check
from linkcheck.walk.messages import Answer, Back, Event, Skip
from linkcheck.walk.steps import cautions_for

__all__ = ["drive"]

LONGEST_LINE = 10_000
TODO = 'Send {"reading": "12.41"} or {"skip": true}.'


def drive(session: Session, lines: Iterable[str], out: TextIO, script: Sequence[Event] | None = None) -> None:
    """Walk to the end, or to the end of the input.

    Args:
        session: the walk.
        lines: what the driver says.
        out: where to answer.
        script: events to replay instead of what the driver says.

    """
    face = _Lines(session, out)
    face.show_check()
    session.settle()
    if script is not None:
        for event in script:
            face.take(event)
    else:
        said = iter(lines)
        while session.check is not None and (line := next(said, None)) is not None:
            try:
                face.take(_event(line, session.check))
            except LinkcheckError as error:
                face.write({"type": "error", "message": error.sentence})
                face.show_check()
    face.write(session.walk.finding)


class _Lines:
    """Writes messages; says every caution once."""

    def __init__(self, session: Session, out: TextIO) -> None:
        self._session = session
        self._out = out
        self._said: dict[int, list[str]] = {}

    def write(self, message: object) -> None:
        self._out.write(msgspec.json.encode(message).decode() + "\n")
        self._out.flush()

    def take(self, event: Event) -> None:
        self._session.take(event)
        self.write(self._session.walk.suspects)
        self.show_check()

    def show_check(self) -> None:
        """The check to make, its cautions before its steps; the same card has the same cautions when it comes again."""
        card, check = self._session.card, self._session.check
        if card is None or check is None:
            return
        if card.n not in self._said:
            shown = frozenset(text for texts in self._said.values() for text in texts)
            self._said[card.n] = cautions_for(check, self._session.pinout.cautions, shown)
        do = [*(f"Caution: {text}" for text in self._said[card.n]), *card.do]
        self.write(msgspec.structs.replace(card, do=do))


def _event(line: str, check: Check) -> Event:
    """What a driver's line means.

    Raises:
        DataError: nothing.

    """
    if len(line) > LONGEST_LINE:
        raise DataError("This line is too long.", todo=TODO)
    try:
        said = msgspec.json.decode(line)
    except (msgspec.DecodeError, UnicodeError) as error:
        raise DataError(f"This line is not JSON: {error}.", todo=TODO) from error
    if not isinstance(said, dict):
        raise DataError("This line is no JSON object.", todo=TODO)
    if said.get("back") is True:
        return Back()
    if said.get("skip") is True:
        return Skip(check.id)
    reading = said.get("reading")
    if isinstance(reading, bool) or not isinstance(reading, str | int | float):
        raise DataError("This line has no reading.", todo=TODO)
    return Answer(check.id, str(reading), _span(said.get("span")))


def _span(value: object) -> float:
    """Volts that the display bounced over; a text is read as volts.

    Raises:
        DataError: it is neither.

    """
    if value is None:
        return 0.0
    if isinstance(value, str):
        from linkcheck.quantities import read_reading  # noqa: PLC0415  only where it is a text

        return abs(read_reading(value, "dc_volts").value)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise DataError('"span" is the volts that the display bounces over.', todo=TODO)
    return abs(float(value))
