"""Sample point and clock tolerance against published worked figures."""

import pytest

from linkcheck.errors import DataError
from linkcheck.frames.bit_timing import J1939_USUAL, BitTiming


def test_sample_point_of_16_quanta():
    # can-utils, can-calc-bit-timing: 250 kbit/s, 16 quanta as 1 + 13 + 2 sample at 87.5 %, 3.5 us into the bit.
    assert J1939_USUAL.quanta == 16
    assert J1939_USUAL.sample_point == 0.875
    assert J1939_USUAL.sample_after_s(250_000) == pytest.approx(3.5e-6)


def test_clock_tolerance():
    # OpenLCB CAN Physical Layer Technical Note (openlcb/documents, commit e5a69aee): 20 quanta, phase 2 of 5, jump 4
    # give min(1.000 %, 0.980 %); 16 quanta with a jump of 3 give 0.938 %.
    assert BitTiming(14, 5, 4).clock_tolerance == pytest.approx(0.00980, abs=0.000005)
    assert BitTiming(14, 5, 4).jump / (20 * 20) == pytest.approx(0.01000)
    assert BitTiming(11, 4, 3).clock_tolerance == pytest.approx(0.00938, abs=0.00001)


@pytest.mark.parametrize("segments", [(0, 2, 1), (13, 2, 3), (13, 2, 0)])
def test_impossible_segments(segments):
    with pytest.raises(DataError):
        BitTiming(*segments)
