"""Requests and answers. Rules: SAE J1939-21, request (59904), acknowledgement (59392), 1.25 s of patience."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.errors import DataError
from linkcheck.j1939 import Requests
from linkcheck.j1939.requests import decode_acknowledgement, requested_pgn

MS = 1_000_000
REQUEST, ACKNOWLEDGEMENT, TP_CM = 59904, 59392, 60416
COMPONENT = 65259
ASK = bytes.fromhex("EB FE 00")  # open data set SystemsCyber/CyberTruckResources, commit f434e585: 18EA0FF9#EBFE00


def acknowledgement(control, requester=249, pgn=COMPONENT):
    return bytes((control, 0xFF, 0xFF, 0xFF, requester)) + pgn.to_bytes(3, "little")


def outcome(*frames, until=5000 * MS):
    requests = Requests()
    for frame in frames:
        requests.feed(*frame)
    requests.advance(until)
    return requests.exchanges()


def test_a_captured_request_names_its_group():
    assert requested_pgn(ASK) == COMPONENT
    assert requested_pgn(b"\xeb\xfe") is None


def test_nobody_answers():
    (one,) = outcome((0, 249, 15, REQUEST, ASK), (100 * MS, 249, 15, REQUEST, ASK))
    assert (one.requester, one.destination, one.pgn) == (249, 15, COMPONENT)
    assert (one.asked, one.answered, one.refused, one.unanswered) == (2, 0, 0, 2)
    assert (one.first_ns, one.last_ns, one.slowest_ns) == (0, 100 * MS, None)


@pytest.mark.parametrize(
    "answer",
    [
        (15, 255, COMPONENT, bytes(8)),
        (15, 249, TP_CM, bytes.fromhex("10 1E 00 05 FF EB FE 00")),  # it is longer than a frame
        (15, 255, TP_CM, bytes.fromhex("20 1E 00 05 FF EB FE 00")),
        (15, 255, ACKNOWLEDGEMENT, acknowledgement(0)),
        (15, 255, ACKNOWLEDGEMENT, acknowledgement(0, requester=255)),  # older senders name nobody
    ],
)
def test_an_answer_counts(answer):
    (one,) = outcome((0, 249, 15, REQUEST, ASK), (180 * MS, *answer))
    assert (one.answered, one.refused, one.unanswered, one.slowest_ns) == (1, 0, 0, 180 * MS)


@pytest.mark.parametrize("control", [1, 2, 3])
def test_a_refusal_is_an_answer_of_its_own(control):
    (one,) = outcome((0, 249, 15, REQUEST, ASK), (180 * MS, 15, 255, ACKNOWLEDGEMENT, acknowledgement(control)))
    assert (one.answered, one.refused, one.unanswered) == (0, 1, 0)


@pytest.mark.parametrize(
    "other",
    [
        (16, 255, COMPONENT, bytes(8)),  # somebody else
        (15, 255, 65260, bytes(8)),  # something else
        (15, 250, TP_CM, bytes.fromhex("10 1E 00 05 FF EB FE 00")),  # to another requester
        (15, 255, ACKNOWLEDGEMENT, acknowledgement(0, requester=250)),
        (15, 249, TP_CM, bytes.fromhex("11 01 01 FF FF EB FE 00")),  # a clear to send announces nothing
    ],
)
def test_what_is_no_answer(other):
    (one,) = outcome((0, 249, 15, REQUEST, ASK), (180 * MS, *other))
    assert (one.answered, one.refused, one.unanswered) == (0, 0, 1)


def test_an_answer_after_1250_ms_is_too_late():
    (one,) = outcome((0, 249, 15, REQUEST, ASK), (1250 * MS, 15, 255, COMPONENT, bytes(8)))
    assert one.answered == 1
    (one,) = outcome((0, 249, 15, REQUEST, ASK), (1251 * MS, 15, 255, COMPONENT, bytes(8)))
    assert (one.answered, one.unanswered) == (0, 1)


def test_a_request_to_everyone_obliges_nobody():
    (one,) = outcome((0, 249, 255, REQUEST, ASK))
    assert (one.asked, one.answered, one.unanswered) == (1, 0, 0)
    (one,) = outcome((0, 249, 255, REQUEST, ASK), (50 * MS, 3, 255, COMPONENT, bytes(8)))
    assert one.answered == 1


def test_a_requester_does_not_answer_itself():
    (one,) = outcome((0, 249, 255, REQUEST, ASK), (50 * MS, 249, 255, COMPONENT, bytes(8)))
    assert one.answered == 0


def test_the_slowest_answer_is_kept():
    (one,) = outcome(
        (0, 249, 15, REQUEST, ASK),
        (180 * MS, 15, 255, COMPONENT, bytes(8)),
        (1000 * MS, 249, 15, REQUEST, ASK),
        (1050 * MS, 15, 255, COMPONENT, bytes(8)),
    )
    assert (one.answered, one.slowest_ns) == (2, 180 * MS)


def test_only_awaited_groups_need_to_be_fed():
    requests = Requests()
    assert requests.awaited == frozenset()
    requests.feed(0, 249, 15, REQUEST, ASK)
    assert requests.awaited == {COMPONENT}
    requests.feed(10 * MS, 15, 255, COMPONENT, bytes(8))
    assert requests.awaited == frozenset()


def test_time_that_jumps_back_drops_what_was_open():
    (one,) = outcome((9000 * MS, 249, 15, REQUEST, ASK), (0, 249, 16, 65260, b""), until=20000 * MS)
    assert (one.asked, one.unanswered) == (1, 0)


def test_malformed_and_unlisted_are_counted():
    requests = Requests(max_exchanges=1)
    requests.feed(0, 249, 15, REQUEST, b"\xeb")
    requests.feed(0, 15, 255, ACKNOWLEDGEMENT, b"\x00")
    requests.feed(0, 249, 15, REQUEST, ASK)
    requests.feed(0, 249, 16, REQUEST, ASK)
    assert (requests.malformed, requests.not_listed, len(requests.exchanges())) == (2, 1, 1)


def test_acknowledgement_in_words():
    one = decode_acknowledgement(acknowledgement(2))
    assert (one.text, one.requester, one.pgn) == ("refused: access denied", 249, COMPONENT)
    assert "not in the standard" in decode_acknowledgement(acknowledgement(9)).text
    with pytest.raises(DataError, match="8 bytes"):
        decode_acknowledgement(b"")


frames = st.lists(
    st.tuples(
        st.integers(0, 4000 * MS),
        st.integers(0, 3),
        st.sampled_from([0, 1, 2, 255]),
        st.sampled_from([REQUEST, ACKNOWLEDGEMENT, TP_CM, COMPONENT, 65260]),
        st.one_of(
            st.just(ASK), st.binary(max_size=8), st.builds(acknowledgement, st.integers(0, 4), st.integers(0, 3))
        ),
    ),
    max_size=50,
)


@given(frames)
def test_every_question_is_counted_once(frames):
    frames = sorted(frames, key=lambda frame: frame[0])
    requests, sparing = Requests(), Requests()
    for frame in frames:
        requests.feed(*frame)
        if frame[3] in (REQUEST, ACKNOWLEDGEMENT, TP_CM) or frame[3] in sparing.awaited:
            sparing.feed(*frame)
    requests.advance(10_000 * MS)
    sparing.advance(10_000 * MS)
    assert requests.exchanges() == sparing.exchanges()  # feeding only what is awaited loses nothing
    for one in requests.exchanges():
        settled = one.answered + one.refused + one.unanswered
        assert settled <= one.asked if one.destination == 255 else settled == one.asked
