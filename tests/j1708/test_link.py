"""The analysis of a whole link: load, senders, values, faults, findings, the meter."""

import pytest
from j1708.links import START_NS, byte_by_byte, chunks_of, message

from linkcheck.j1708.framing import BIT_NS, CHARACTER_NS
from linkcheck.j1708.link import LinkAnalysis

SPEED = message(128, [190, 0x40, 0x1F], [84, 60])
ACCOUNT = {"path": "made up", "format": "none"}


def analyse(chunks, expected=()):
    analysis = LinkAnalysis(expected)
    for end_ns, data in chunks:
        analysis.feed(end_ns, data)
    analysis.finish()
    return analysis.result(ACCOUNT)


def every(ms, data, count, start_ms=0):
    return [(START_NS + round((start_ms + n * ms) * 1e6) + len(data) * CHARACTER_NS, data) for n in range(count)]


def names(result):
    return {finding.finding for finding in result.findings}


def test_load_is_ten_bits_a_byte_of_9600():
    result = analyse(every(100, SPEED, 101))  # 101 messages in ten seconds and a bit
    bits = 101 * len(SPEED) * 10
    assert result.bus_load.mean == pytest.approx(bits / 9600 / (10 + len(SPEED) * CHARACTER_NS / 1e9), rel=1e-3)
    assert result.bus_load.peak_1s == pytest.approx(10 * len(SPEED) * 10 / 9600, rel=0.11)


def test_driven_share_counts_start_bits_and_zeros():
    zeros = every(100, message(128, [84, 0x00]), 11)  # 80 54 00 2C: ones 1, 3, 0, 3
    low = 4 * 9 - (1 + 3 + 0 + 3)
    span_bits = (10 * 100e6 + 4 * CHARACTER_NS) / BIT_NS
    assert analyse(zeros).driven_share == pytest.approx(11 * low / span_bits, rel=1e-6)


def test_senders_periods_and_values():
    result = analyse(sorted(every(100, SPEED, 50) + every(500, message(140, [96, 120]), 10, 40)))
    assert [(row.mid, row.name, row.messages) for row in result.senders] == [
        (128, "engine 1", 50),
        (140, "instrument cluster", 10),
    ]
    assert [row.period_ms for row in result.senders[0].parameters] == [100.0, 100.0]
    values = {(row.mid, row.name): (row.last, row.unit) for row in result.values}
    assert values[128, "engine speed"] == (2000.0, "rpm")  # 0x1F40 quarters
    assert values[128, "road speed"] == (48.3, "km/h")  # 60 half miles an hour
    assert values[140, "fuel level"] == (60.0, "%")
    assert not result.findings


def test_a_sender_that_falls_silent_is_named():
    chunks = [chunk for chunk in every(100, SPEED, 100) if not 3e9 < chunk[0] - START_NS < 7e9]
    result = analyse(sorted(chunks + every(100, message(136, [49, 0]), 100, 50)))
    silent = [finding for finding in result.findings if finding.finding == "fell_silent"]
    assert [finding.evidence["mid"] for finding in silent] == [128]
    assert silent[0].evidence["silence_s"] == pytest.approx(4.0, abs=0.2)


def test_a_missing_sender_is_named():
    result = analyse(every(100, SPEED, 10), expected={128, 136})
    assert [f.evidence for f in result.findings if f.finding == "missing_sender"] == [{"mid": 136}]


def test_lone_bytes_that_two_senders_make_together_are_collisions():
    both = every(100, SPEED, 20) + every(100, message(137, [49, 0]), 20, 30) + every(100, message(138, [49, 0]), 20, 60)
    collided = [(START_NS + 90_000_000, bytes([137 & 138])), (START_NS + 190_000_000, b"\x55")]
    result = analyse(sorted(both + collided))
    assert result.damaged == {"lone byte": 2}
    assert result.collisions == 1  # 0x88 is what 137 and 138 give; 0x55 is noise
    assert "collisions" in names(result)


def test_noise_is_found():
    noisy = [(end, data[:-1] + b"\x13" if n % 5 == 0 else data) for n, (end, data) in enumerate(every(50, SPEED, 100))]
    result = analyse(noisy)
    assert result.damaged == {"checksum": 20}
    assert "damaged_messages" in names(result)


def test_swapped_wires_give_bytes_and_no_message():
    result = analyse([(end, bytes(byte ^ 0xFF for byte in data)) for end, data in every(50, SPEED, 50)])
    assert result.messages == 0
    assert result.findings[0].finding == "no_message"
    assert "swapped" in result.findings[0].text


def test_a_pair_that_is_held_is_told_from_noise():
    assert analyse(every(100, bytes(10), 20)).findings[0].finding == "held"


def test_codes_about_a_link_come_first():
    faults = message(136, [194, 5, 168, 0b0110_0100, 250, 0b1011_0010, 7])
    result = analyse(sorted(every(100, SPEED, 50) + every(2000, faults, 3, 20)))
    assert [(row.number, row.subsystem, row.fmi, row.count, row.link) for row in result.faults] == [
        (250, True, 2, 7, True),
        (168, False, 4, None, False),
    ]
    assert "link_code" in names(result)


def test_a_crowded_link_is_named():
    result = analyse(chunks_of([message(128, [200, 16], range(16))] * 100, idle_bits=12))
    assert result.bus_load.peak_1s > 0.9
    assert "busy" in names(result)


def test_whole_and_byte_by_byte_give_the_same_result():
    chunks = sorted(every(100, SPEED, 50) + every(70, message(136, [49, 0]), 60, 33))
    assert analyse(chunks) == analyse(byte_by_byte(chunks))


def test_nothing_heard_is_no_result_with_figures():
    result = analyse([])
    assert (result.bytes, result.bus_load.mean, result.meter, result.findings) == (0, None, None, [])
