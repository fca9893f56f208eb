import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.j1939 import TroubleCode, decode_report, fmi_text
from linkcheck.j1939.trouble_codes import Lamp

# Open data set SystemsCyber/CyberTruckResources, commit f434e585: a DM1 of 190 bytes, put together from its packets.
LONG_DM1 = bytes.fromhex(
    "57ff9d000301fb060b7e4a000e7ee1060e7e6600040151000401b904040169000301460a0301ab000301cf040201d304020184060201"
    "6e0003015e000401ae000301f5131301910c1301610209017f0209018406090184060901f8130901840609018406090184060901840609"
    "01fd130901840609018406090184060901d40409018406090184060901af0003019c0103019b010401890313018a0313018b0313018c0313"
    "0184060901840609018406090175020501f9130901fa130901"
)


def test_a_dm1_of_47_codes():
    report = decode_report(LONG_DM1)
    lamps = report.lamps
    assert (lamps.malfunction.state, lamps.red_stop.state, lamps.amber_warning.state) == ("on", "on", "on")
    assert lamps.protect == Lamp("not available", "steady")
    assert len(report.codes) == 47
    assert report.codes[0] == TroubleCode(spn=157, fmi=3, count=1)
    assert report.codes[1] == TroubleCode(spn=1787, fmi=11, count=126)
    assert report.codes[-1] == TroubleCode(spn=5114, fmi=9, count=1)
    pairs = {(code.spn, code.fmi) for code in report.codes}
    assert {(1231, 2), (1235, 2), (1668, 2), (5109, 19), (639, 9), (629, 5)} <= pairs
    assert {(spn, 19) for spn in range(905, 909)} <= pairs
    assert report.remarks == ()


@pytest.mark.parametrize(
    # The first two: open data set SystemsCyber/CyberTruckResources, commit f434e585; the third: from memory.
    "payload",
    ["03 FF 00 00 00 00 FF FF", "00 FF 00 00 00 00 FF FF", "00 FF FF FF FF FF FF FF"],
)
def test_no_active_code(payload):
    report = decode_report(bytes.fromhex(payload))
    assert report.codes == ()
    assert report.remarks == ()


def test_lamps_and_flashing():
    # SAE J1939-73: malfunction, red stop, amber warning, protect, two bits each from the top.
    lamps = decode_report(bytes.fromhex("1B 1B 00 00 00 00 FF FF")).lamps
    assert lamps.malfunction == Lamp("off", "slow")
    assert lamps.red_stop == Lamp("on", "fast")
    assert lamps.amber_warning == Lamp("reserved", "reserved")
    assert lamps.protect == Lamp("not available", "steady")


def test_an_older_layout_is_told_with_what_it_may_be():
    # SPN 1208, FMI 3, ten times: the worked example of SAE J1939-73 in its versions 1, 2 and 3 (from memory).
    for group in ("00 97 03 8A", "97 00 03 8A", "B8 04 03 8A"):
        report = decode_report(bytes.fromhex(f"00 FF {group} FF FF"))
        (code,) = report.codes
        assert 1208 in (code.spn, *code.other_spns)
        assert (code.fmi, code.count, code.conversion_method) == (3, 10, 1)
        assert "conversion method 1" in report.remarks[0]


def test_the_largest_parameter_number():
    # 19 bits, the upper three beside the failure mode (SAE J1939-73).
    assert decode_report(bytes.fromhex("00 FF FF FF E3 01 FF FF")).codes == (TroubleCode(524287, 3, 1),)


def test_a_count_of_127_is_not_told():
    assert decode_report(bytes.fromhex("00 FF 6E 00 03 7F FF FF")).codes[0].count is None


def test_odd_tails_are_reported():
    report = decode_report(bytes.fromhex("00 FF 6E 00 03 01 12 34"))
    assert [code.spn for code in report.codes] == [110]
    assert report.remarks == ("2 bytes after the last code: 12 34",)
    assert "only 3 bytes" in decode_report(bytes(3)).remarks[0]


@given(st.binary(max_size=1785))
def test_any_bytes_make_a_report(payload):
    report = decode_report(payload)
    assert len(report.codes) <= max(len(payload) - 2, 0) // 4
    assert all(0 <= code.spn < 1 << 19 and 0 <= code.fmi < 32 for code in report.codes)


def test_failure_modes_in_words():
    # ISO 11783-12 annex E as given in AgIsoStack++ and Open-SAE-J1939.
    assert fmi_text(9) == "abnormal update rate"
    assert fmi_text(19) == "received network data in error"
    assert fmi_text(25) == "reserved failure mode 25"
