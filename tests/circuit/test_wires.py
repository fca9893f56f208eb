"""Copper and fuses against published tables."""

import pytest

from linkcheck.circuit.wires import COLD_FUSE_OHMS, awg_area_mm2, copper_factor, wire_ohms_per_metre

FEET_PER_1000 = 304.8  # metres


@pytest.mark.parametrize(
    ("gauge", "ohms_per_1000_ft"), [(22, 16.14), (20, 10.15), (18, 6.385), (16, 4.016), (14, 2.525)]
)
def test_solid_copper_agrees_with_the_american_wire_gauge_table(gauge, ohms_per_1000_ft):
    # Cirris wire-resistance calculator, AWG table
    assert float(wire_ohms_per_metre(gauge)) * FEET_PER_1000 == pytest.approx(ohms_per_1000_ft, rel=1e-3)


def test_ten_amperes_over_five_metres_and_back_of_18_awg_drop_2_095_volts():
    # the same table: 20.95 ohm/km
    assert float(wire_ohms_per_metre(18)) * 2 * 5 * 10.0 == pytest.approx(2.095, abs=0.002)


@pytest.mark.parametrize(
    ("celsius", "factor"), [(-40, 0.7642), (0, 0.9214), (25, 1.01965), (60, 1.1572), (85, 1.25545), (105, 1.33405)]
)
def test_copper_warms_by_0_393_percent_a_kelvin(celsius, factor):
    # NBS Handbook 100, temperature coefficient at 20 degC
    assert float(copper_factor(celsius)) == pytest.approx(factor, abs=1e-4)


def test_18_awg_is_0_823_mm2():
    # ASTM B258
    assert float(awg_area_mm2(18)) == pytest.approx(0.823, abs=5e-4)


def test_one_millivolt_over_a_ten_ampere_fuse_is_130_milliamperes():
    # mvwautotechniek.nl, voltage drop over fuses
    assert 1e-3 / COLD_FUSE_OHMS[10.0] == pytest.approx(0.130, rel=0.01)
