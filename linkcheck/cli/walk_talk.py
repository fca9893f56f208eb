"""A walk as a conversation in a plain terminal: one card a check, forgiving about what is typed, never ended by it.

Complete without colour, cursor or screen: it works over a serial console, with a screen reader, and in a pipe.
"""

from __future__ import annotations

import argparse
import textwrap
from collections.abc import Callable, Iterator, Sequence
from typing import TextIO

import msgspec

from linkcheck.cli.output import width
from linkcheck.errors import LinkcheckError
from linkcheck.jobs.session import Session
from linkcheck.jobs.sheet import expected_words, finding_rows, plain_title
from linkcheck.jobs.walk_file import write_record
from linkcheck.walk.checks import Check
from linkcheck.walk.engine import read_answer
from linkcheck.walk.findings import compared
from linkcheck.walk.messages import Answer, Back, Card, Event, Repaired, Setup, Skip
from linkcheck.walk.reasons import case_for, title
from linkcheck.walk.steps import cautions_for

__all__ = ["Talk", "ask_setup"]

DEFAULT_FILE = "walk.jsonl"
SHOWN = 6  # suspects
HELP = """\
Type what the meter shows: 12.41, 12,41 v, 340mV, 59.8, 4.7k, OL. For an adapter: no power, silent, errors, frames.
  back          take the last answer back
  skip          leave this check out
  why           what this check is for, and the case for the leading suspect
  suspects      what it may be, and how likely
  again         show this check once more
  save [FILE]   keep the walk; `linkcheck walk --resume FILE` goes on with it
  repaired      when a finding is there: the same readings are taken again
  quit          leave, with the finding so far"""


def ask_setup(setup: Setup, args: argparse.Namespace) -> Setup:
    """Ask what was not said on the command line and changes everything that follows."""
    questions: list[tuple[bool, str, dict[str, Callable[[Setup], Setup]]]] = [
        (
            args.system is None,
            "System voltage, 12 or 24? [12] ",
            {"24": lambda it: msgspec.structs.replace(it, system_volts=24.0)},
        ),
        (
            not args.no_j1708,
            "J1708 pair fitted (older trucks)? yes or no [yes] ",
            {"n": lambda it: msgspec.structs.replace(it, j1708=False)},
        ),
        (
            not args.no_shield,
            "Shield on the CAN pair? yes, no, or enter if you do not know ",
            {
                "n": lambda it: msgspec.structs.replace(it, shield=False),
                "y": lambda it: msgspec.structs.replace(it, shield=True),
            },
        ),
    ]
    for open_question, text, answers in questions:
        if open_question:
            try:
                said = input(text).strip().lower()
            except EOFError:
                break
            for start, change in answers.items():
                if said.startswith(start):
                    setup = change(setup)
    return setup


class Talk:
    """A conversation.

    Args:
        session: the walk.
        lines: what is typed.
        out: what is printed to.
        script: events of a record to replay; the conversation ends with them.

    """

    def __init__(
        self, session: Session, lines: Iterator[str] | TextIO, out: TextIO, script: Sequence[Event] | None = None
    ) -> None:
        self._session = session
        self._lines = iter(lines)
        self._out = out
        self._script = script
        self._cautions: frozenset[str] = frozenset()
        self._words = {
            "back": self._back,
            "skip": self._skip,
            "why": self._why,
            "suspects": self._suspects,
            "again": self._show,
            "help": self._help,
            "?": self._help,
            "repaired": self._repaired,
        }

    def run(self) -> None:
        """Talk until the end."""
        self._show()
        self._session.settle()
        if self._script is not None:
            for event in self._script:
                self._replay(event)
            return
        while (line := self._ask()) is not None:
            try:
                if not self._understand(line):
                    break
            except LinkcheckError as error:
                self._say(error.sentence)
        if self._session.card is not None:
            self._finding()

    # Listening ---------------------------------------------------------------------------------------------------

    def _ask(self) -> str | None:
        """A line that was typed; None at the end of the input."""
        self._out.write("> ")
        self._out.flush()
        line = next(self._lines, None)
        if line is None:
            self._out.write("\n")
        return line

    def _understand(self, line: str) -> bool:
        """Do what a line says. False: it was "quit"."""
        word, _, rest = line.strip().partition(" ")
        word = word.lower()
        if word in ("quit", "q", "exit"):
            return False
        if word == "save":
            self._save(rest.strip() or DEFAULT_FILE)
        elif not word:
            self._say("Type what the meter shows, or help.")
        elif line.strip().lower() in self._words:
            self._words[line.strip().lower()]()
        elif self._session.check is None:
            self._say("The walk has come to its end. Type repaired, back, why, suspects, save or quit.")
        else:
            self._answer(self._session.check, line.strip())
        return True

    def _replay(self, event: Event) -> None:
        word = event.text if isinstance(event, Answer) else type(event).__name__.lower()
        self._say(f"> {word}")
        self._take(event)

    # Doing -------------------------------------------------------------------------------------------------------

    def _answer(self, check: Check, text: str) -> None:
        _, reading = read_answer(check, text)
        if reading is not None:
            self._say(f"Read as {reading.understood}. {' '.join(reading.notes)}".strip())
        self._take(Answer(check.id, text))

    def _take(self, event: Event) -> None:
        self._session.take(event)
        self._say(self._lead())
        self._show()

    def _back(self) -> None:
        self._take(Back())

    def _skip(self) -> None:
        if self._session.check is None:
            self._say("There is no check to skip.")
        else:
            self._take(Skip(self._session.check.id))

    def _repaired(self) -> None:
        faults = self._session.walk.opinion.belief.leader
        if self._session.card is not None:
            self._say("The walk is still going on; type repaired when there is a finding.")
        elif not faults:
            self._say("Nothing was found that could have been repaired.")
        else:
            self._take(Repaired(list(faults)))

    def _save(self, path: str) -> None:
        write_record(path, self._session.setup, self._session.walk.events)
        self._say(f"Saved to {path}. Go on with: linkcheck walk --resume {path}")

    # Saying ------------------------------------------------------------------------------------------------------

    def _say(self, text: str, indent: str = "") -> None:
        for paragraph in text.splitlines() or [""]:
            filled = textwrap.fill(paragraph, width(), initial_indent=indent, subsequent_indent=indent)
            self._out.write(filled + "\n")

    def _help(self) -> None:
        self._out.write(HELP + "\n")

    def _lead(self) -> str:
        """The leading suspects in a line."""
        told = [self._share(each) for each in self._session.walk.suspects.suspects[:3]]
        return f"So far: {'; '.join(told)}."

    def _share(self, suspect: dict[str, object]) -> str:
        return f"{plain_title(str(suspect['fault']), self._session.walk)} {suspect['probability']:.0%}"

    def _suspects(self) -> None:
        told = self._session.walk.suspects
        for each in told.suspects[:SHOWN]:
            self._say(self._share(each), "  ")
        self._say(f"None of the faults known here {told.none_of_these:.0%}", "  ")

    def _why(self) -> None:
        walk, card = self._session.walk, self._session.card
        if card is not None:
            self._say(card.why)
        leader = walk.opinion.belief.leader
        if walk.now.readings:
            self._say(f"Readings for and against: {title(leader, walk.layout)}")
            for line in case_for(walk.opinion, leader, walk.layout):
                self._say(line, "  ")

    def _show(self) -> None:
        check, card = self._session.check, self._session.card
        if check is None or card is None:
            self._finding()
        else:
            self._warn(check)
            self._card(card)

    def _warn(self, check: Check) -> None:
        """Cautions that come due with this check; each once, and read before the check is shown."""
        due = cautions_for(check, self._session.pinout.cautions, self._cautions)
        if not due:
            return
        self._cautions |= set(due)
        self._out.write("\n")
        for text in due:
            self._say(f"! {text}")
        if self._script is None:
            self._out.write("Enter when read ")
            self._out.flush()
            next(self._lines, None)

    def _card(self, card: Card) -> None:
        self._out.write(f"\nCheck {card.n}, about {card.minutes:g} min\n")
        for number, text in enumerate(card.do, 1):
            self._say(f"{number}. {text}", "  ")
        self._say(f"A sound truck shows {expected_words(card.expect)}.", "  ")
        self._say(card.why, "  ")

    def _finding(self) -> None:
        walk = self._session.walk
        found = walk.finding
        self._out.write("\nFINDING, " + ("proven\n" if found.confirmed else "not proven\n"))
        for each in found.faults:
            self._say(self._share(each), "  ")
        for name, text in finding_rows(found).items():
            self._say(f"{name}: {text}")
        if walk.before is not None:
            self._say("Before and after:")
            for line in compared(walk.before.readings, walk.now.readings, walk.layout):
                self._say(line, "  ")
        self._say(f"{found.readings} readings, about {found.minutes:g} minutes.")
        if self._session.card is None and self._script is None and walk.opinion.belief.leader:
            self._say("Repaired? Type repaired to take the same readings again. Or back, why, suspects, save, quit.")
