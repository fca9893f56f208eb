"""Error frames: classes, places, states and counters after the Linux kernel's include/uapi/linux/can/error.h."""

from linkcheck.frames import ERROR, EXTENDED, FrameBatch
from linkcheck.traffic import Analysis, Options

MS = 1_000_000
CONTROLLER, PROTOCOL, TRANSCEIVER, NO_ACK, BUS_OFF, BUS_ERROR, COUNTERS = 0x4, 0x8, 0x10, 0x20, 0x40, 0x80, 0x200


def analyse(rows):
    analysis = Analysis(Options(bit_rate=250_000))
    analysis.eat(FrameBatch.from_rows(rows, ("can0",)))
    return analysis.result().channels["can0"]


def good(at_ms, address):
    return (at_ms * MS, 0, 0x18FEF100 | address, EXTENDED, 8, bytes(8))


def error(at_ms, bits, data=bytes(8)):
    return (at_ms * MS, 0, bits, ERROR, 8, data)


def test_states_counters_and_the_way_to_bus_off():
    rows = [good(i * 10, 0) for i in range(100)]
    rows += [
        error(100, CONTROLLER | COUNTERS, bytes([0, 0x08, 0, 0, 0, 0, 96, 0])),  # data[1] 08: transmit warning
        error(200, CONTROLLER | COUNTERS, bytes([0, 0x20, 0, 0, 0, 0, 128, 3])),  # 20: transmit passive
        error(300, BUS_OFF),
    ]
    summary = analyse(sorted(rows)).error_frames
    assert [row.state for row in summary.states] == ["error-warning", "error-passive", "bus-off"]
    assert (summary.tx_errors_max, summary.rx_errors_max) == (128, 3)
    assert summary.total == 3


def test_whose_frames_the_errors_surround():
    rows = []
    for i in range(200):
        rows.append(good(i * 10, 0))
        if i % 4 == 0:
            rows += [
                error(i * 10 + 4, PROTOCOL | BUS_ERROR, bytes([0, 0, 0x04, 0x19, 0, 0, 0, 0])),
                good(i * 10 + 5, 11),
            ]
    channel = analyse(rows)
    assert channel.error_frames.surrounding == {"11": 50}
    (finding,) = [f for f in channel.findings if f.finding == "error_frames"]
    assert "address" not in finding.text or "11" in finding.text


def test_errors_and_nothing_else():
    channel = analyse([error(i, PROTOCOL | BUS_ERROR, bytes([0, 0, 0x04, 0, 0, 0, 0, 0])) for i in range(50)])
    assert [f.finding for f in channel.findings if f.severity == "fault"] == ["errors_only"]


def test_transceiver_reports_the_wire():
    # data[4] = 07: CAN high shorted to ground.
    channel = analyse([good(0, 0), error(5, TRANSCEIVER, bytes([0, 0, 0, 0, 7, 0, 0, 0])), good(10, 0)])
    (finding,) = [f for f in channel.findings if f.finding == "transceiver_status"]
    assert "ground" in finding.text


def test_a_flood_of_errors_is_counted_not_looked_at_one_by_one():
    rows = [error(i, PROTOCOL, bytes([0, 0, 1 << (i % 8), 0, 0, 0, 0, 0])) for i in range(20_000)]
    channel = analyse(rows)
    assert channel.error_frames.total == 20_000
    assert sum(channel.error_frames.by_protocol.values()) >= 20_000
