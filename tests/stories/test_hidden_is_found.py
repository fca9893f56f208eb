"""What the simulation hides, the analysis finds: every scenario against its own truth, which no analyser computed."""

import pytest

from linkcheck.j1939.network_codes import NETWORK_SPNS
from linkcheck.practice import SCENARIOS, simulate
from linkcheck.practice.recording import START_NS
from linkcheck.traffic import Analysis, Options

START_S = START_NS / 1e9
FAULTS = {  # what a colleague would have to say, whatever else
    "healthy": set(),
    "drops-over-bumps": {"address_silent"},
    "loose-plug": {"bus_silent"},
    "module-mute": {"request_unanswered", "network_codes"},
    "nobody-acknowledges": {"claim_unheard"},
    "tool-alone": {"no_acknowledgement"},
    "address-used-twice": {"address_twice"},
    "flood": {"flood", "bus_full", "starved"},
    "terminator-lost": {"error_passive", "address_silent"},
    "logger-bus-off": {"bus_off"},
    "two-channels": set(),
    "beside-11-bit": set(),
    "coolant-stuck": set(),
    "battery-low": set(),
}
EXPECTED_WATCH = {
    "coolant-stuck": {"temperature_implausible"},
    "battery-low": {"battery_implausible"},
    "logger-bus-off": {"recorder_bus_off"},
}
ALSO_FAIR = {  # further faults that follow from what is hidden
    "drops-over-bumps": {"silent_together", "network_codes", "never_came_back"},
    "terminator-lost": {"never_came_back", "network_codes"},
    "address-used-twice": {"error_frames"},
    "nobody-acknowledges": {"error_frames"},
    "loose-plug": {"error_frames"},
    "flood": {"network_codes"},
}


CASES = [
    *(pytest.param((name, 1), id=f"{name}-1") for name in SCENARIOS),
    *(pytest.param((name, 2), id=f"{name}-2", marks=pytest.mark.long) for name in SCENARIOS),
]


@pytest.fixture(scope="module", params=CASES)
def case(request):
    name, seed = request.param
    recording = simulate(name, seed=seed)
    analysis = Analysis(Options())
    analysis.eat(recording.batch)
    return name, recording.truths, analysis.result().channels


def test_the_faults_are_named_and_no_others(case):
    name, _, channels = case
    found = {f.finding for channel in channels.values() for f in channel.findings if f.severity == "fault"}
    assert found >= FAULTS[name]
    assert found - FAULTS[name] - ALSO_FAIR.get(name, set()) == set()
    watched = {f.finding for channel in channels.values() for f in channel.findings if f.severity == "watch"}
    assert watched >= EXPECTED_WATCH.get(name, set())


def test_addresses_bit_rate_errors(case):
    _, truths, channels = case
    for name, truth in truths.items():
        channel = channels[name]
        assert tuple(s.address for s in channel.source_addresses) == truth.addresses
        if channel.bit_rate.basis == "measured":
            assert channel.bit_rate.value == truth.bit_rate
        assert channel.error_frames.total == truth.error_frames
        assert {row.identifier for row in channel.standard_identifiers} == set(truth.eleven_bit)


def test_silences_to_the_tenth_of_a_second(case):
    _, truths, channels = case
    for name, truth in truths.items():
        found = [i for i in channels[name].silence.incidents if not i.bus_wide]
        assert len(found) == len(truth.silences)
        for incident, silence in zip(found, truth.silences, strict=True):
            assert tuple(incident.addresses) == silence.addresses
            assert incident.start_s - START_S == pytest.approx(silence.from_s, abs=0.15)
        if not truth.error_frames or truth.states == ():
            gaps = [
                (gap.start_s - START_S, gap.start_s - START_S + gap.length_s) for gap in channels[name].silence.bus_gaps
            ]
            assert gaps == [pytest.approx(gap, abs=0.01) for gap in truth.gaps]


def test_codes_requests_and_doubles(case):
    _, truths, channels = case
    for name, truth in truths.items():
        channel = channels[name]
        told = {(row.source_address, row.spn, row.fmi) for row in channel.trouble_codes if row.active}
        assert told == {(code.address, code.spn, code.fmi) for code in truth.codes}
        for row in channel.trouble_codes:
            assert (row.network is not None) or row.spn not in NETWORK_SPNS
        unanswered = {(row.destination, row.pgn, row.unanswered) for row in channel.requests if row.unanswered}
        assert unanswered == {(request.address, request.pgn, request.times) for request in truth.unanswered}
        doubled = {f.evidence["address"] for f in channel.findings if f.finding == "address_twice"}
        assert doubled == set(truth.shared)


def test_flood_and_implausible_readings(case):
    _, truths, channels = case
    for name, truth in truths.items():
        floods = [f for f in channels[name].findings if f.finding == "flood"]
        assert bool(floods) == bool(truth.flood)
        if truth.flood:
            assert floods[0].evidence["address"] == truth.flood[0] & 0xFF
        values = {
            round(row.engine_off if row.engine_off is not None else row.mean)
            for row in channels[name].signals.values()
            if row.valid
        }
        assert {round(reading.value) for reading in truth.implausible} <= values
