"""One table of a TOML file, read key by key: every problem is noted, none is raised before the file is through.

`Document` holds the text, finds line numbers and gathers problems; `Section` hands out typed values of one table and
a harmless stand-in where a value is wrong, so that reading goes on to the next problem. What the keys mean is in
`connector` and `vehicle`. TOML itself is read by the standard library, which keeps no line numbers; they are found
again by a search for the key under its header, and left out where that fails.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterator, Sequence

from linkcheck.errors import DataError
from linkcheck.quantities import in_unit

__all__ = ["Document", "Section"]

HEADER = re.compile(r"\s*\[\[?\s*([\w-]+)\s*\]\]?")
KEY = re.compile(r"\s*([\w-]+)\s*=")
LONGEST_SHOWN = 40


class Document:
    """A file's text, its tables, and the problems found so far.

    Args:
        text: the whole file.
        path: its name, for the messages.

    Raises:
        DataError: the text is not TOML at all.

    """

    def __init__(self, text: str, path: str) -> None:
        self.path = path
        self._problems: list[tuple[int, str]] = []
        try:
            tables = tomllib.loads(text)
        except (ValueError, RecursionError) as error:  # ValueError: also numbers of absurd length
            raise DataError(f"This is not TOML: {error}.", where=path) from error
        self._lines = _line_numbers(text)
        self.root = Section(self, tables, "", 0)

    def note(self, section: Section, key: str, problem: str) -> None:
        """Keep one problem as a sentence: line, table, key, what is wrong and what is allowed."""
        line = self._lines.get((section.kind, section.index, key)) or self._lines.get((section.kind, section.index, ""))
        places = [f"line {line}" if line else "", section.title, f'key "{key}"']
        self._problems.append((line or 0, f"{', '.join(place for place in places if place)}: {problem}"))

    def finish(self) -> None:
        """Refuse the file if anything was noted.

        Raises:
            DataError: one line for each problem, in the order of the file.

        """
        if not self._problems:
            return
        count = "1 problem" if len(self._problems) == 1 else f"{len(self._problems)} problems"
        lines = [text for _, text in sorted(self._problems, key=lambda problem: problem[0])]
        raise DataError("\n  ".join([f"{count} in this file.", *lines]), where=self.path)


def _line_numbers(text: str) -> dict[tuple[str, int, str], int]:
    """Line of every (table, number of that table, key); the header itself under an empty key."""
    lines: dict[tuple[str, int, str], int] = {}
    seen: dict[str, int] = {}
    kind, index = "", 0
    for number, line in enumerate(text.splitlines(), 1):
        if header := HEADER.match(line):
            kind = header[1]
            index = seen.get(kind, 0)
            seen[kind] = index + 1
            lines[kind, index, ""] = number
        elif key := KEY.match(line):
            lines.setdefault((kind, index, key[1]), number)
    return lines


class Section:
    """One table: `kind` is its header ("" for the top of the file), `index` its number among those of that header."""

    def __init__(self, document: Document, values: dict[str, object], kind: str, index: int) -> None:
        self._document = document
        self._values = values
        self._asked: set[str] = set()
        self._inside = ""  # the key of an inline table: its problems are noted at that key
        self.kind = kind
        self.index = index
        label = values.get("label", values.get("name"))
        named = f'"{label}"' if isinstance(label, str) else str(index + 1)
        self.title = f"{kind} {named}" if kind else ""  # how a message calls it

    def problem(self, key: str, problem: str) -> None:
        """Note what is wrong with a key."""
        self._document.note(self, self._inside or key, f"{key}: {problem}" if self._inside else problem)

    def _take(self, key: str, kinds: tuple[type, ...], wanted: str, *, required: bool) -> object | None:
        """The raw value, or None where it is missing or of the wrong type."""
        self._asked.add(key)
        value = self._values.get(key)
        if value is None:
            if required:
                self.problem(key, f"missing; it takes {wanted}.")
            return None
        if not isinstance(value, kinds) or (isinstance(value, bool) and bool not in kinds):
            self.problem(key, f"{_shown(value)} is not {wanted}.")
            return None
        return value

    def text(self, key: str, default: str | None = None) -> str:
        """A text; required unless there is a default."""
        value = self._take(key, (str,), 'a text in "quotes"', required=default is None)
        if isinstance(value, str) and not value.strip() and default is None:
            self.problem(key, "is empty; it takes a text.")
        return value.strip() if isinstance(value, str) else default or ""

    def choice(self, key: str, allowed: Sequence[str]) -> str:
        """One of a list of words; empty for a wrong one."""
        value = self.text(key)
        if value in allowed:
            return value
        if value:
            near = difflib.get_close_matches(value, allowed, 1)
            hint = f'; did you mean "{near[0]}"?' if near else "."
            self.problem(key, f"{_shown(value)} is not one of {', '.join(allowed)}{hint}")
        return ""

    def integer(self, key: str, low: int, high: int, *, required: bool = True) -> int | None:
        """A whole number from low to high."""
        value = self._take(key, (int,), f"a whole number from {low} to {high}", required=required)
        if isinstance(value, int) and not low <= value <= high:
            self.problem(key, f"{_shown(value)} is not a whole number from {low} to {high}.")
            return None
        return value if isinstance(value, int) else None

    def number(self, key: str, low: float, high: float) -> float:
        """A number from low to high."""
        value = self._take(key, (int, float), f"a number from {low:g} to {high:g}", required=True)
        if isinstance(value, int | float) and not low <= value <= high:
            self.problem(key, f"{_shown(value)} is not a number from {low:g} to {high:g}.")
            return low
        return float(value) if isinstance(value, int | float) else low

    def quantity(self, key: str, unit: str, *, required: bool = True) -> float | None:
        """A quantity with its unit, such as "60 ohm", in the unit asked for."""
        value = self._take(key, (str,), f'a quantity like "60 {unit}"', required=required)
        if not isinstance(value, str):
            return None
        try:
            return in_unit(value, unit)
        except DataError as error:
            self.problem(key, error.sentence)
            return None

    def table(self, key: str) -> Section | None:
        """An optional inline table, such as `fuse = { rating = "10 A" }`."""
        value = self._take(key, (dict,), "a table in { braces }", required=False)
        if not isinstance(value, dict):
            return None
        inline = Section(self._document, value, self.kind, self.index)
        inline.title, inline._inside = self.title, key
        return inline

    def tables(self, key: str, *, required: bool = False) -> Iterator[Section]:
        """The tables written as `[[key]]`, in order."""
        value = self._take(key, (list,), f"at least one [[{key}]] table", required=required)
        for index, entry in enumerate(value if isinstance(value, list) else ()):
            if isinstance(entry, dict):
                yield Section(self._document, entry, key, index)
            else:
                self.problem(key, f"{_shown(entry)} is not a table; write [[{key}]] above its keys.")

    def finish(self) -> None:
        """Note every key that nobody asked for."""
        known = sorted(self._asked)
        for key in self._values:
            if key not in known:
                near = difflib.get_close_matches(key, known, 1)
                hint = f'; did you mean "{near[0]}"?' if near else "."
                self.problem(key, f"is not a key here; allowed are {', '.join(known)}{hint}")


def _shown(value: object) -> str:
    """A value as it may stand in a sentence."""
    if isinstance(value, list | dict):
        return "a list" if isinstance(value, list) else "a table"
    if isinstance(value, int) and abs(value) > 10**12:
        return "a number that large"  # Python refuses to print the largest
    text = f'"{value}"' if isinstance(value, str) else str(value).lower()
    return text if len(text) <= LONGEST_SHOWN else text[: LONGEST_SHOWN - 3] + "..."
