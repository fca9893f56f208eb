"""The checksums of CAN against a CRC library and the check values of the CRC catalogue."""

from __future__ import annotations

import anycrc
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.frames.crc import CRC15, CRC17, CRC21, Polynomial, crc

# Catalogue of parametrised CRC algorithms: CRC-15/CAN, CRC-17/CAN-FD, CRC-21/CAN-FD, check over "123456789". The
# catalogue's FD entries start at 0; ISO 11898-1:2015 starts them at 1 followed by zeros.
CATALOGUE = [
    ("CRC15-CAN", CRC15, 0x059E),
    ("CRC17-CAN-FD", CRC17, 0x04F03),
    ("CRC21-CAN-FD", CRC21, 0x0ED841),
]


def column(data):
    return np.unpackbits(np.frombuffer(data, np.uint8))[:, None]


@pytest.mark.parametrize(("name", "polynomial", "check"), CATALOGUE)
def test_check_value_of_the_catalogue(name, polynomial, check):
    from_zero = Polynomial(polynomial.width, polynomial.terms, 0)
    assert crc(column(b"123456789"), from_zero)[0] == check
    assert anycrc.Model(name).calc(b"123456789") == check


@pytest.mark.parametrize("polynomial", [CRC15, CRC17, CRC21])
@given(data=st.binary(max_size=70))
def test_equals_the_library_from_the_standard_s_starting_value(polynomial, data):
    library = anycrc.CRC(polynomial.width, polynomial.terms, polynomial.initial, False, False, 0)  # noqa: FBT003
    assert crc(column(data), polynomial)[0] == library.calc(data)
