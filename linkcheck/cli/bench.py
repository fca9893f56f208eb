"""Test an adapter on a bench harness: A is under test, B is trusted. Sends at full load: never run it on a vehicle.

A and B are two interfaces on one harness with two terminators and nothing else (INTERFACE:CHANNEL, as for listen). It
asks that no vehicle is connected, and checks that the bus is silent before it sends anything. --simulate tries it
without hardware, on emulated adapters with a fault.

  linkcheck bench serial:/dev/ttyACM0 serial:/dev/ttyACM1 --name shop-3
  linkcheck bench --simulate drops-received
"""

from __future__ import annotations

import argparse
import dataclasses
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from linkcheck.cli import exit_codes
from linkcheck.cli.bus_words import bit_rate
from linkcheck.cli.output import Progress, say, width
from linkcheck.errors import DataError, UsageError

if TYPE_CHECKING:
    from collections.abc import Callable

    from linkcheck.bench.bench import Bench, Plan
    from linkcheck.bench.hands import Hands
    from linkcheck.bench.result import BenchResult
    from linkcheck.bench.soak import SoakState

NAME = "bench"
HELP = "test an adapter on a bench harness, against a second one"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `linkcheck bench`."""
    parser.add_argument("a", nargs="?", metavar="A", help="the interface under test, e.g. serial:/dev/ttyACM0")
    parser.add_argument("b", nargs="?", metavar="B", help="the trusted one")
    parser.add_argument(
        "--simulate", metavar="FAULT", help='emulated adapters; "list" names the faults, "none" has none'
    )
    parser.add_argument("--no-vehicle", action="store_true", help="say that no vehicle is connected, and do not ask")
    parser.add_argument("--quick", action="store_true", help="a minute instead of several: fewer frames of everything")
    parser.add_argument("--rates", metavar="N,N", help="bit rates to test (default 250k,500k)")
    parser.add_argument("--by-hand", action="store_true", help="also what takes hands: unplugging, a short, the supply")
    parser.add_argument(
        "--supply", metavar="VISA", help="a bench supply over SCPI feeds A, e.g. TCPIP::10.0.0.5::INSTR"
    )
    parser.add_argument("--meter", metavar="VISA", help="a bench meter over SCPI reads ohms across A's pins")
    parser.add_argument("--soak", type=float, metavar="MINUTES", help="a long run behind the tests; ctrl+c pauses it")
    parser.add_argument("--resume", metavar="FILE", help="keep the long run's state in FILE, and go on from it")
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="of all frames (default 1)")
    parser.add_argument("--name", metavar="NAME", help="what A is called in its record (default: what it says it is)")
    parser.add_argument("--record", metavar="FILE", help="the adapter's record; default in the user's data folder")
    parser.add_argument(
        "--accept-unproven", action="store_true", help="listen with B although its silence is not proven"
    )
    parser.add_argument("--sheet", metavar="FILE", help="write the sheet to a file: .html, .json, else text")
    parser.add_argument("--json", action="store_true", help="print the result as JSON (schema linkcheck.bench/1)")
    parser.add_argument("--strict", action="store_true", help="leave with exit code 1 when a test failed")


def run(args: argparse.Namespace) -> int:
    """Test, print the sheet, keep the record."""
    from linkcheck.bench.simulation import FAULTS  # noqa: PLC0415  numpy is needed from here on

    if args.simulate == "list":
        for name, fault in FAULTS.items():
            print(f"{name:<20} {fault.words}")
        return exit_codes.OK
    from linkcheck.bench.run import run_bench  # noqa: PLC0415

    bench, simulated = _bench(args)
    state, keep = _soak_state(args)
    progress = Progress("testing", "lines on the sheet")
    done = 0

    def on_row(_row: object) -> None:
        nonlocal done
        done += 1

    def on_test(title: str) -> None:
        nonlocal progress
        progress.clear()
        progress = Progress(f"testing: {title}", "lines on the sheet")

    bench.tick = lambda share: progress.update(share, done)
    try:
        result = run_bench(
            bench,
            on_row,
            on_test,
            adapter=args.name or "",
            simulated=simulated,
            soak_state=state,
            keep_soak=keep,
        )
    finally:
        progress.clear()
    changed = _recorded(args, result)
    _show(args, result, changed)
    if result.partial:
        say("Stopped early" + (f"; --resume {args.resume} goes on with the long run." if args.resume else "."))
    return exit_codes.FAULT_FOUND if args.strict and result.failed else exit_codes.OK


def _bench(args: argparse.Namespace) -> tuple[Bench, str]:
    """The bench, and what is simulated."""
    from linkcheck.bench.bench import Bench  # noqa: PLC0415
    from linkcheck.bench.harness import Harness  # noqa: PLC0415
    from linkcheck.bench.simulation import FAULTS, SimulatedBench, SimulatedHands  # noqa: PLC0415

    hands: Hands
    if args.simulate is not None:
        if args.simulate not in FAULTS:
            raise UsageError(
                f"There is no fault called {args.simulate!r}.", where="--simulate", todo="--simulate list names them."
            )
        fault = FAULTS[args.simulate]
        simulated = SimulatedBench(fault, args.seed)
        hands = SimulatedHands(simulated)
        return Bench(Harness(simulated), _plan(args), hands, args.seed), fault.words
    if not (args.a and args.b):
        raise UsageError(
            "The bench test needs two interfaces, A under test and B trusted.",
            todo="`linkcheck listen --interfaces` shows what is here; --simulate tries it without hardware.",
        )
    from linkcheck.bench.live_bench import LiveBench  # noqa: PLC0415

    opener = LiveBench(args.a, args.b)
    harness = Harness(opener, accept_unproven=args.accept_unproven)
    return Bench(harness, _plan(args), _hands(args), args.seed), ""


def _plan(args: argparse.Namespace) -> Plan:
    from linkcheck.bench.bench import PLANS  # noqa: PLC0415

    plan = PLANS["quick" if args.quick or args.simulate is not None else "full"]
    if args.rates:
        rates = tuple(rate for word in args.rates.split(",") if (rate := bit_rate(word, "--rates")))
        plan = dataclasses.replace(plan, rates=rates)
    if args.soak is not None:
        if args.soak <= 0:
            raise UsageError("A long run takes some minutes.", where="--soak")
        plan = dataclasses.replace(plan, soak_s=args.soak * 60)
    return plan


def _hands(args: argparse.Namespace) -> Hands:
    from linkcheck.bench.hands import NoHands  # noqa: PLC0415
    from linkcheck.cli.bench_hands import TerminalHands  # noqa: PLC0415

    hands: Hands = NoHands(bench_confirmed=args.no_vehicle)
    if sys.stdin.isatty() or args.by_hand:
        hands = TerminalHands(bench_confirmed=args.no_vehicle, work=args.by_hand)
    if not (args.supply or args.meter):
        return hands
    from linkcheck.bench.scpi import Instrument, InstrumentHands  # noqa: PLC0415

    supply, meter = (Instrument(name) if name else None for name in (args.supply, args.meter))
    return InstrumentHands(hands, supply, meter)


def _soak_state(args: argparse.Namespace) -> tuple[SoakState | None, Callable[[SoakState], None]]:
    """A long run to go on with, and how its state is kept."""
    import msgspec  # noqa: PLC0415

    from linkcheck.bench.soak import SoakState as State  # noqa: PLC0415

    if args.resume is None:
        return None, lambda _state: None
    if args.soak is None:
        raise UsageError("How long is the long run to be in all?", where="--resume", todo="Give --soak MINUTES.")
    path = Path(args.resume)
    state = None
    if path.exists():
        try:
            state = msgspec.json.decode(path.read_bytes(), type=State)
        except (OSError, msgspec.MsgspecError) as error:
            raise DataError(f"This is no state of a long run: {error}.", where=str(path)) from error

    def keep(now: SoakState) -> None:
        part = path.with_suffix(path.suffix + ".part")
        try:
            part.write_bytes(msgspec.json.encode(now))
            part.replace(path)
        except OSError as error:
            raise DataError(f"The state cannot be written: {error.strerror or error}.", where=str(path)) from error

    return state, keep


def _recorded(args: argparse.Namespace, result: BenchResult) -> list[str]:
    """Add the test to the adapter's record; what changed since the last. Simulated ones only where a file is named."""
    from linkcheck.bench.history import record_test  # noqa: PLC0415

    if args.simulate is not None and not args.record:
        return []
    return record_test(result, args.name or "", Path(args.record) if args.record else None)[1]


def _show(args: argparse.Namespace, result: BenchResult, changed: list[str]) -> None:
    from linkcheck.bench.sheet import as_json, as_text  # noqa: PLC0415
    from linkcheck.cli.file_out import save  # noqa: PLC0415

    if args.sheet:
        from linkcheck.report.bench_sheet import bench_file  # noqa: PLC0415

        save(bench_file(result, changed, args.sheet), args.sheet)
    print(as_json(result) if args.json else as_text(result, changed, width()), end="")
