"""Moments a recorder keeps."""

import pytest

from linkcheck.errors import UsageError
from linkcheck.frames import ERROR, EXTENDED, FrameBatch
from linkcheck.traffic import Analysis
from linkcheck.traffic.triggers import Triggers

SECOND = 1_000_000_000


def found(kinds, rows, advance_to=None):
    triggers, analysis = Triggers(frozenset(kinds)), Analysis()
    moments = []
    for row in rows:
        for part in analysis.mark(FrameBatch.from_rows([row], ("can0",))):
            moments += triggers.eat(part)
    if advance_to is not None:
        moments += triggers.advance("can0", advance_to) + triggers.advance("can0", advance_to + SECOND)
    return moments


def errors(count, apart_ns):
    return [(SECOND + i * apart_ns, 0, 0x88, ERROR, 8, bytes(8)) for i in range(count)]


def test_ten_errors_in_a_second_are_a_burst_and_slower_ones_are_not():
    assert [t.kind for t in found({"errors"}, errors(10, SECOND // 20))] == ["errors"]
    assert found({"errors"}, errors(30, SECOND // 5)) == []


def test_a_bus_that_talked_and_stopped_is_told_once():
    row = (SECOND, 0, 0x0CF00400, EXTENDED, 8, bytes(8))
    assert [t.kind for t in found({"silence"}, [row], 3 * SECOND)] == ["silence"]
    assert found({"silence"}, [row], int(1.5 * SECOND)) != [row]


def test_a_code_is_told_when_it_appears_and_not_again():
    # SPN 639 FMI 9, as DM1 (SAE J1939-73).
    none = (0, 0, 0x18FECA00, EXTENDED, 8, bytes.fromhex("00FF00000000FFFF"))
    code = bytes.fromhex("04FF7F020901FFFF")
    rows = [none, *[(SECOND * k, 0, 0x18FECA00, EXTENDED, 8, code) for k in (1, 2, 3)]]
    (moment,) = found({"code"}, rows)
    assert moment.time_ns == SECOND
    assert "SPN 639 FMI 9" in moment.text


def test_an_unknown_trigger_is_refused():
    with pytest.raises(UsageError):
        Triggers(frozenset({"smoke"}))
