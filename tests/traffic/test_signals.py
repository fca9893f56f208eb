"""Sensors engine off and cold: who does not agree. Layouts: SAE J1939-71 as published in open teaching material."""

import pytest

from linkcheck.frames import EXTENDED, FrameBatch
from linkcheck.traffic import Analysis, Options

MS = 1_000_000


def analyse(frames, **options):
    """`frames`: (ms, identifier, hex)."""
    rows = [(at * MS, 0, identifier, EXTENDED, 8, bytes.fromhex(data)) for at, identifier, data in sorted(frames)]
    analysis = Analysis(Options(bit_rate=250_000, **options))
    analysis.eat(FrameBatch.from_rows(rows, ("can0",)))
    return analysis.result().channels["can0"]


def truck(*, rpm="0000", coolant="3A", oil="4025", boost="00", oil_pressure="00", volts="F800"):
    """Twenty seconds; 3A is 18 degrees, 4025 (raw 0x2540) 25 degrees, F8 00 is 12.40 V."""
    frames = [(t, 0x0CF00400, f"F17D7D{rpm}FFFFFF") for t in range(0, 20_000, 100)]
    for t in range(50, 20_000, 1000):
        frames.append((t, 0x18FEEE00, f"{coolant}3A{oil}FFFFFFFF"))
        frames.append((t + 1, 0x18FEF500, "AAFFFF4025FFFFFF"))  # 85 kPa, ambient 25 degrees
        frames.append((t + 2, 0x18FEF600, f"FF{boost}3EFFFFFFFFFF"))  # intake manifold 22 degrees
        frames.append((t + 3, 0x18FEEF00, f"FFFFFF{oil_pressure}FFFFFFFF"))
        frames.append((t + 4, 0x18FEF700, f"FFFFFFFF{volts}FFFF"))
    return frames


def names(channel):
    return {f.finding for f in channel.findings}


def test_values_as_in_published_captures():
    # Coolant 3A is 18 degC, barometer AA is 85.0 kPa, intake 3E is 22 degC, battery F8 00 is 12.40 V
    # (open data set SystemsCyber/CyberTruckResources).
    signals = analyse(truck()).signals
    assert signals["coolant_temperature@0"].engine_off == pytest.approx(18)
    assert signals["barometric_pressure@0"].mean == pytest.approx(85.0)
    assert signals["intake_manifold_temperature@0"].first == pytest.approx(22)
    assert signals["battery_potential@0"].last == pytest.approx(12.40)


def test_cold_truck_in_order_has_nothing_implausible():
    assert not {n for n in names(analyse(truck())) if n.endswith("implausible")}


def test_coolant_sensor_that_reads_hot_on_a_cold_engine():
    channel = analyse(truck(coolant="7F"))  # 87 degrees
    (finding,) = [f for f in channel.findings if f.finding == "temperature_implausible"]
    assert finding.evidence["signal"] == "coolant_temperature"


def test_boost_and_oil_pressure_on_a_standing_engine():
    assert "boost_implausible" in names(analyse(truck(boost="14")))  # 40 kPa
    assert "boost_implausible" not in names(analyse(truck(boost="2A")))  # 84 kPa: absolute, as the barometer
    assert "oil_pressure_implausible" in names(analyse(truck(oil_pressure="32")))  # 200 kPa


def test_running_engine_is_not_judged_by_the_standing_one():
    channel = analyse(truck(rpm="8013", coolant="7F", boost="14", oil_pressure="32"))  # 624 rpm
    assert not names(channel) & {"temperature_implausible", "boost_implausible", "oil_pressure_implausible"}
    assert channel.signals["oil_pressure@0"].engine_off is None


def test_low_battery_and_24_volt_systems():
    assert "battery_implausible" in names(analyse(truck(volts="C800")))  # 10.0 V
    assert "battery_implausible" not in names(analyse(truck(volts="F001")))  # 24.8 V
    assert "battery_implausible" in names(analyse(truck(volts="F001"), system_volts=12))


def test_error_and_not_available_are_no_values():
    channel = analyse(truck(coolant="FE", oil_pressure="FF"))
    coolant, oil = channel.signals["coolant_temperature@0"], channel.signals["oil_pressure@0"]
    assert (coolant.valid, coolant.errors) == (0, 20)
    assert (oil.valid, oil.not_available) == (0, 20)
    assert "signal_in_error" in names(channel)
