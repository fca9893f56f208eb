"""Accounts of transfers: laws, and cases a person can count."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.bench.frames import BenchFrame, bits_of, every_kind, number_of, numbered
from linkcheck.bench.ledger import compare, count_numbers
from linkcheck.frames import EXTENDED, REMOTE

RUN = 77
SENT = list(numbered(RUN, 20))


def test_what_arrives_as_sent_is_clean():
    assert compare(SENT, SENT).clean
    assert count_numbers(RUN, 0, 20, SENT).clean
    assert compare(SENT, SENT).words == "20 of 20 arrived, all identical"


@pytest.mark.parametrize(
    ("arrived", "wrong"),
    [
        (SENT[:3] + SENT[5:], {"lost": 2}),
        (SENT[:3] + SENT[2:], {"doubled": 1}),
        ([*SENT[:2], SENT[3], SENT[2], *SENT[4:]], {"out_of_order": 1}),
        ([*SENT[:19], SENT[19]._replace(payload=b"\0" + SENT[19].payload[1:])], {"changed": 1}),
        ([*SENT, BenchFrame(1, 0, 1, b"\1")], {"changed": 1}),
    ],
)
def test_each_kind_of_trouble_is_counted_once(arrived, wrong):
    for account in (compare(SENT, arrived), count_numbers(RUN, 0, 20, arrived)):
        figures = {"lost": account.lost, "doubled": account.doubled, "out_of_order": account.out_of_order}
        figures["changed"] = account.changed
        assert figures == {"lost": 0, "doubled": 0, "out_of_order": 0, "changed": 0} | wrong
        assert not account.clean


def test_frames_the_sender_refused_are_not_lost():
    assert count_numbers(RUN, 0, 20, SENT[:17], refused=3).clean


def test_every_kind_holds_both_lengths_of_identifier_all_sizes_and_remote_frames():
    frames = every_kind(1, 1)
    kinds = {(frame.flags, frame.length) for frame in frames}
    assert kinds == {(flags, n) for flags in (0, EXTENDED, REMOTE, EXTENDED | REMOTE) for n in range(9)}
    assert frames == every_kind(1, 1)
    assert frames != every_kind(2, 1)


def test_any_changed_bit_of_a_number_is_seen():
    (frame,) = numbered(RUN, 1, first=123_456)
    assert number_of(RUN, frame) == 123_456
    for bit in range(64):
        payload = bytearray(frame.payload)
        payload[bit // 8] ^= 1 << bit % 8
        assert number_of(RUN, frame._replace(payload=bytes(payload))) is None


def test_wire_length_of_the_published_frame():
    # 0CF00400#F87D7D000000FF7D takes 144 bits: canframelen of can-utils, interframe space included
    assert bits_of([BenchFrame(0x0CF00400, EXTENDED, 8, bytes.fromhex("F87D7D000000FF7D"))]) == 144


@given(st.lists(st.integers(0, 19), max_size=40))
def test_both_accounts_agree(order):
    arrived = [SENT[place] for place in order]
    one, two = compare(SENT, arrived), count_numbers(RUN, 0, 20, arrived)
    assert (one.lost, one.changed, one.doubled) == (two.lost, two.changed, two.doubled)
    assert one.lost == 20 - len(set(order))
    assert one.doubled == len(order) - len(set(order))
