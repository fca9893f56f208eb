"""What each scenario hides is really there, looked for with the simplest of means and no analyser.

Trouble codes, transport and error frames are decoded here by hand from the published layouts: DM1 of SAE J1939-73 and
transport of SAE J1939-21 as in Linux Documentation/networking/j1939.rst, error frames of Linux
include/uapi/linux/can/error.h.
"""

import itertools

import j1939  # the can-j1939 library
import pytest
from practice_recordings import NAMES, recording, rows

from linkcheck.errors import UsageError
from linkcheck.practice.scenarios import simulate

SEEDS = (1, 2)


def truth(name, channel="can0", seed=1):
    return recording(name, seed).truths[channel]


def announced(name, pgn, address):
    """Payloads of a group announced to everyone in packets (BAM), put together."""
    done, size, parts = [], 0, []
    for _, ident, _, data in rows(name).frames:
        if ident == 0x1CECFF00 | address and data[0] == 32 and int.from_bytes(data[5:8], "little") == pgn:
            size, parts = int.from_bytes(data[1:3], "little"), []
        elif ident == 0x1CEBFF00 | address and size:
            assert data[0] == len(parts) + 1
            parts.append(data[1:])
            if len(parts) * 7 >= size:
                done.append(b"".join(parts)[:size])
                size = 0
    return done


def codes(payload):
    """(SPN, FMI) pairs of a DM1 payload."""
    found = set()
    for n in range(2, len(payload) - 3, 4):
        low, mid, high, _ = payload[n : n + 4]
        if (spn := low | mid << 8 | high >> 5 << 16) and spn != 0x7FFFF:
            found.add((spn, high & 0x1F))
    return found


@pytest.mark.parametrize("name", NAMES)
def test_addresses(name):
    for channel in recording(name).truths:
        seen = {ident & 0xFF for _, ident, extended, _ in rows(name, channel).frames if extended}
        assert tuple(sorted(seen)) == truth(name, channel).addresses


@pytest.mark.parametrize("name", ["healthy", "coolant-stuck", "battery-low", "two-channels", "beside-11-bit"])
def test_clean_files_have_no_errors_and_no_codes(name):
    for channel in recording(name).truths:
        assert rows(name, channel).errors == []
        assert truth(name, channel).codes == truth(name, channel).silences == ()
        for address in truth(name, channel).addresses:
            assert all(codes(data) == set() for _, data in rows(name, channel).of(65226, address))


@pytest.mark.parametrize("name", ["healthy", "module-mute", "address-used-twice"])
def test_names_are_invented(name):
    claims = [(ident & 0xFF, data) for _, ident, _, data in rows(name).frames if ident & 0x1FFFFF00 == 0x18EEFF00]
    assert claims
    for _, data in claims:
        assert j1939.Name(bytes=list(data)).manufacturer_code == 2047


def test_healthy_is_cold_and_off_and_then_runs():
    speeds = [(t, int.from_bytes(data[3:5], "little") * 0.125) for t, data in rows("healthy").of(61444, 0)]
    assert {rpm for t, rpm in speeds if t < 7.5} == {0.0}
    assert 600 < speeds[-1][1] < 700
    coolant = [data[0] - 40 for _, data in rows("healthy").of(65262, 0)]
    air = [int.from_bytes(data[3:5], "little") / 32 - 273 for _, data in rows("healthy").of(65269, 0)]
    assert abs(coolant[0] - air[0]) < 2
    assert coolant[-1] > coolant[0]
    volts = [int.from_bytes(data[4:6], "little") * 0.05 for _, data in rows("healthy").of(65271, 0)]
    assert 12.2 < volts[0] < 12.8
    assert 13.8 < volts[-1] < 14.4  # charging: common practice, no source


def test_healthy_tool_gets_a_long_answer_in_a_transfer():
    frames = [(ident, data) for _, ident, _, data in rows("healthy").frames]
    opening = next(n for n, (ident, data) in enumerate(frames) if ident == 0x1CECF900 and data[0] == 16)
    size = int.from_bytes(frames[opening][1][1:3], "little")
    packets = [data for ident, data in frames[opening:] if ident == 0x1CEBF900]
    text = b"".join(data[1:] for data in packets)[:size]
    assert text.startswith(b"INVENTED*ENGINE-ONE*")
    assert any(ident == 0x1CEC00F9 and data[0] == 17 for ident, data in frames)  # clear to send
    assert any(ident == 0x1CEC00F9 and data[0] == 19 for ident, data in frames)  # end of message
    assert announced("healthy", 65260, 0) == [b"XX0INVENTED000001*"]


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("name", ["drops-over-bumps", "terminator-lost"])
def test_silent_where_the_truth_says_so_and_nowhere_else(name, seed):
    for address in (0, 3, 11, 15, 49):  # the body controller sends once a second at best
        silent = [s for s in truth(name, seed=seed).silences if address in s.addresses]
        times = rows(name, seed=seed).times(address)
        gaps = [(a, b) for a, b in itertools.pairwise(times) if b - a > 0.25]
        back = [s for s in silent if s.to_s < times[-1] + 0.01]
        assert len(gaps) == len(back)
        for (a, b), spell in zip(gaps, back, strict=True):
            assert a <= spell.from_s + 1e-6
            assert spell.to_s - 1e-6 <= b


@pytest.mark.parametrize("seed", SEEDS)
def test_drops_are_of_one_and_of_both(seed):
    groups = {silence.addresses for silence in truth("drops-over-bumps", seed=seed).silences}
    assert groups == {(11,), (11, 15)}


def test_drops_make_others_set_network_codes():
    told = {(code.address, code.spn, code.fmi) for code in truth("drops-over-bumps").codes}
    assert {(0, 639, 9), (3, 639, 9), (33, 639, 9), (49, 639, 9)} <= told
    for address in (0, 33):
        assert {(639, 9)} in [codes(data) for _, data in rows("drops-over-bumps").of(65226, address)]
    # The transmission holds two codes: ten bytes, so in packets.
    assert {(639, 9), (904, 19)} in [codes(data) for data in announced("drops-over-bumps", 65226, 3)]


@pytest.mark.parametrize("name", ["healthy", "drops-over-bumps"])
def test_announced_packets_are_50_to_200_ms_apart(name):
    # SAE J1939-21: 50 to 200 ms between the packets of an announcement
    last_s, seen = {}, 0
    for t, ident, _, _ in rows(name).frames:
        if ident & 0x1FFFFF00 == 0x1CEBFF00:
            assert 0.050 <= t - last_s[ident & 0xFF] <= 0.200
            seen += 1
        if ident & 0x1FFFFF00 in {0x1CECFF00, 0x1CEBFF00}:  # the opening, and each packet
            last_s[ident & 0xFF] = t
    assert seen >= 6


@pytest.mark.parametrize("seed", SEEDS)
def test_loose_plug_hears_nothing_in_the_gaps_only(seed):
    times = [t for t, *_ in rows("loose-plug", seed=seed).frames]
    gaps = [(a, b) for a, b in itertools.pairwise(times) if b - a > 0.04]
    assert gaps == [pytest.approx(gap, abs=1e-6) for gap in truth("loose-plug", seed=seed).gaps]


def test_mute_module_is_asked_three_times_in_vain():
    asked = [t for t, ident, _, _ in rows("module-mute").frames if ident == 0x18EA0BF9]
    assert len(asked) == truth("module-mute").unanswered[0].times == 3
    assert rows("module-mute").times(11) == []
    refused = [data for _, ident, _, data in rows("module-mute").frames if ident == 0x18E8FF03]
    assert [(data[0], data[4], int.from_bytes(data[5:], "little")) for data in refused] == [(1, 249, 65253)]


def test_nobody_acknowledges_one_claim_for_ever():
    idents = {ident for _, ident, _, _ in rows("nobody-acknowledges").frames}
    assert idents == set(truth("nobody-acknowledges").unacknowledged) == {0x18EEFF00}
    gaps = [b[0] - a[0] for a, b in itertools.pairwise(rows("nobody-acknowledges").frames)]
    assert all(0.0006 < gap < 0.0007 for gap in gaps)
    assert len(rows("nobody-acknowledges").errors) == 16


def test_tool_alone_sees_only_missing_acknowledgements():
    assert rows("tool-alone").frames == []
    bus_errors = [(ident, data) for _, ident, data in rows("tool-alone").errors if ident & 0x80]
    assert {ident for ident, _ in bus_errors} == {0x2A8}  # ACK | PROT | BUSERROR | CNT
    assert {(data[2], data[3]) for _, data in bus_errors} == {(0x80, 0x19)}  # on transmission, at the ACK slot
    counts = [data[6] for _, data in bus_errors]
    assert counts[:17] == [*range(8, 129, 8), 128]
    assert set(counts[17:]) == {128}
    states = [data[1] for _, ident, data in rows("tool-alone").errors if ident & 0x04]
    assert states == [0x08, 0x20]  # transmit warning, transmit passive


def test_address_used_twice_has_two_names_and_two_counters():
    claims = {data for _, ident, _, data in rows("address-used-twice").frames if ident == 0x18EEFF31}
    assert len(claims) == 2
    counters = [data[7] for t, data in rows("address-used-twice").of(65281, 49) if t > 8]
    steps = [(b - a) % 256 for a, b in itertools.pairwise(counters)]
    assert not any(a == b == 1 for a, b in itertools.pairwise(steps))
    assert len([t for t in rows("address-used-twice").times(49) if t > 10]) > 1.8 * len(
        [t for t in rows("healthy").times(49) if t > 10]
    )


def test_flood_is_one_identifier_in_its_time():
    ident, start_s, end_s = truth("flood").flood
    times = [t for t, i, _, _ in rows("flood").frames if i == ident]
    assert start_s < times[0] < start_s + 0.01
    assert end_s - 0.01 < times[-1] < end_s + 0.01
    assert len(times) / (end_s - start_s) > 1500  # a frame takes some 0.6 ms


@pytest.mark.parametrize("seed", SEEDS)
def test_terminator_lost_errors_grow(seed):
    errors = [t for t, ident, _ in rows("terminator-lost", seed=seed).errors if ident & 0x80]
    by_quarter = [sum(5 * n <= t < 5 * (n + 1) for t in errors) for n in range(4)]
    assert by_quarter[0] == 0
    assert by_quarter[1] < by_quarter[2] < by_quarter[3]
    assert {"warning", "passive"} <= set(truth("terminator-lost", seed=seed).states)
    assert all(data[7] > 0 for _, ident, data in rows("terminator-lost", seed=seed).errors if ident == 0x288)
    assert all(silence.addresses == (3,) for silence in truth("terminator-lost", seed=seed).silences)
    assert truth("terminator-lost", seed=seed).silences


@pytest.mark.parametrize("seed", SEEDS)
def test_logger_goes_through_every_state(seed):
    errors = rows("logger-bus-off", seed=seed).errors
    order = [
        {0x204: {0x08: "warning", 0x20: "passive"}.get(data[1]), 0x40: "bus-off", 0x100: "restarted"}.get(ident)
        for _, ident, data in errors
    ]
    reached = list(dict.fromkeys(state for state in order if state))
    assert reached == ["warning", "passive", "bus-off", "restarted"]
    for _, ident, data in errors:
        if ident == 0x288 and data[2] & 0x80:  # its own frame: recessive bit came out dominant
            assert data[2] == 0x90
    off = [t for (t, *_), state in zip(errors, order, strict=True) if state == "bus-off"]
    gaps = truth("logger-bus-off", seed=seed).gaps
    assert len(off) == len(gaps)
    assert all(a <= t < b for t, (a, b) in zip(off, gaps, strict=True))


def test_eleven_bit_identifiers():
    seen = {ident for _, ident, extended, _ in rows("beside-11-bit").frames if not extended}
    assert seen == set(truth("beside-11-bit").eleven_bit) == {0x1A0, 0x2B4, 0x3F1}


def test_implausible_readings():
    assert {data[0] - 40 for _, data in rows("coolant-stuck").of(65262, 0)} == {87}
    volts = [int.from_bytes(data[4:6], "little") * 0.05 for _, data in rows("battery-low").of(65271, 0)]
    assert max(volts) < 11
    assert truth("battery-low").implausible[0].value == pytest.approx(volts[len(volts) // 2], abs=0.1)


@pytest.mark.parametrize("seconds", [0.05, 1.0])
@pytest.mark.parametrize("name", NAMES)
def test_short_recordings_work(name, seconds):
    short = simulate(name, seed=3, seconds=seconds)
    assert set(short.truths) == set(recording(name).truths)
    assert all(list(truth.sentences()) for truth in short.truths.values())


def test_unknown_scenario_is_a_sentence():
    with pytest.raises(UsageError, match="There is no scenario 'nope'"):
        simulate("nope")
