"""The whole run: safety first, partial results, the long run, and one run over real pseudo-terminals."""

import dataclasses

import msgspec
import pytest
from bench.benches import SMALL, only, outcome, simulated

from linkcheck.bench.bench import Bench
from linkcheck.bench.hands import NoHands
from linkcheck.bench.harness import Harness
from linkcheck.bench.live_bench import LiveBench
from linkcheck.bench.rows_frames import acknowledges, opens
from linkcheck.bench.rows_hands import bus_off, replug, supply_sweep, termination
from linkcheck.bench.rows_manners import listens_only
from linkcheck.bench.run import check_silence, run_bench
from linkcheck.bench.simulation import SimulatedFault
from linkcheck.bench.soak import SoakState, soak
from linkcheck.errors import UsageError
from linkcheck.live.emulated_adapter import Faults
from linkcheck.live.emulation import Emulation

SHORT = dataclasses.replace(SMALL, rates=(250_000,), load_s=0.1, latency_frames=10, stamp_frames=10, transport_bytes=9)


def on_bus(opener):
    """Frames anybody put on the emulated bus."""
    return opener.bus.on_bus + opener.bus.errors


def test_nothing_is_sent_before_somebody_says_that_it_is_a_bench():
    bench, opener = simulated("none")
    bench.hands = NoHands(bench_confirmed=False)
    with pytest.raises(UsageError, match="no vehicle is connected"):
        run_bench(bench)
    assert on_bus(opener) == 0


def test_a_harness_that_talks_is_refused_and_left_alone():
    bench, opener = simulated("truck-connected")
    with pytest.raises(UsageError, match=r"not silent.*Nothing was sent"):
        run_bench(bench)
    assert opener.bus.disturbed == 0
    assert not any(adapter.active for adapter in opener.adapters.values())


def test_the_trusted_side_listens_only_while_it_looks():
    bench, opener = simulated("none")
    seen = []
    inner = opener.open
    opener.open = lambda side, rate, **options: (seen.append((side, options["active"])), inner(side, rate, **options))[
        1
    ]
    check_silence(bench)
    assert seen == [("b", False), ("b", False)]


def test_hands_that_are_not_there_leave_rows_unmeasured():
    bench, _ = simulated("none", SHORT)
    bench.hands = NoHands(bench_confirmed=True)
    rows = {row.row: row for row in run_bench(bench).rows}
    for name in ("replug", "bus_off", "supply", "termination"):
        assert rows[name].verdict == "not measured"
        assert rows[name].note


@pytest.mark.parametrize(
    ("test", "fault", "figure"),
    [
        (termination, SimulatedFault("", ohms=120.0), "120.0 ohm"),
        (termination, SimulatedFault("", ohms=float("inf")), "over range"),
        (supply_sweep, SimulatedFault("", least_volts=9.5), "not at 9 V"),
        (replug, "none", "loss noticed, traffic flows again"),
        (replug, "stays-away", "does not flow again"),
        (bus_off, "none", "traffic flows again"),
        (listens_only, "not-silent", "acknowledged although told to listen only"),
        (acknowledges, "no-acknowledge", "does not acknowledge"),
    ],
)
def test_figures_say_what_was_found(test, fault, figure):
    (row,) = only(test, fault)
    assert figure in row.figure


def test_a_partner_that_cannot_tell_makes_rows_unmeasurable_not_passed():
    bench, opener = simulated("none")
    opener.adapters["b"].reports_errors = False
    opener.adapters["b"].faults.no_status = True
    bench.usable = set(SMALL.rates)
    for test in (listens_only, acknowledges):
        (row,) = test(bench)
        assert row.verdict == "not measured"


def test_every_row_names_its_limit_and_where_that_comes_from():
    result = outcome("none", SHORT)
    assert all(row.limit and row.source and row.title for row in result.rows)
    assert len({row.row for row in result.rows}) == len(result.rows)


@pytest.mark.parametrize("fault", ["none", "drops-received", "mute"])
def test_the_word_conformant_is_never_said(fault):
    assert b"conform" not in msgspec.json.encode(outcome(fault, SHORT)).lower()


def test_the_same_seed_gives_the_same_rows():
    assert outcome("drops-received", SHORT).rows == outcome("drops-received", SHORT).rows


def test_ctrl_c_gives_what_is_known_so_far():
    bench, _ = simulated("none", SHORT)

    def stop(row):
        if row.row == "acknowledges":
            raise KeyboardInterrupt

    result = run_bench(bench, stop)
    assert result.partial
    assert [row.row for row in result.rows][-1] == "acknowledges"


def soaked(fault, seconds, state=None, stop_after=None):
    bench, _ = simulated(fault, dataclasses.replace(SMALL, soak_s=seconds))
    bench.usable = {250_000}
    state = state or SoakState(5, 250_000)
    kept = []

    def keep(now):
        kept.append(msgspec.json.encode(now))
        if len(kept) == stop_after:
            raise KeyboardInterrupt

    try:
        rows = list(soak(bench, state, keep))
    except KeyboardInterrupt:
        rows = []
    return rows, kept


def test_a_long_run_is_paused_and_gone_on_with():
    rows, kept = soaked("none", 10, stop_after=2)
    assert not rows
    state = msgspec.json.decode(kept[-1], type=SoakState)
    assert (state.slices, state.sent) == (2, 1000)
    (row,), more = soaked("none", 10, state)
    assert row.verdict == "pass"
    whole = msgspec.json.decode(more[-1], type=SoakState)
    assert whole.done_s >= 10
    assert whole.sent == 500 * whole.slices


@pytest.mark.parametrize("fault", ["drops-received", "stalls", "goes-away", "corrupts-sent"])
def test_a_long_run_finds_what_happens_now_and_then(fault):
    (row,), _ = soaked(fault, 12)
    assert row.verdict == "fail"


def test_two_interfaces_must_be_two():
    with pytest.raises(UsageError, match="same interface"):
        LiveBench("serial:/dev/ttyACM0", "/dev/ttyACM0")


def test_over_pseudo_terminals_with_the_real_driver():
    """Wires, driver and clock are real here; figures that depend on how busy this machine is are not judged."""
    with Emulation(Faults(), Faults(echo=True), bit_rate=250_000) as emulation:
        a, b = (f"serial:{path}" for path in emulation.paths)
        for paths, echoed in (((a, b), "pass"), ((b, a), "fail")):
            bench = Bench(Harness(LiveBench(*paths)), SHORT, NoHands(bench_confirmed=True), 1)
            rows = {row.row: row for row in run_bench(bench).rows}
            assert rows["opens_250k"].verdict == "pass"
            assert rows["kinds_sends_250k"].verdict == rows["kinds_receives_250k"].verdict == "pass"
            assert rows["acknowledges"].verdict == rows["listens_only"].verdict == "pass"
            assert rows["own_echo"].verdict == echoed


def test_over_an_interface_of_python_can():
    bench = Bench(Harness(LiveBench("virtual:bench", "virtual:bench")), SHORT, NoHands(bench_confirmed=True), 1)
    rows = {row.row: row for row in run_bench(bench).rows}
    assert rows["opens_250k"].note == "this interface does not tell its rate"
    assert rows["listens_only"].verdict == "not measured"
    assert rows["time_stamps"].verdict == "no verdict"
    assert rows["load_receives_250k"].numbers["lost"] == 0


def test_opening_tells_refused_from_unconfirmed():
    assert [row.figure for row in only(opens, "refuses-open")] == ["does not open"] * 2
    assert {row.verdict for row in only(opens, "none")} == {"pass"}
