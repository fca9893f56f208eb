"""PID 194. Layout: the open decoder grimm-co/stm32-j1708 (j1708/pid_types.py), bits as in SAE J1587."""

from hypothesis import given
from hypothesis import strategies as st

from linkcheck.j1708.fault_list import ListedFault, fault_list
from linkcheck.j1708.parameters import Parameter
from linkcheck.j1708.sections import Sections


def test_an_active_subsystem_code_with_its_count():
    (fault,), rest = fault_list(bytes([231, 0b1011_1001, 3]))
    assert fault == ListedFault(231, subsystem=True, fmi=9, active=True, count=3)
    assert fault.about_a_link
    assert fault.text == "J1939 data link: abnormal update rate"
    assert rest == b""


def test_a_stored_parameter_code_without_count():
    (fault,), _ = fault_list(bytes([168, 0b0110_0100]))
    assert fault == ListedFault(168, subsystem=False, fmi=4, active=False, count=None)
    assert fault.text == "battery potential: voltage below normal, or shorted low"
    assert not fault.about_a_link


def test_numbers_beyond_255():
    (fault,), _ = fault_list(bytes([1, 0b0001_0010]))
    assert (fault.number, fault.subsystem) == (257, True)


def test_a_list_that_ends_in_the_middle_hands_back_the_rest():
    faults, rest = fault_list(bytes([168, 0b0010_0100, 231, 0b1011_1001]))
    assert [fault.number for fault in faults] == [168]
    assert rest == bytes([231, 0b1011_1001])


@given(st.binary(max_size=60))
def test_any_bytes_give_a_list_and_a_rest(data):
    faults, rest = fault_list(data)
    assert len(data) == sum(2 if fault.count is None else 3 for fault in faults) + len(rest)
    assert len(rest) < 3


@given(st.binary(min_size=19, max_size=180))
def test_a_list_in_sections_is_put_together(data):
    pieces = [data[:14]] + [data[i : i + 15] for i in range(14, len(data), 15)]
    last = len(pieces) - 1
    sections, whole = Sections(), None
    for number, piece in enumerate(pieces):
        head = bytes([194, last << 4 | number]) + (bytes([len(data)]) if number == 0 else b"")
        assert whole is None
        whole = sections.take(136, Parameter(192, head + piece))
    assert whole == Parameter(194, data)


def test_a_missing_section_gives_nothing_and_the_next_round_works():
    sections = Sections()
    first, second = Parameter(192, bytes([194, 0x20, 6, 1, 2])), Parameter(192, bytes([194, 0x21, 3, 4]))
    third = Parameter(192, bytes([194, 0x22, 5, 6]))
    assert [sections.take(136, part) for part in (first, third, first, second)] == [None] * 4
    assert sections.take(136, third) == Parameter(194, bytes([1, 2, 3, 4, 5, 6]))
