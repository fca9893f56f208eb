"""The simulated bus, one rule at a time, on networks small enough to work out by hand.

Figures: ISO 11898-1 (error flag 6 to 12 dominant bits, delimiter 8, intermission 3, suspend 8 bits, recovery 128 times
11 recessive bits); counters as in the CAN Specification 2.0, part B, section 8.
"""

import itertools

import pytest
from wire_reference import frame_bits

from linkcheck.frames import ERROR, EXTENDED
from linkcheck.practice.bus import Bus, Strike
from linkcheck.practice.confinement import ErrorState
from linkcheck.practice.controller import Controller
from linkcheck.practice.recorder import Recorder
from linkcheck.practice.wire import Frame, Place

RATE = 250_000
BIT_NS = 4000
MS = 1_000_000
CLAIM = Frame(0x18EEFF00, bytes.fromhex("0603BF0100000010"))


class Network:
    """A bus with a listen-only recorder and some controllers."""

    def __init__(self, count, disturbance=None, **options):
        self.bus = Bus(RATE, disturbance)
        listener = self.bus.attach(Controller("listener", acknowledges=False))
        self.recorder = Recorder(listener, RATE)
        self.nodes = [self.bus.attach(Controller(f"node {n}", **options)) for n in range(count)]

    def offer(self, node, frame, at_ns=0):
        self.bus.at(at_ns, lambda _now: self.nodes[node].offer(frame, replace=False))

    def run(self, ms):
        self.bus.run(int(ms * MS))
        return self.recorder.rows

    def frames(self):
        return [(time_ns, ident) for time_ns, ident, flags, _ in self.recorder.rows if not flags & ERROR]

    def errors(self):
        return [(time_ns, ident, data) for time_ns, ident, flags, data in self.recorder.rows if flags & ERROR]


def bits(frame):
    return len(frame_bits(frame.identifier, frame.data, extended=frame.extended))


def strike_sender(place, *, only=None):
    """Wiring that spoils every frame of one sender at the first bit of a field."""

    def disturb(_start_ns, sender, wire):
        if only is not None and sender.label != only:
            return ()
        return (Strike(wire.first(place), sender),)

    return disturb


def test_frame_is_stamped_at_its_end():
    net = Network(2)
    net.offer(0, CLAIM, at_ns=MS)
    net.run(5)
    assert net.frames() == [(MS + (bits(CLAIM) - 3) * BIT_NS, CLAIM.identifier)]


def test_frames_follow_each_other_without_a_gap():
    net = Network(2)
    for _ in range(3):
        net.offer(0, CLAIM)
    net.run(5)
    times = [time_ns for time_ns, _ in net.frames()]
    assert [b - a for a, b in itertools.pairwise(times)] == [bits(CLAIM) * BIT_NS] * 2


def test_lowest_waiting_identifier_goes_first():
    net = Network(4)
    idents = [0x18FEF100, 0x0CF00400, 0x18FECA03, 0x0CF00203, 0x10FDA300]
    for n, ident in enumerate(idents):
        net.offer(n % 3, Frame(ident, b"\1\2"), at_ns=10_000)
    net.run(10)
    assert [ident for _, ident in net.frames()] == sorted(idents)


def test_frame_under_way_is_not_interrupted():
    net = Network(3)
    net.offer(0, Frame(0x18FEF100, bytes(8)))
    net.offer(1, Frame(0x00000001, bytes(8)), at_ns=100_000)
    net.run(5)
    assert [ident for _, ident in net.frames()] == [0x18FEF100, 0x00000001]


def test_newer_value_replaces_a_waiting_one():
    net = Network(2)
    net.offer(0, Frame(0x100, b"\0"))
    for value in (b"\1", b"\2"):
        net.bus.at(1, lambda _now, value=value: net.nodes[0].offer(Frame(0x200, value)))
    rows = net.run(5)
    assert [data for _, _, _, data in rows] == [b"\0", b"\2"]


def test_alone_on_the_bus_error_passive_after_16_attempts_and_never_bus_off():
    # 16 x 8 = 128; then exception 1 of rule 3. As it is passive, its flag is recessive and a listener sees the frame.
    net = Network(1)
    net.offer(0, CLAIM)
    net.run(100)
    assert net.nodes[0].counters.transmit == 128
    assert [flags for _, _, flags, _ in net.recorder.rows[:17]] == [ERROR] * 16 + [EXTENDED]
    assert all(not flags & ERROR for _, _, flags, _ in net.recorder.rows[16:])
    # Linux include/uapi/linux/can/error.h: class PROT | BUSERROR | CNT, form error 0x02 at the ACK delimiter 0x1B.
    assert net.errors()[0][1:] == (0x288, bytes.fromhex("0000021B00000000"))


def test_alone_on_the_bus_claims_come_every_0_65_ms():
    # To the ACK slot, then flag 6, delimiter 8, intermission 3, suspend 8, where a good frame has 1 + 7 + 3.
    net = Network(1)
    net.offer(0, CLAIM)
    net.run(100)
    times = [time_ns for time_ns, _ in net.frames()]
    expected = (bits(CLAIM) - 11 + 6 + 8 + 3 + 8) * BIT_NS
    assert {b - a for a, b in itertools.pairwise(times)} == {expected}
    assert 0.6 * MS < expected < 0.7 * MS


def test_somebody_acknowledging_ends_the_repeats():
    net = Network(2)
    net.nodes[1].powered = False
    net.offer(0, CLAIM)
    net.bus.at(50 * MS, lambda _now: net.nodes[1].power(on=True))
    net.run(100)
    assert net.frames()[-1][0] < 51 * MS
    assert net.nodes[0].counters.transmit == 127


def test_every_frame_spoilt_leads_to_bus_off_after_32():
    # 32 x 8 = 256.
    net = Network(2, strike_sender(Place.CRC))
    net.offer(0, CLAIM)
    net.run(200)
    assert len(net.errors()) == 32
    assert net.nodes[0].counters.state is ErrorState.BUS_OFF
    assert net.nodes[1].counters.receive == 32


def test_active_error_frame_takes_between_17_and_23_bits():
    # Flag 6 to 12, delimiter 8, intermission 3; then the frame is repeated from its start.
    spoils = iter([True] + [False] * 9)

    def disturb(_start_ns, sender, wire):
        return (Strike(wire.first(Place.DATA), sender),) if next(spoils) else ()

    net = Network(2, disturb)
    net.offer(0, CLAIM)
    net.run(5)
    ((end_ns, _),) = net.frames()
    start_ns = end_ns - (bits(CLAIM) - 3) * BIT_NS
    spoilt_bits = start_ns // BIT_NS
    # 39 bits to the first data bit, stuff bits among them.
    data_at = frame_bits_before_data(CLAIM)
    assert data_at + 1 + 17 <= spoilt_bits <= data_at + 1 + 23


def frame_bits_before_data(frame):
    """Wire bits before the data field, by the length of the same frame without data, CRC and trailer."""
    with_data = frame_bits(frame.identifier, frame.data, extended=True)
    # Another value in the data's first bit changes nothing before it.
    other = frame_bits(frame.identifier, bytes([frame.data[0] ^ 0x80]) + frame.data[1:], extended=True)
    return next(n for n, (a, b) in enumerate(zip(with_data, other, strict=False)) if a != b)


def test_receiver_that_is_first_to_flag_counts_nine():
    # Rules 1 and 2: the others' flags end after its own.
    spoils = iter([True] + [False] * 9)
    net = Network(3)
    net.bus.disturbance = lambda _s, _c, wire: (Strike(wire.first(Place.DATA), net.nodes[1]),) if next(spoils) else ()
    net.offer(0, CLAIM)
    net.run(0.3)  # ends within the first attempt
    assert [node.counters.receive for node in net.nodes] == [0, 9, 1]
    assert net.nodes[0].counters.transmit == 8


def test_passive_receiver_disturbs_nobody():
    net = Network(3)
    net.nodes[1].counters.receive = 130
    net.bus.disturbance = lambda _s, _c, wire: (Strike(wire.first(Place.DATA), net.nodes[1]),)
    net.offer(0, CLAIM)
    net.run(5)
    assert [ident for _, ident in net.frames()] == [CLAIM.identifier]
    assert net.errors() == []


def test_same_identifier_different_data_collide_until_both_are_passive():
    # 16 x 8 = 128 for both; then the one that sends recessive steps back in silence and follows afterwards.
    net = Network(3)
    first, second = Frame(0x18FEF131, b"\x00" * 8), Frame(0x18FEF131, b"\xff" * 8)
    net.offer(0, first)
    net.offer(1, second)
    rows = net.run(30)
    assert len(net.errors()) == 16
    assert [data for _, _, flags, data in rows if not flags & ERROR] == [first.data, second.data]


def test_same_identifier_same_data_pass_as_one_frame():
    net = Network(3)
    for node in (0, 1):
        net.offer(node, CLAIM)
    net.run(5)
    assert len(net.frames()) == 1
    assert not net.nodes[0].waiting
    assert not net.nodes[1].waiting


def test_power_lost_within_a_frame_gives_one_error_and_no_frame():
    net = Network(3)
    net.offer(0, CLAIM)
    net.nodes[0].power_lost_ns = 300_000
    net.bus.at(300_000, lambda _now: net.nodes[0].power(on=False))
    net.run(5)
    assert net.frames() == []
    ((time_ns, ident, data),) = net.errors()
    assert 300_000 - BIT_NS < time_ns <= 300_000 + 6 * BIT_NS  # six recessive bits at most
    assert (ident, data[2]) == (0x288, 0x04)  # stuff error
    assert net.nodes[0].counters.transmit == 0


@pytest.mark.parametrize("busy", [False, True])
def test_recovery_takes_128_times_11_recessive_bits(busy):
    # Idle bus: 1408 bits. Busy bus: each frame's tail is 11 bits and counts once, so it takes longer.
    restart_ms = 5
    net = Network(3, strike_sender(Place.CRC, only="node 0"), restart_after_ns=restart_ms * MS)
    back, off = [], []

    class Witness:
        def on_frame(self, *_args, own):
            pass

        def on_error(self, time_ns, _error):
            if net.nodes[0].counters.state is ErrorState.BUS_OFF:
                off.append(time_ns)

        def on_restart(self, time_ns):
            back.append(time_ns)

    net.nodes[0].drivers.append(Witness())
    net.offer(0, CLAIM)
    if busy:
        for n in range(400):
            net.offer(1, Frame(0x18FEF103, bytes([n % 256] * 8)), at_ns=n)
    net.run(400)
    idle_ns = 128 * 11 * BIT_NS
    waited = back[0] - off[0] - restart_ms * MS
    assert net.nodes[0].counters.transmit == 0
    if busy:
        assert waited > 100 * bits(CLAIM) * BIT_NS
    else:
        assert idle_ns <= waited <= idle_ns + 20 * BIT_NS


def test_passive_sender_lets_others_go_first():
    # Suspend transmission: 8 bits after intermission, so even a weaker identifier of another node gets in.
    net = Network(3)
    net.nodes[0].counters.transmit = 140
    for _ in range(2):
        net.offer(0, Frame(0x0CF00400, bytes(8)))
    net.offer(1, Frame(0x18FEF103, bytes(8)), at_ns=100_000)
    net.run(5)
    assert [ident for _, ident in net.frames()] == [0x0CF00400, 0x18FEF103, 0x0CF00400]
