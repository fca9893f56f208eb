"""The whole test: is this a bench, is it silent, then every test in turn. Values out; nothing is printed here.

A test that ends in an error becomes a row that failed, and the next one runs. Before anything is sent, somebody must
have said that no vehicle is connected, and the trusted side must have heard nothing at any rate.
"""

from __future__ import annotations

import platform
from collections.abc import Callable, Iterator
from datetime import UTC, datetime

from linkcheck.bench.bench import Bench, Measured, rate_words, row
from linkcheck.bench.harness import Carried
from linkcheck.bench.result import BenchResult, Conditions, Row
from linkcheck.bench.rows_frames import acknowledges, every_kind_rows, opens, tells_status
from linkcheck.bench.rows_hands import bus_off, replug, supply_sweep, termination
from linkcheck.bench.rows_load import full_load, latencies, time_stamps
from linkcheck.bench.rows_manners import alone, listens_only, wrong_rate
from linkcheck.bench.rows_transport import long_messages
from linkcheck.bench.soak import SoakState, soak
from linkcheck.errors import UsageError
from linkcheck.live.port import PortLostError, PortRefusedError

__all__ = ["TESTS", "check_silence", "run_bench"]

Test = Callable[[Bench], Iterator[Row]]

SILENT_S = 2.0  # the slowest periodic messages of a truck that is awake come every second or faster

# In the order of the sheet: what needs no hand first.
TESTS: tuple[tuple[str, str, Test], ...] = (
    ("tells_status", "Tells its controller's status", tells_status),
    ("acknowledges", "Acknowledges frames", acknowledges),
    ("kinds", "Every kind of frame", every_kind_rows),
    ("load", "Full load", full_load),
    ("latency", "Latency", latencies),
    ("time_stamps", "Own time stamps", time_stamps),
    ("alone", "Alone on the bus", alone),
    ("listens_only", "Listen-only is silent", listens_only),
    ("wrong_rate", "Wrong bit rate, listening", wrong_rate),
    ("long_message", "Messages in packets", long_messages),
    ("bus_off", "Recovery after a shorted pair", bus_off),
    ("supply", "Supply sweep", supply_sweep),
    ("replug", "Unplugged from the host and put back", replug),
)


def check_silence(bench: Bench) -> None:
    """Refuse to go on where the harness may be a vehicle.

    Raises:
        UsageError: nobody says that no vehicle is connected, or something is heard.
        PortRefusedError: the trusted side does not listen only.

    """
    if not bench.hands.no_vehicle():
        raise UsageError(
            "The bench test sends on the bus: it needs to know that no vehicle is connected.",
            todo="Connect both interfaces to a bench harness with two terminators, and confirm it.",
        )
    for rate in bench.plan.rates:
        carried = Carried()
        bench.harness.open("b", rate, active=False)
        bench.harness.listen(carried, None, SILENT_S)
        bench.harness.close()
        if carried.arrived or carried.errors["b"]:
            what = "frames" if carried.arrived else "errors, as of another bit rate,"
            raise UsageError(
                f"This harness is not silent: {what} were heard at {rate_words(rate)}. Nothing was sent.",
                todo="Take every other device off; never test on a vehicle.",
            )


def run_bench(
    bench: Bench,
    on_row: Callable[[Row], None] = lambda _row: None,
    on_test: Callable[[str], None] = lambda _title: None,
    *,
    adapter: str = "",
    simulated: str = "",
    soak_state: SoakState | None = None,
    keep_soak: Callable[[SoakState], None] = lambda _state: None,
) -> BenchResult:
    """Make every test.

    Args:
        bench: harness, plan, hands.
        on_row: told each row as it is known; on_test: the title of what begins.
        on_test: see there.
        adapter: what A is called in the record; its port where empty.
        simulated: what the emulated adapter has.
        soak_state: of a long run to go on with; a fresh one where None.
        keep_soak: called after each slice of the long run.

    Returns:
        all rows; partial where ctrl+c ended it.

    Raises:
        UsageError, PortRefusedError: nothing was begun.

    """
    check_silence(bench)
    started = datetime.now(UTC)
    rows: list[Row] = []
    identities = {"a": "", "b": ""}

    def add(new: Iterator[Row]) -> None:
        for item in new:
            rows.append(item)
            on_row(item)

    partial = False
    try:
        identities["b"] = _identity(bench)
        on_test("Opens")
        add(opens(bench))
        add(termination(bench))
        for name, title, test in TESTS if bench.usable else ():
            on_test(title)
            add(_guarded(bench, name, title, test))
        if bench.usable and bench.plan.soak_s:
            on_test("Long run")
            state = soak_state or SoakState(bench.seed, min(bench.usable))
            add(_guarded(bench, "soak", "Long run", lambda b: soak(b, state, keep_soak)))
    except KeyboardInterrupt:
        partial = True
    finally:
        bench.harness.close()
    identities["a"] = bench.identity
    conditions = Conditions(
        adapter=adapter or bench.harness.opener.spec("a").channel,
        identity=identities["a"],
        partner=bench.harness.opener.spec("b").channel,
        partner_identity=identities["b"],
        host=f"{platform.system()} {platform.release()}, Python {platform.python_version()}",
        started=started.isoformat(timespec="seconds"),
        seed=bench.seed,
        plan=bench.plan.name,
        simulated=simulated,
    )
    return BenchResult(conditions=conditions, partial=partial, rows=rows)


def _identity(bench: Bench) -> str:
    """Open the trusted side once: without it nothing can be tested."""
    port = bench.harness.open("b", bench.plan.rates[0])
    identity = port.facts.identity
    bench.harness.close()
    return identity


def _guarded(bench: Bench, name: str, title: str, test: Test) -> Iterator[Row]:
    """A test's rows; one that failed where it ended in an error."""
    try:
        yield from test(bench)
    except (PortLostError, PortRefusedError) as error:
        figure = "went away" if isinstance(error, PortLostError) else "refused"
        yield row(name, title, "goes through", Measured("fail", figure, {}, error.sentence))
    finally:
        bench.harness.close()
