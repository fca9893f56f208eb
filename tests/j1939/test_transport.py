import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.j1939 import Aborted, Completed, Incomplete, Reassembly, Superseded, TimedOut, decode_report
from linkcheck.j1939.transport import announced_pgn

from .test_trouble_codes import LONG_DM1

MS = 1_000_000
DM1 = 65226


def announce(control, size, pgn, most=0xFF):
    return bytes((control, size & 0xFF, size >> 8, -(-size // 7), most)) + pgn.to_bytes(3, "little")


def packets(payload):
    return [
        bytes((number,)) + payload[at : at + 7].ljust(7, b"\xff")
        for number, at in enumerate(range(0, len(payload), 7), start=1)
    ]


def broadcast(source, payload, pgn=DM1, start=0, gap=60 * MS):
    """Frames of one announced transfer: (time, source, destination, kind, data)."""
    frames = [("cm", announce(32, len(payload), pgn)), *(("dt", packet) for packet in packets(payload))]
    return [(start + n * gap, source, 255, kind, data) for n, (kind, data) in enumerate(frames)]


def agreed(source, destination, payload, block=3):
    """Frames of one transfer between two, with every clear to send and the final acknowledgement."""
    pgn, count = 0xEF00, -(-len(payload) // 7)
    group = pgn.to_bytes(3, "little")
    frames = [(source, destination, "cm", announce(16, len(payload), pgn, block))]
    for first in range(1, count + 1, block):
        cleared = bytes((17, min(block, count + 1 - first), first, 0xFF, 0xFF)) + group
        frames.append((destination, source, "cm", cleared))
        frames += [(source, destination, "dt", packet) for packet in packets(payload)[first - 1 : first - 1 + block]]
    frames.append((destination, source, "cm", bytes((19, len(payload) & 0xFF, len(payload) >> 8, count, 0xFF)) + group))
    return [(n * 5 * MS, *frame) for n, frame in enumerate(frames)]


def feed(frames, reassembly=None):
    reassembly = reassembly or Reassembly()
    return [event for frame in frames for event in reassembly.feed(*frame)]


def test_a_published_dm1_of_190_bytes_beside_another_broadcast():
    # Open data set SystemsCyber/CyberTruckResources, commit f434e585: announcement and content of both broadcasts.
    assert announce(32, 190, DM1) == bytes.fromhex("20 BE 00 1C FF CA FE 00")
    assert len(LONG_DM1) == 190
    engine = broadcast(0, LONG_DM1)
    assert len(engine) == 1 + 28
    other = [
        ("cm", "20 13 00 03 FF E1 FE 00"),
        ("dt", "01 FF 0F C0 12 63 E0 47"),
        ("dt", "02 25 60 22 56 E0 2E 2B"),
        ("dt", "03 A0 41 34 06 1F FF FF"),
    ]
    retarder = [((n * 70 + 130) * MS, 15, 255, kind, bytes.fromhex(data)) for n, (kind, data) in enumerate(other)]
    short, long = feed(sorted(engine + retarder))
    assert (short.source, short.pgn, short.kind) == (15, 65249, "bam")
    assert short.payload.hex() == "ff0fc01263e04725602256e02e2ba04134061f"
    assert (long.source, long.pgn, long.payload) == (0, DM1, LONG_DM1)
    assert (long.start_ns, long.time_ns) == (0, 28 * 60 * MS)
    assert len(decode_report(long.payload).codes) == 47


RECORDED = """
021.747643 EC 31 20 0A 00 02 FF CA FE 00
021.801338 EB 31 01 C4 FF 60 00 03 7E 3D
021.847515 EB 31 02 03 03 7E FF FF FF FF
026.547216 EC 31 20 0A 00 02 FF CA FE 00
026.597185 EB 31 01 C4 FF 60 00 03 7E 3D
026.647138 EB 31 02 03 03 7E FF FF FF FF
"""


def test_broadcasts_as_recorded_from_a_cab_controller():
    # Open data set SystemsCyber/Truck_Sentry, datasets/normal.log, commit 9e72a749 (MIT licence): time, PDU format,
    # source, data. Codes 96 (fuel level) and 829 (left fuel level sensor), as named in Open-SAE-J1939.
    frames = []
    for line in RECORDED.split("\n")[1:-1]:
        stamp, pdu_format, source, data = line.split(maxsplit=3)
        kind = {"EC": "cm", "EB": "dt"}[pdu_format]
        frames.append((int(stamp.replace(".", "")) * 1000, int(source, 16), 255, kind, bytes.fromhex(data)))
    for event, gap_min_ns in zip(feed(frames), (46_177_000, 49_953_000), strict=True):
        assert (event.source, event.pgn, len(event.payload)) == (0x31, DM1, 10)
        assert (event.gap_min_ns, event.pace) == (gap_min_ns, "note")
        assert [(code.spn, code.fmi, code.count) for code in decode_report(event.payload).codes] == [
            (96, 3, 126),
            (829, 3, 126),
        ]


@pytest.mark.parametrize(
    ("gap_ms", "pace"),
    # SAE J1939-21: 50 to 200 ms; ISO 11783-3: 10 to 200 ms.
    [(60, "ok"), (50, "ok"), (49, "note"), (10, "note"), (9, "fault")],
)
def test_pace_of_a_broadcast(gap_ms, pace):
    (event,) = feed(broadcast(0, bytes(20), gap=gap_ms * MS))
    assert (event.gap_min_ns, event.gap_max_ns) == (gap_ms * MS, gap_ms * MS)
    assert event.pace == pace


def test_a_transfer_between_two():
    (event,) = feed(agreed(249, 0, bytes(range(100))))
    assert isinstance(event, Completed)
    assert (event.source, event.destination, event.pgn, event.kind) == (249, 0, 0xEF00, "rts")
    assert event.payload == bytes(range(100))
    assert event.pace == "ok"


def test_packets_sent_again_on_request_fill_the_hole():
    frames = agreed(249, 0, bytes(range(21)), block=3)
    again = bytes((17, 1, 2, 0xFF, 0xFF, 0, 0xEF, 0))  # clear to send: one packet, number 2
    lost = frames[3]
    (event,) = feed([*frames[:3], frames[4], (100 * MS, 0, 249, "cm", again), (110 * MS, *lost[1:])])
    assert event.payload == bytes(range(21))


@pytest.mark.parametrize(
    ("reason", "text"),
    # Linux kernel net/can/j1939/transport.c.
    [(1, "session"), (2, "resources"), (3, "timed out"), (7, "sequence"), (9, "1785"), (77, "reason 77")],
)
@pytest.mark.parametrize(("sender", "receiver"), [(0, 249), (249, 0)])
def test_either_side_may_abort(sender, receiver, reason, text):
    frames = agreed(249, 0, bytes(100))[:4]
    abort = bytes((255, reason, 0xFF, 0xFF, 0xFF, 0, 0xEF, 0))
    reassembly = Reassembly()
    (event,) = feed([*frames, (30 * MS, sender, receiver, "cm", abort)], reassembly)
    assert isinstance(event, Aborted)
    assert (event.source, event.destination, event.aborted_by, event.start_ns) == (249, 0, sender, 0)
    assert text in event.text
    assert reassembly.finish() == ()


def test_an_abort_of_something_unseen_is_told_and_harms_nothing_else():
    frames = broadcast(0, bytes(20))
    abort = (70 * MS, 3, 0, "cm", bytes((255, 1, 0xFF, 0xFF, 0xFF, 0, 0xEF, 0)))
    aborted, completed = feed(sorted([*frames, abort]))
    assert (aborted.source, aborted.destination, aborted.aborted_by) == (0, 3, 3)
    assert isinstance(completed, Completed)


def test_an_abort_of_another_group_leaves_the_transfer_alone():
    frames = agreed(249, 0, bytes(100))
    abort = (17 * MS, 0, 249, "cm", bytes((255, 1, 0xFF, 0xFF, 0xFF, 0xCA, 0xFE, 0)))
    aborted, completed = feed([*frames[:4], abort, *frames[4:]])
    assert (aborted.pgn, completed.pgn) == (DM1, 0xEF00)
    assert isinstance(completed, Completed)


def test_the_first_to_run_out_of_time_is_found_whatever_the_order():
    reassembly = Reassembly()
    feed([*agreed(249, 3, bytes(100))[:1], *broadcast(0, bytes(20))[:1]], reassembly)
    assert [event.source for event in reassembly.advance(800 * MS)] == [0]
    assert [event.source for event in reassembly.advance(1300 * MS)] == [249]


def test_time_that_goes_back_is_no_gap():
    frames = [
        (frame[0] if n < 3 else frame[0] - 400 * MS, *frame[1:]) for n, frame in enumerate(broadcast(0, bytes(30)))
    ]
    (event,) = feed(frames)
    assert isinstance(event, Completed)
    assert (event.gap_min_ns, event.gap_max_ns) == (60 * MS, 60 * MS)


def test_a_sender_that_goes_silent_times_out_after_750_ms():
    reassembly = Reassembly()
    assert feed(broadcast(0, LONG_DM1)[:11], reassembly) == []  # announcement and ten packets
    assert reassembly.advance(600 * MS + 750 * MS) == ()
    (event,) = reassembly.advance(600 * MS + 750 * MS + 1)  # T1, SAE J1939-21
    assert isinstance(event, TimedOut)
    assert (event.time_ns, event.silent) == (1350 * MS, 0)
    assert event.missing == tuple(range(11, 29))
    assert event.text == "the sender went silent after packet 10 of 28"


def test_nobody_clears_to_send():
    reassembly = Reassembly()
    feed(agreed(249, 3, bytes(100))[:1], reassembly)
    (event,) = reassembly.advance(2000 * MS)
    assert (event.time_ns, event.silent) == (1250 * MS, 3)  # T3
    assert event.text == "the receiver never cleared the sender to send"


@pytest.mark.parametrize(
    ("seen", "deadline_ms", "silent"),
    # SAE J1939-21: T2 1250 ms after a clear to send, T1 750 ms between packets, T3 1250 ms after the last of a block.
    [(2, 5 + 1250, 249), (3, 10 + 750, 249), (5, 20 + 1250, 0)],
)
def test_who_is_silent_between_two(seen, deadline_ms, silent):
    reassembly = Reassembly()
    feed(agreed(249, 0, bytes(100), block=3)[:seen], reassembly)
    (event,) = reassembly.advance(5000 * MS)
    assert (event.time_ns, event.silent) == (deadline_ms * MS, silent)


def test_a_receiver_may_ask_to_wait():
    frames = agreed(249, 0, bytes(100), block=3)[:1]
    hold = (5 * MS, 0, 249, "cm", bytes((17, 0, 0xFF, 0xFF, 0xFF, 0, 0xEF, 0)))
    reassembly = Reassembly()
    feed([*frames, hold], reassembly)
    (event,) = reassembly.advance(5000 * MS)
    assert (event.time_ns, event.silent) == ((5 + 1050) * MS, 0)  # T4


def test_a_lost_packet_is_no_silent_sender():
    frames = broadcast(0, bytes(30))
    reassembly = Reassembly()
    feed(frames[:3] + frames[4:], reassembly)
    (event,) = reassembly.advance(5000 * MS)
    assert isinstance(event, Incomplete)
    assert event.missing == (3,)
    assert "1 of 5 packets" in event.text


def test_a_new_announcement_supersedes_the_old():
    event, completed = feed(broadcast(0, bytes(30))[:3] + broadcast(0, bytes(20), start=300 * MS))
    assert isinstance(event, Superseded)
    assert (event.time_ns, event.missing) == (300 * MS, (3, 4, 5))
    assert isinstance(completed, Completed)


def test_an_acknowledged_transfer_with_a_hole_blames_the_recording():
    frames = agreed(249, 0, bytes(100))
    (event,) = feed(frames[:4] + frames[5:])
    assert isinstance(event, Incomplete)
    assert event.missing == (3,)
    assert "the receiver has it all" in event.text


def test_a_recording_that_starts_midway_leaves_orphans():
    reassembly = Reassembly()
    assert feed(broadcast(0, LONG_DM1)[5:], reassembly) == []
    assert reassembly.orphans == 24


def test_a_recording_that_ends_midway_leaves_incomplete_transfers():
    reassembly = Reassembly()
    feed(broadcast(0, LONG_DM1)[:20], reassembly)
    (event,) = reassembly.finish()
    assert isinstance(event, Incomplete)
    assert (event.source, event.missing) == (0, tuple(range(20, 29)))
    assert reassembly.finish() == ()


@pytest.mark.parametrize(
    "frame",
    [
        (0, 255, "cm", "20 BE 00 1C FF CA FE"),  # seven bytes
        (0, 255, "cm", "20 BE 00 1B FF CA FE 00"),  # 190 bytes in 27 packets
        (0, 255, "cm", "20 00 00 00 FF CA FE 00"),  # nothing
        (0, 255, "cm", "20 FA 06 FF FF CA FE 00"),  # 1786 bytes (SAE J1939-21 allows 1785)
        (0, 255, "cm", "10 BE 00 1C FF CA FE 00"),  # request to send, to everyone
        (0, 33, "cm", "20 BE 00 1C FF CA FE 00"),  # broadcast, to one
        (0, 33, "cm", "15 BE 00 1C FF CA FE 00"),  # no such control byte
    ],
)
def test_what_cannot_be_is_counted(frame):
    source, destination, kind, data = frame
    reassembly = Reassembly()
    assert reassembly.feed(0, source, destination, kind, bytes.fromhex(data)) == ()
    assert reassembly.malformed == 1
    assert reassembly.finish() == ()


@pytest.mark.parametrize("packet", ["", "00 01 02 03 04 05 06 07", "05 01 02 03 04 05 06 07", "01 02 03 04 05 06 07"])
def test_a_packet_that_cannot_be_is_counted_and_the_transfer_goes_on(packet):
    frames = broadcast(0, bytes(20))
    reassembly = Reassembly()
    stray = (30 * MS, 0, 255, "dt", bytes.fromhex(packet))
    (event,) = feed([frames[0], stray, *frames[1:]], reassembly)
    assert isinstance(event, Completed)
    assert reassembly.malformed == 1


def test_a_last_packet_without_padding_is_taken():
    frames = broadcast(0, bytes(range(15)))
    time_ns, *rest, data = frames[-1]
    (event,) = feed([*frames[:-1], (time_ns, *rest, data[:2])])
    assert event.payload == bytes(range(15))


def test_a_flood_of_announcements_stays_bounded():
    reassembly = Reassembly(max_sessions=16)
    events = []
    for n in range(5000):
        events += reassembly.feed(n, n % 251, n // 251 % 250, "cm", announce(16, 100, 0xEF00))
    assert len(events) == 5000 - 16
    assert {event.text for event in events} == {"given up: too many transfers at once"}
    assert len(reassembly.finish()) == 16


def test_announced_group():
    assert announced_pgn(bytes.fromhex("20 BE 00 1C FF CA FE 00")) == DM1
    assert announced_pgn(bytes.fromhex("10 BE 00 1C FF CA FE 00")) == DM1
    assert announced_pgn(bytes.fromhex("11 01 01 FF FF CA FE 00")) is None
    assert announced_pgn(b"\x20") is None


any_frame = st.tuples(
    st.integers(0, 5000 * MS),
    st.integers(0, 3),
    st.sampled_from([0, 1, 2, 255]),
    st.sampled_from(["cm", "dt"]),
    st.one_of(
        st.binary(max_size=8),
        st.builds(
            lambda control, rest: bytes((control,)) + rest,
            st.sampled_from([16, 17, 19, 32, 255]),
            st.binary(min_size=7, max_size=7),
        ),
        st.builds(announce, st.sampled_from([16, 32]), st.integers(1, 60), st.sampled_from([DM1, 0xEF00])),
        st.builds(lambda number: bytes((number,)) + bytes(7), st.integers(0, 10)),
    ),
)


@given(st.lists(any_frame, max_size=60))
def test_any_frames_at_any_time_end_in_events(frames):
    reassembly = Reassembly(max_sessions=4)
    events = feed(frames, reassembly) + list(reassembly.finish())
    for event in events:
        if isinstance(event, Completed):
            assert 1 <= len(event.payload) <= 1785
    opened = sum(announced_pgn(data) is not None for *_, kind, data in frames if kind == "cm")
    assert sum(not isinstance(event, Aborted) for event in events) <= opened
    assert reassembly.finish() == ()


@given(st.data())
def test_any_interleaving_of_whole_transfers_completes_them_all(data):
    payloads = data.draw(st.lists(st.binary(min_size=9, max_size=120), min_size=1, max_size=6))
    transfers = [
        broadcast(n, payload) if n % 2 else agreed(n, 100 + n, payload, block=data.draw(st.integers(1, 20)))
        for n, payload in enumerate(payloads)
    ]
    order = data.draw(st.permutations([n for n, frames in enumerate(transfers) for _ in frames]))
    queues = [iter(frames) for frames in transfers]
    frames = [(at * MS, *next(queues[n])[1:]) for at, n in enumerate(order)]
    reassembly = Reassembly()
    events = feed(frames, reassembly)
    assert {(event.source, event.payload) for event in events} == set(enumerate(payloads))
    assert len(events) == len(payloads)
    assert (reassembly.orphans, reassembly.malformed, reassembly.finish()) == (0, 0, ())


@given(st.lists(any_frame, max_size=40), st.data())
def test_letting_time_pass_in_between_changes_no_outcome(frames, data):
    frames = sorted(frames, key=lambda frame: frame[0])
    plain, nudged = Reassembly(), Reassembly()
    expected = feed(frames, plain) + list(plain.finish())
    events, now = [], 0
    for frame in frames:
        events += nudged.advance(data.draw(st.integers(now, frame[0])))
        events += nudged.feed(*frame)
        now = frame[0]
    assert events + list(nudged.finish()) == expected
