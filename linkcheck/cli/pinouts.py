"""Diagnostic connectors, cavity by cavity.

Without a name: lists every connector and vehicle that is known, your own first. With a name or the path of a file:
draws the connector's face from the front and from behind, and prints what each cavity is for, what a meter should
say, where every figure comes from, and what to beware of. The format of a file is in pinouts/README.md; your own
files belong in the folder the list names.
"""

from __future__ import annotations

import argparse
import textwrap
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from linkcheck.pinout import Caution, Cavity, Check, Network, Pinout, Vehicle

__all__ = ["HELP", "NAME", "add_arguments", "run"]

NAME = "pinouts"
HELP = "diagnostic connectors pin by pin: faces, roles, what a meter should say"

WIDTH = 80
CAVITY_COLUMNS = (7, 24, 6, 26, 13)
CHECK_COLUMNS = (5, 18, 24, 21, 8)
STATES = {"key_on": "key on", "key_off": "key off", "battery_off": "battery off"}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's words."""
    parser.add_argument("pinout", nargs="?", metavar="NAME", help="a name from the list, or the path of a .toml file")
    parser.add_argument("--json", action="store_true", help="print the same as JSON: SI units, units in the names")


def run(args: argparse.Namespace) -> int:
    """Print the list, or one pinout or vehicle."""
    from linkcheck.pinout import Pinout, find_pinout, load_file  # noqa: PLC0415  loads pint

    if args.pinout is None:
        _print_list(as_json=args.json)
        return 0
    found = load_file(find_pinout(args.pinout))
    if args.json:
        import msgspec  # noqa: PLC0415

        kind = "pinout" if isinstance(found, Pinout) else "vehicle"
        _print_json({"schema": f"linkcheck.{kind}/1", **msgspec.to_builtins(found)})
    elif isinstance(found, Pinout):
        print("\n".join(_pinout_page(found)))
    else:
        print("\n".join(_vehicle_page(found)))
    return 0


def _print_json(value: object) -> None:
    import json  # noqa: PLC0415

    print(json.dumps(value, indent=2, ensure_ascii=False))


def _print_list(*, as_json: bool) -> None:
    from linkcheck.errors import DataError  # noqa: PLC0415
    from linkcheck.pinout import list_pinouts, load_file, user_folder  # noqa: PLC0415

    entries = []
    for path in list_pinouts():
        try:
            title = load_file(path).title
        except DataError as error:
            title = f"cannot be used: {error.what.splitlines()[0]}"
        entries.append({"name": path.stem, "title": title, "path": str(path)})
    if as_json:
        _print_json({"schema": "linkcheck.pinouts/1", "pinouts": entries})
        return
    print("\n".join(_columns([(entry["name"], entry["title"]) for entry in entries], (16, 63))))
    print(f'\n"linkcheck {NAME} NAME" shows one. Your own files: {user_folder()}')


class _Sources:
    """Gives every source a number, in the order they are met."""

    def __init__(self) -> None:
        self._numbers: dict[str, int] = {}

    def number(self, *sources: str) -> str:
        numbers = [self._numbers.setdefault(source, len(self._numbers) + 1) for source in sources]
        return " ".join(f"[{number}]" for number in dict.fromkeys(numbers))

    def page(self) -> list[str]:
        return ["", "SOURCES", *_columns([(f"[{number}]", text) for text, number in self._numbers.items()], (5, 75))]


def _pinout_page(pinout: Pinout) -> list[str]:
    from linkcheck.pinout import CAUTIONS, draw_faces  # noqa: PLC0415

    sources = _Sources()
    layout = f"Both faces are of the vehicle's connector. Layout: {pinout.face_source}. "
    return [
        *textwrap.wrap(pinout.title, WIDTH),
        "",
        draw_faces(pinout),
        "",
        *textwrap.wrap(layout + "Go by the mark moulded beside each cavity.", WIDTH),
        "",
        *_networks(pinout.networks, sources),
        "",
        "CAVITIES",
        *_cavities(pinout.cavities, sources),
        "",
        "WHAT A METER SAYS WHEN ALL IS WELL",
        *_checks(pinout.checks, sources),
        "Battery off: key off, the battery's negative cable removed. OL counts as over.",
        "",
        "BEWARE",
        *_cautions((*pinout.cautions, *CAUTIONS), sources),
        *sources.page(),
    ]


def _networks(networks: Sequence[Network], sources: _Sources) -> list[str]:
    lines = []
    for each in networks:
        note = f" {each.note}" if each.note else ""
        text = f"Network {each.number}: {each.bit_rate / 1000:g} kbit/s {sources.number(each.source)}{note}"
        lines += textwrap.wrap(text, WIDTH, subsequent_indent="  ")
    return lines or ["No CAN on this connector."]


def _cavities(cavities: Sequence[Cavity], sources: _Sources) -> list[str]:
    lines = _columns([("Cavity", "Role", "Fuse", "Wire", "Source")], CAVITY_COLUMNS)
    for cavity in cavities:
        wire, fuse = cavity.wire, cavity.fuse
        row = (
            cavity.label,
            _role(cavity),
            f"{fuse.rating_amps:g} A" if fuse else "",
            f"{wire.gauge}, {wire.min_m:g} to {wire.max_m:g} m" if wire else "",
            sources.number(cavity.source, *(part.source for part in (fuse, wire) if part)),
        )
        lines += [*_columns([row], CAVITY_COLUMNS), *_note(cavity.note)]
    return lines


def _role(cavity: Cavity) -> str:
    """As in "CAN high, network 1" or "battery negative"."""
    words = cavity.role.replace("_", " ").replace("can ", "CAN ").replace("j1708", "J1708")
    return f"{words}, network {cavity.network}" if cavity.network else words


def _checks(checks: Sequence[Check], sources: _Sources) -> list[str]:
    lines = _columns([("Red", "Black", "Expect (typical)", "When", "Source")], CHECK_COLUMNS)
    for check in checks:
        state = STATES[check.power] + (f", {check.system_volts:g} V" if check.system_volts else "")
        row = (check.red, check.black.replace("_", " "), _band(check), state, sources.number(check.source))
        lines += [*_columns([row], CHECK_COLUMNS), *_note(check.note)]
    return lines


def _band(check: Check) -> str:
    """As in "55 to 65 ohm (60)" or "over 1000 ohm"."""
    unit = "V" if check.quantity == "dc_volts" else "ohm"
    if check.high is None:
        return f"over {check.low:g} {unit}"
    if check.low is None:
        return f"under {check.high:g} {unit}"
    typical = f" ({check.typical:g})" if check.typical is not None else ""
    return f"{check.low:g} to {check.high:g} {unit}{typical}"


def _vehicle_page(vehicle: Vehicle) -> list[str]:
    sources = _Sources()
    modules = [(f"{each.address}", each.name, f"{each.network}", each.note) for each in vehicle.modules]
    terminators = [(f"{each.network}", f"{each.ohms:g} ohm", each.place) for each in vehicle.terminators]
    return [
        *textwrap.wrap(vehicle.title, WIDTH),
        f"Connector {vehicle.pinout}, {vehicle.system_volts:g} V",
        *_networks(vehicle.networks, sources),
        "",
        "MODULES",
        *_columns([("Address", "Name", "Network", "Note"), *modules], (9, 30, 9, 30)),
        "",
        "TERMINATORS",
        *_columns([("Network", "Ohms", "Place"), *terminators], (9, 10, 60)),
        *sources.page(),
    ]


def _cautions(cautions: Iterable[Caution], sources: _Sources) -> list[str]:
    lines = []
    for each in cautions:
        text = f"{each.text} {sources.number(each.source)}"
        lines += textwrap.wrap(text, WIDTH, initial_indent="! ", subsequent_indent="  ")
    return lines


def _note(note: str) -> list[str]:
    return textwrap.wrap(note, WIDTH, initial_indent=" " * 7, subsequent_indent=" " * 7)


def _columns(rows: Iterable[Sequence[str]], widths: Sequence[int]) -> list[str]:
    """Rows as lines of fixed columns; a cell that is too long goes on in the lines below."""
    lines = []
    for row in rows:
        cells = [textwrap.wrap(cell, width - 1) or [""] for cell, width in zip(row, widths, strict=True)]
        for depth in range(max(map(len, cells))):
            parts = [cell[depth] if depth < len(cell) else "" for cell in cells]
            lines.append("".join(f"{part:<{width}}" for part, width in zip(parts, widths, strict=True)).rstrip())
    return lines
