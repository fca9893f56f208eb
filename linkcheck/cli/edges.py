"""Edges on the bus: will every bit be read right with this wiring, and what does a scope's trace say of it?

Without --scope: reckons waves on the bus as described (cable, length, stubs, nodes, terminators) and tells decay,
ringing, levels at the sample point, the margin in percent of a bit, the bit rate at which it stops working, and the
longest stub. With --scope: reads a scope's exported table (time, CAN high, CAN low) and tells levels, decay,
terminators, bit rate, each driver by itself, and the frames.

  linkcheck edges --bit-rate 250k --length 40 --stub 1.5 --terminators 120,120 --nodes 8
  linkcheck edges --terminators 120 --length 12 --nodes 5
  linkcheck edges --scope trace.csv
"""

from __future__ import annotations

import argparse
import math
import sys
from typing import TYPE_CHECKING, Any

from linkcheck.cli import exit_codes
from linkcheck.cli.output import say, width
from linkcheck.errors import DataError, UsageError

if TYPE_CHECKING:
    from linkcheck.physical import Bus

__all__ = ["HELP", "NAME", "add_arguments", "run"]

NAME = "edges"
HELP = "edges, terminators and margins: from the wiring, or from a scope's trace"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("--json", action="store_true", help="print everything as JSON: SI units, units in the names")
    parser.add_argument("--bit-rate", metavar="N", help="such as 250k or 500000 (default 250k; with --scope: measured)")
    scope = parser.add_argument_group("a scope's trace")
    scope.add_argument("--scope", metavar="FILE", help='table of time, CAN high, CAN low; "-" is standard input')
    scope.add_argument("--time-unit", choices=("s", "ms", "us", "ns"), help="unit of time, where the file does not say")
    wiring = parser.add_argument_group("the wiring")
    wiring.add_argument("--length", type=float, default=40.0, metavar="M", help="backbone in metres (default 40)")
    wiring.add_argument("--nodes", type=int, default=8, metavar="N", help="nodes, spread evenly (default 8)")
    wiring.add_argument("--at", metavar="M,M,...", help="where each node sits, in metres, instead of --nodes")
    wiring.add_argument("--stub", default="1", metavar="M", help="stub of every node, or one each: 1,0.5,2 (default 1)")
    wiring.add_argument(
        "--terminators",
        default="120,120",
        metavar="OHM,...",
        help='the first at the start, the second at the end; 120@3.5 sits at 3.5 m; "none" (default 120,120)',
    )
    wiring.add_argument("--impedance", type=float, default=120.0, metavar="OHM", help="of the cable (default 120)")
    wiring.add_argument("--delay", type=float, metavar="NS", help="of the cable, per metre (default 5)")
    wiring.add_argument("--capacitance", type=float, metavar="PF", help="of the cable, per metre, instead of --delay")
    wiring.add_argument(
        "--node-capacitance", type=float, default=100.0, metavar="PF", help="of each node's input (default 100)"
    )
    wiring.add_argument(
        "--node-resistance", type=float, default=30e3, metavar="OHM", help="of each node's input (default 30000)"
    )
    wiring.add_argument(
        "--transition", type=float, default=50.0, metavar="NS", help="how long a driver takes to switch (default 50)"
    )
    wiring.add_argument("--sample-point", type=float, default=87.5, metavar="PERCENT", help="of a bit (default 87.5)")
    wiring.add_argument(
        "--loop-delay", type=float, default=250.0, metavar="NS", help="through a transceiver and back (default 250)"
    )


def run(args: argparse.Namespace) -> int:
    """Reckon or read, and print.

    Raises:
        UsageError: words that do not fit together.
        DataError: the trace cannot be read.

    """
    if args.scope is not None:
        _scope(args)
    else:
        _wiring(args)
    return exit_codes.OK


def _scope(args: argparse.Namespace) -> None:
    from linkcheck.cli.bus_words import bit_rate  # noqa: PLC0415
    from linkcheck.readers.scope_csv import read_scope  # noqa: PLC0415  numpy
    from linkcheck.verdict.waveform import read_waveform  # noqa: PLC0415
    from linkcheck.verdict.waveform_findings import find  # noqa: PLC0415

    file = read_scope(args.scope, args.time_unit)
    try:
        reading = read_waveform(file.wave, bit_rate(args.bit_rate, "--bit-rate"))
    except DataError as error:
        raise DataError(error.what, where=args.scope, todo=error.todo) from error
    findings = find(reading)
    if args.json:
        from linkcheck.cli.edges_json import waveform_json  # noqa: PLC0415

        _print_json(waveform_json(args.scope, reading, findings, file.notes))
    else:
        from linkcheck.cli.scope_page import page  # noqa: PLC0415

        print(page(args.scope, reading, findings, file.notes, width()))


def _wiring(args: argparse.Namespace) -> None:
    from linkcheck.cli.bus_words import bit_rate  # noqa: PLC0415
    from linkcheck.physical.account import account  # noqa: PLC0415  numpy
    from linkcheck.physical.margin import Bit  # noqa: PLC0415

    bus = _bus(args)
    rate = bit_rate(args.bit_rate, "--bit-rate") or 250_000
    if sys.stderr.isatty():
        say("Reckoning waves on this bus and on the same with other terminators; some seconds.")
    found = account(bus, Bit(float(rate), args.sample_point / 100.0, loop_s=args.loop_delay * 1e-9))
    if args.json:
        from linkcheck.cli.edges_json import account_json  # noqa: PLC0415

        _print_json(account_json(found))
    else:
        from linkcheck.cli.edges_page import page  # noqa: PLC0415

        print(page(found, width()))


def _print_json(value: dict[str, Any]) -> None:
    import msgspec  # noqa: PLC0415

    sys.stdout.buffer.write(msgspec.json.format(msgspec.json.encode(value), indent=1) + b"\n")


def _bus(args: argparse.Namespace) -> Bus:
    """The bus that the options describe."""
    from linkcheck.physical import Bus, Cable, Driver, Station, even_bus  # noqa: PLC0415

    if args.delay is not None and args.capacitance is not None:
        raise UsageError("--delay and --capacitance say the same thing.", todo="Give one of them.")
    delay = 5.0 if args.delay is None else args.delay
    if args.capacitance is not None:
        delay = args.impedance * args.capacitance * 1e-3
    for option in ("node_capacitance", "node_resistance", "transition"):
        value = getattr(args, option)
        if not 0.0 < value < math.inf:
            raise UsageError(f"{value:g} cannot be.", where=f"--{option.replace('_', '-')}", todo="Give more than 0.")
    pattern = Station(
        0.0, 0.0, args.node_capacitance * 1e-12, args.node_resistance, Driver(transition_ns=args.transition)
    )
    at = _numbers(args.at, "--at") if args.at else []
    count = len(at) or args.nodes
    stubs = _numbers(args.stub, "--stub")
    if len(stubs) not in (1, count):
        raise UsageError(
            f"{len(stubs)} stubs for {count} nodes.", where="--stub", todo="Give one for all, or one each."
        )
    even = even_bus(args.length, count, cable=Cable(args.impedance, delay), station=pattern)
    spots = at or [station.at_m for station in even.stations]
    stations = tuple(
        Station(spot, stub, pattern.input_farads, pattern.input_ohms, pattern.driver)
        for spot, stub in zip(spots, stubs * (count if len(stubs) == 1 else 1), strict=True)
    )
    return Bus(even.cable, args.length, stations, _terminators(args.terminators, args.length))


def _terminators(text: str, length_m: float) -> Any:  # noqa: ANN401  a tuple of Terminator, which is not loaded up here
    from linkcheck.physical.bus import Terminator, places  # noqa: PLC0415

    words = [word.strip() for word in text.split(",") if word.strip() and word.strip().lower() != "none"]
    placed = [_numbers(word.replace("@", ","), "--terminators") for word in words]
    free = places(tuple(numbers[0] for numbers in placed if len(numbers) == 1), length_m)
    return (*free, *(Terminator(numbers[1], numbers[0]) for numbers in placed if len(numbers) == 2))


def _numbers(text: str, where: str) -> list[float]:
    try:
        numbers = [float(word) for word in text.split(",")]
    except ValueError:
        numbers = [math.nan]
    if not all(map(math.isfinite, numbers)):
        raise UsageError(f"{text!r} is no list of numbers.", where=where, todo="Write it like 120,120 or 0.5,1,2.")
    return numbers
