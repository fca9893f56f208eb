"""The practice room: the lesson that is going on, for the page. Called from worker threads, one at a time.

Nothing here knows a widget. The truck's traffic is written to files of the user's data folder, where the traffic page
can read it like any other capture.
"""

from __future__ import annotations

import threading
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from linkcheck.errors import DataError, UsageError

if TYPE_CHECKING:
    from linkcheck.circuit import State
    from linkcheck.pinout import Pinout
    from linkcheck.practice.adviser import Adviser
    from linkcheck.practice.lesson import Lesson, Step
    from linkcheck.practice.lesson_sheet import LessonSheet
    from linkcheck.practice.setting_out import Request
    from linkcheck.walk.layout import Layout

__all__ = ["PracticeRoom"]

ADAPTERS = {"unplugged": "own", "own": "known_good", "known_good": "unplugged"}  # each press goes on by one


class PracticeRoom:
    """One lesson after the other.

    Args:
        folder: for recordings; None for the user's own.

    Attributes:
        advised: the tool's advice is wanted.

    """

    def __init__(self, folder: Path | None = None) -> None:
        self._folder = folder
        self._lock = threading.RLock()
        self._request: Request | None = None
        self._layout: Layout | None = None
        self._lesson: Lesson | None = None
        self._adviser: Adviser | None = None
        self._pinout: Pinout | None = None
        self.advised = False

    def begin(self, request: Request) -> LessonSheet:
        """A new truck.

        Raises:
            DataError, UsageError: there is no such truck.

        """
        from linkcheck.pinout import find_pinout, load_pinout  # noqa: PLC0415
        from linkcheck.practice.lesson import Lesson  # noqa: PLC0415  numpy: not before the first lesson
        from linkcheck.practice.setting_out import practice_truck  # noqa: PLC0415

        with self._lock:
            self._pinout = load_pinout(find_pinout(request.pinout))
            layout = request.layout()
            self._lesson = Lesson(practice_truck(request, layout))
            self._request, self._layout, self._adviser = request, layout, None
            return self.sheet()

    @property
    def pinout(self) -> Pinout | None:
        """The connector."""
        return self._pinout

    @property
    def request(self) -> Request:
        """What was asked for."""
        return self._open[0]

    @property
    def _open(self) -> tuple[Request, Lesson, Layout]:
        if self._request is None or self._lesson is None or self._layout is None:
            raise UsageError("No practice truck is here.", todo="Begin with n.")
        return self._request, self._lesson, self._layout

    def sheet(self) -> LessonSheet:
        """What the lesson shows."""
        from linkcheck.practice.lesson_sheet import lesson_sheet  # noqa: PLC0415

        with self._lock:
            request, lesson, layout = self._open
            return lesson_sheet(request, lesson, layout, self._advice() if self.advised else None)

    def _advice(self) -> Adviser:
        """The adviser, made when it is first asked and told of all that was done before."""
        from linkcheck.practice.adviser import Adviser  # noqa: PLC0415

        request, lesson, _ = self._open
        if self._adviser is None:
            self._adviser = Adviser(request.setup)
            for step in lesson.steps:
                self._adviser.follow(step)
        return self._adviser

    def _done(self, *steps: Step) -> LessonSheet:
        if self._adviser is not None:
            for step in steps:
                self._adviser.follow(step)
        return self.sheet()

    # What the learner does ---------------------------------------------------------------------------------------

    def move(self, line: str) -> LessonSheet:
        """A probe or a change of state, in the learner's short words.

        Raises:
            DataError, UsageError: they are not understood, or it cannot be done; nothing has happened.

        """
        from linkcheck.practice.hidden_truck import Probe  # noqa: PLC0415
        from linkcheck.practice.words import read_move  # noqa: PLC0415

        with self._lock:
            _, lesson, layout = self._open
            move = read_move(line, lesson.state, layout)
            if move is None:
                raise DataError(f'"{line}" is not understood.', todo="Type v B A or o C D, for example.")
            return self._done(lesson.probe(move) if isinstance(move, Probe) else lesson.change(move))

    def turn(self, name: str) -> LessonSheet:
        """Turn the key, take the battery's cable off or put it on, the next adapter, the fuse out or in."""
        with self._lock:
            _, lesson, _ = self._open
            return self._done(lesson.change(_turned(lesson.state, name)))

    @property
    def unplugged(self) -> frozenset[str]:
        """What is unplugged."""
        return self._open[1].state.unplugged

    def advised_step(self) -> LessonSheet:
        """Do what the tool advises.

        Raises:
            UsageError: it has nothing more to advise.

        """
        with self._lock:
            _, lesson, _ = self._open
            advice = self._advice().advice(lesson.state)
            if advice.check is None or advice.probe is None:
                raise UsageError("The tool has nothing more to probe.", todo="Repair what it is, or end the lesson.")
            steps = [lesson.change(advice.check.state)] if advice.check.state != lesson.state else []
            return self._done(*steps, lesson.probe(advice.probe))

    def repair(self, fault: str) -> tuple[str, LessonSheet]:
        """Repair a fault; what came of it in a sentence."""
        with self._lock:
            step = self._open[1].repair(fault)
            return step.outcome, self._done(step)

    def faults(self) -> list[tuple[str, str]]:
        """Ids and titles of all that can be repaired on such a truck; the adviser's suspects first, where asked."""
        from linkcheck.faults.catalogue import FAULTS  # noqa: PLC0415

        with self._lock:
            _, _, layout = self._open
            return [(name, layout.named(FAULTS[name].title)) for name in layout.faults() if name != "none"]

    def points(self) -> list[tuple[str, str]]:
        """Short names and words of all points a lead can go to."""
        from linkcheck.practice.account import point_label  # noqa: PLC0415
        from linkcheck.practice.words import point_names  # noqa: PLC0415

        with self._lock:
            _, lesson, layout = self._open
            shortest: dict[str, str] = {}
            for name, point in point_names(layout).items():
                if len(name) < len(shortest.get(point, name + " ")):
                    shortest[point] = name
            fitted = [(name, point) for point, name in shortest.items() if point in lesson.truck.points]
            cavities = [row for row in fitted if row[1].partition(".")[0] in layout.labels]
            others = [row for row in fitted if row not in cavities]
            return [(name, point_label(point, layout)) for name, point in (*cavities, *others)]

    def record(self) -> tuple[str, Path | None, LessonSheet]:
        """Record the truck's bus: what came of it in a sentence, and the file where there is one.

        Raises:
            DataError: the file cannot be written.

        """
        from platformdirs import user_data_path  # noqa: PLC0415

        from linkcheck.readers.candump import format_candump  # noqa: PLC0415

        with self._lock:
            request, lesson, _ = self._open
            step, made = lesson.record()
            sheet = self._done(step)
            if made.recording is None:
                return made.words, None, sheet
            folder = self._folder or user_data_path("linkcheck") / "practice"
            number = sum(each.kind == "repair" for each in lesson.steps)
            path = folder / f"truck-{request.seed}{f'-after-repair-{number}' if number else ''}.log"
            try:
                folder.mkdir(parents=True, exist_ok=True)
                path.write_bytes(format_candump(made.recording.batch))
            except OSError as error:
                raise DataError(
                    f"The recording cannot be written: {error.strerror or error}.", where=str(path)
                ) from error
            return made.words, path, sheet

    def end(self) -> tuple[list[str], list[tuple[str, str]]]:
        """What it was and how the paths compare: sentences, and both paths side by side."""
        from linkcheck.practice.account import path_rows, verdict_lines  # noqa: PLC0415
        from linkcheck.practice.best_path import best_path  # noqa: PLC0415
        from linkcheck.practice.judgement import judge  # noqa: PLC0415
        from linkcheck.practice.setting_out import practice_truck  # noqa: PLC0415

        with self._lock:
            request, lesson, layout = self._open
            # The truck as it was found: the learner's may be repaired by now.
            verdict = judge(lesson, best_path(practice_truck(request, layout), request.setup))
            lines = [*verdict_lines(verdict, layout), f"The same truck again: {request.command}"]
            return lines, path_rows(verdict, lesson.steps, layout)


def _turned(state: State, name: str) -> State:
    match name:
        case "key":
            return replace(state, key="off" if state.key == "on" else "on")
        case "battery":
            return replace(state, battery="disconnected" if state.battery == "connected" else "connected")
        case "adapter":
            return replace(state, adapter=ADAPTERS[state.adapter])  # type: ignore[arg-type]
        case "fuse":
            return replace(state, fuse="pulled" if state.fuse == "in" else "in")
    raise UsageError("Nothing like that can be turned.", where=name)
