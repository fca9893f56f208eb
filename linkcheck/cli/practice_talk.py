"""`linkcheck practice` as a conversation in the terminal: probe, change, repair, be told. Plain lines in, lines out."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator
from pathlib import Path
from typing import TextIO

from linkcheck.cli.output import width
from linkcheck.errors import DataError, LinkcheckError
from linkcheck.faults.catalogue import FAULTS
from linkcheck.practice.account import (
    counted,
    path_rows,
    point_label,
    seen_words,
    state_line,
    step_words,
    verdict_lines,
)
from linkcheck.practice.adviser import Adviser
from linkcheck.practice.best_path import best_path
from linkcheck.practice.hidden_truck import HiddenTruck, Probe
from linkcheck.practice.judgement import judge
from linkcheck.practice.lesson import Lesson, Step
from linkcheck.practice.setting_out import Request, practice_truck
from linkcheck.practice.words import MOVES_HELP, point_names, read_move
from linkcheck.walk.layout import Layout

__all__ = ["PracticeTalk"]

SHOWN = 6  # suspects
DEFAULT_FILE = "practice.log"
HELP = f"""\
{MOVES_HELP}
advice         what the tool would do next; do: do just that
suspects       what it may be; why: what speaks for and against
readings       what was read so far; state; points: all points
record [FILE]  record the bus with your adapter, key on, all plugged in
faults [WORD]  faults by name; repair ID: repair one, then measure again
done           what it was, and how you did; quit: leave without
Several at once, with semicolons: key on; v C A"""


class PracticeTalk:
    """A conversation at a practice truck.

    Args:
        request: what was asked for.
        truck: the truck that came of it.
        layout: the connector's.
        lines: what is typed.
        out: what is printed to.
        advised: show the tool's advice all along.

    """

    def __init__(
        self,
        request: Request,
        truck: HiddenTruck,
        layout: Layout,
        lines: Iterator[str] | TextIO,
        out: TextIO,
        *,
        advised: bool,
    ) -> None:
        self._request = request
        self._layout = layout
        self._lesson = Lesson(truck)
        self._lines = iter(lines)
        self._out = out
        self._advised = advised
        self._made: Adviser | None = None
        self._words = {
            "advice": self._advise,
            "do": self._do,
            "suspects": self._suspects,
            "why": self._why,
            "readings": self._readings,
            "state": self._state,
            "points": self._points,
            "help": self._help,
            "?": self._help,
        }

    def run(self) -> None:
        """Talk until the end."""
        volts, seed = self._request.system_volts, self._request.seed
        what = "with a fault of your choice" if self._request.faults else f"that is {self._request.difficulty}"
        self._say(
            f"Practice truck {seed}: {volts:g} V, {what}. It is invented, and nothing here can hurt. The complaint: "
            "no communication, or not with every module. Key off, battery connected, nothing plugged in."
        )
        self._say("Type v B A for volts from B to A, or help; done when you know what it is.")
        self._offer()
        while (line := self._ask()) is not None:
            for part in line.split(";"):
                try:
                    if not self._understand(part.strip()):
                        return
                except LinkcheckError as error:
                    self._say(error.sentence)

    def _ask(self) -> str | None:
        self._out.write("> ")
        self._out.flush()
        line = next(self._lines, None)
        if line is None:
            self._out.write("\n")
        return line

    def _understand(self, line: str) -> bool:
        """Do what a line says. False: the lesson is over."""
        word, _, rest = line.lower().partition(" ")
        if word in ("quit", "q", "exit"):
            return False
        if word == "done":
            self._done()
            return False
        if word == "record":
            self._record(line.partition(" ")[2].strip() or DEFAULT_FILE)
        elif word == "faults":
            self._faults(rest.strip())
        elif word == "repair":
            self._repair(line.partition(" ")[2].strip())
        elif line.lower() in self._words:
            self._words[line.lower()]()
        elif line:
            self._move(line)
        return True

    # Doing -------------------------------------------------------------------------------------------------------

    def _move(self, line: str) -> None:
        move = read_move(line, self._lesson.state, self._layout)
        if move is None:
            raise DataError(f'"{line}" is not understood.', todo="Type help.")
        if isinstance(move, Probe):
            self._probe(move)
        else:
            self._tell(self._lesson.change(move))

    def _probe(self, probe: Probe) -> None:
        step = self._lesson.probe(probe)
        self._tell(step)
        if self._made is not None:
            self._made.follow(step)
        self._offer()

    def _do(self) -> None:
        """What the tool advises."""
        advice = self._adviser().advice(self._lesson.state)
        if advice.check is None or advice.probe is None:
            self._say(f"{advice.words}. {advice.why}")
            return
        if advice.check.state != self._lesson.state:
            self._tell(self._lesson.change(advice.check.state))
        self._say(f"{advice.words}:")
        self._probe(advice.probe)

    def _repair(self, fault: str) -> None:
        step = self._lesson.repair(self._fault_id(fault))
        self._say(step.outcome)
        if self._made is not None:
            self._made.follow(step)

    def _fault_id(self, text: str) -> str:
        """An id, or the only fault whose id or title has these words in it."""
        if text in FAULTS:
            return text
        found = _faults_with(text)
        if len(found) != 1:
            some = (
                f"{len(found)} faults have that in their name" if found and text else "there is no fault of that name"
            )
            raise DataError(f"{some[0].upper()}{some[1:]}.", todo="Type faults for the list; repair takes the id.")
        return found[0]

    def _record(self, path: str) -> None:
        from linkcheck.readers.candump import format_candump  # noqa: PLC0415  few lessons need it

        step, made = self._lesson.record()
        self._say(f"{state_line(step.state)}. {made.words}")
        if made.recording is None:
            return
        try:
            Path(path).write_bytes(format_candump(made.recording.batch))
        except OSError as error:
            raise DataError(f"The recording cannot be written: {error.strerror or error}.", where=path) from error
        self._say(f"Written to {path}. Read it with: linkcheck replay {path}")

    def _done(self) -> None:
        # The truck as it was found: the learner's may be repaired by now.
        truck = practice_truck(self._request, self._layout)
        verdict = judge(self._lesson, best_path(truck, self._request.setup))
        self._out.write("\n")
        for line in verdict_lines(verdict, self._layout):
            self._say(line)
        half = width() // 2 - 1
        self._out.write(f"\n{'Your path':{half}}  The tool's path\n")
        for mine, tools in path_rows(verdict, self._lesson.steps, self._layout):
            left, right = textwrap.wrap(mine, half) or [""], textwrap.wrap(tools, half) or [""]
            for row in range(max(len(left), len(right))):
                cells = [cell[row] if row < len(cell) else "" for cell in (left, right)]
                self._out.write(f"{cells[0]:{half}}  {cells[1]}".rstrip() + "\n")
        self._say(f"The same truck again: {self._request.command}")

    # Saying ------------------------------------------------------------------------------------------------------

    def _say(self, text: str, indent: str = "") -> None:
        self._out.write(textwrap.fill(text, width(), initial_indent=indent, subsequent_indent=indent) + "\n")

    def _tell(self, step: Step) -> None:
        if step.seen is not None:
            self._say(seen_words(step.seen), "  ")
        else:
            self._say(f"Now: {state_line(step.state)}.", "  ")
        for note in step.notes:
            self._say(f"! {note}", "  ")

    def _adviser(self) -> Adviser:
        """Made when it is first asked, and told of all that was read before."""
        if self._made is None:
            self._made = Adviser(self._request.setup)
            for step in self._lesson.steps:
                self._made.follow(step)
        return self._made

    def _offer(self) -> None:
        if self._advised:
            self._advise()

    def _advise(self) -> None:
        advice = self._adviser().advice(self._lesson.state)
        self._say(f"Advice: {advice.words}. {advice.why}")
        for number, text in enumerate(advice.do, 1):
            self._say(f"{number}. {text}", "  ")

    def _suspects(self) -> None:
        told = self._adviser().suspects
        for each in told.suspects[:SHOWN]:
            plain = next((row.title for name, row in FAULTS.items() if self._layout.named(name) == each["fault"]), "")
            self._say(f"{each['probability']:4.0%}  {self._layout.named(plain)}", "  ")
        self._say(f"{told.none_of_these:4.0%}  none of the faults known here", "  ")

    def _why(self) -> None:
        for line in self._adviser().evidence() or ["Nothing was read yet that the tool can weigh."]:
            self._say(line, "  ")

    def _readings(self) -> None:
        for number, step in enumerate(self._lesson.readings, 1):
            self._say(f"{number}. {step_words(step, self._layout)}", "  ")
        self._say(f"{counted(len(self._lesson.readings))}, about {self._lesson.minutes:.1f} minutes.", "  ")

    def _state(self) -> None:
        self._say(f"{state_line(self._lesson.state)}.", "  ")

    def _points(self) -> None:
        shortest: dict[str, str] = {}
        for name, point in point_names(self._layout).items():
            if len(name) < len(shortest.get(point, name + " ")):
                shortest[point] = name
        for point, name in shortest.items():
            if point in self._lesson.truck.points:
                self._out.write(f"  {name:6} {point_label(point, self._layout)}\n")

    def _faults(self, word: str) -> None:
        for name in _faults_with(word):
            self._say(f"{name:26} {FAULTS[name].title}", "  ")

    def _help(self) -> None:
        self._out.write(HELP + "\n")


def _faults_with(text: str) -> list[str]:
    """Faults in whose id or title each of these words begins a word."""
    words = text.lower().split()
    return [
        name
        for name, fault in FAULTS.items()
        if name != "none"
        and all(re.search(rf"(?<![a-z0-9]){re.escape(word)}", f"{name} {fault.title}".lower()) for word in words)
    ]
