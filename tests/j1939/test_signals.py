import numpy as np
import pytest

from linkcheck.errors import DataError
from linkcheck.j1939 import SignalTable, signal_table


def decode(pgn, payload):
    data = np.frombuffer(bytes.fromhex(payload), np.uint8)
    row = np.zeros((1, 8), np.uint8)
    row[0, : len(data)] = data
    return signal_table().decode(pgn, row, np.array([len(data)], np.uint8))


@pytest.mark.parametrize(
    ("pgn", "payload", "expected"),
    [
        # Open data set SystemsCyber/CyberTruckResources, commit f434e585: captured payloads; the speed with the value
        # its authors worked out, the others with the published scaling.
        (61444, "61 A2 A1 A6 3B 00 0F A1", {"engine_speed": 1908.75, "driver_demand_torque": 37}),
        (61444, "61 A2 A1 A6 3B 00 0F A1", {"actual_engine_torque": 36}),
        (65265, "03 56 0A 78 9F B5 09 F0", {"vehicle_speed": 10.3359375}),
        (65262, "3A FF FF FF FF FF FF FF", {"coolant_temperature": 18}),
        (65269, "AA FF FF 55 25 FF FF FF", {"barometric_pressure": 85.0, "ambient_temperature": 25.65625}),
        (65270, "FF 12 3E FF FF FF FF FF", {"boost_pressure": 36, "intake_manifold_temperature": 22}),
        (65271, "FF FF FF FF ED 00 F8 00", {"battery_potential": 11.85, "keyswitch_potential": 12.40}),
        (65253, "25 4C 02 00 FF FF FF FF", {"engine_hours": 7528.25}),
        (65272, "FF FF FF FF 12 24 FF FF", {"transmission_oil_temperature": 15.5625}),
        # The top of the range: same data set, Jupyter/J1939db.json.
        (61444, "FF FF FF FF FA FF FF FF", {"engine_speed": 8031.875}),
    ],
)
def test_published_payloads(pgn, payload, expected):
    decoded = decode(pgn, payload)
    for name, value in expected.items():
        assert decoded[name].values[0] == pytest.approx(value, abs=1e-9)
        assert not decoded[name].error[0]
        assert not decoded[name].not_available[0]


@pytest.mark.parametrize(
    ("raw", "error", "not_available"),
    # SAE J1939-71: FE00-FEFF error, FF00-FFFF not available, FB00-FDFF reserved or special.
    [("00 FB", 0, 0), ("FF FD", 0, 0), ("00 FE", 1, 0), ("FF FE", 1, 0), ("00 FF", 0, 1), ("FF FF", 0, 1)],
)
def test_what_is_no_measurement_of_two_bytes(raw, error, not_available):
    speed = decode(61444, f"FF FF FF {raw} FF FF FF")["engine_speed"]
    assert np.isnan(speed.values[0])
    assert (speed.error[0], speed.not_available[0]) == (error, not_available)


@pytest.mark.parametrize(
    ("pgn", "payload", "failed"),
    # Same data set, commit 7c45d63b, folder 05_J1939: an engine controller on the bench, without its sensors, marks
    # as failed what it should measure itself. This proves which bytes carry which signal.
    [
        (65262, "FE FF 00 FE FF FF FF FF", {"coolant_temperature", "oil_temperature"}),
        (65263, "FE FF FF FE 80 80 FF FA", {"fuel_delivery_pressure", "oil_pressure"}),
        (65269, "A8 FF FF 00 FE 00 FF FF", {"ambient_temperature"}),
        (65270, "FA FE FE FE FF 20 22 FF", {"boost_pressure", "intake_manifold_temperature", "air_inlet_pressure"}),
    ],
)
def test_a_controller_without_sensors_marks_its_own_signals(pgn, payload, failed):
    assert {name for name, signal in decode(pgn, payload).items() if signal.error[0]} == failed


def test_the_same_controller_measures_its_own_supply():
    potentials = decode(65271, "FF FF FF FF FF FF F1 00")  # same capture
    assert potentials["keyswitch_potential"].values[0] == pytest.approx(12.05)
    assert potentials["battery_potential"].not_available[0]


def test_bytes_that_were_not_sent_are_not_available():
    short = decode(65271, "FF FF FF FF ED")
    assert short["battery_potential"].not_available[0]
    assert np.isnan(short["battery_potential"].values[0])
    assert not short["battery_potential"].error[0]


def test_lookup_goes_by_group():
    table = signal_table()
    assert table.pgns == {61444, 65253, 65262, 65263, 65265, 65269, 65270, 65271, 65272}
    assert table.signals(61443) == ()
    assert table.decode(61443, np.zeros((3, 8), np.uint8)) == {}
    assert [signal.spn for signal in table.signals(65271)] == [114, 115, 167, 168, 158]


def test_a_signal_across_bytes_is_refused():
    text = 'BO_ 2364540158 message: 8 any\n SG_ odd : 3|5@1+ (1,0) [0|31] "" any\n'
    with pytest.raises(DataError, match="Signal odd of PGN 61444"):
        SignalTable.from_dbc(f'VERSION ""\n\nBS_:\n\nBU_: any\n\n{text}')
