"""Messages and damage from bursts; mending where time stamps are coarse."""

from hypothesis import given
from hypothesis import strategies as st
from j1708.links import START_NS, byte_by_byte, chunks_of, message

from linkcheck.j1708.framing import CHARACTER_NS, Framer
from linkcheck.j1708.messages import Damage, Message, MessageReader

SPEED = message(128, [190, 0x40, 0x1F], [84, 60])
LAMPS = message(136, [49, 0x00])
FUEL = message(140, [96, 120])


def heard(chunks):
    framer, reader, items = Framer(), MessageReader(), []
    for end_ns, data in chunks:
        for burst in framer.feed(end_ns, data):
            items += reader.take(burst)
    for burst in framer.finish():
        items += reader.take(burst)
    return items + reader.finish()


def test_messages_with_silence_between_are_read_one_by_one():
    items = heard(chunks_of([SPEED, LAMPS, FUEL]))
    assert [item.data for item in items] == [SPEED, LAMPS, FUEL]
    assert not any(item.mended for item in items)
    assert [parameter.pid for parameter in items[0].parameters] == [190, 84]


def test_messages_run_together_by_coarse_stamps_are_taken_apart():
    items = heard([(START_NS, SPEED + LAMPS + FUEL + SPEED)])
    assert [item.data for item in items] == [SPEED, LAMPS, FUEL, SPEED]
    assert all(item.mended for item in items)


def test_a_message_in_two_parts_is_put_together():
    late_ns = 16_000_000  # what a serial adapter on USB may wait before it hands on
    items = heard([(START_NS, SPEED[:3]), (START_NS + 5 * CHARACTER_NS + late_ns, SPEED[3:]), (START_NS + 10**9, FUEL)])
    assert [item.data for item in items] == [SPEED, FUEL]
    assert [item.mended for item in items] == [True, False]


def test_parts_a_second_apart_are_damage():
    items = heard([(START_NS, SPEED[:3]), (START_NS + 10**9, SPEED[3:])])
    assert [(type(item), item.kind) for item in items] == [(Damage, "checksum")] * 2


def test_a_wrong_byte_is_damage_and_the_next_message_is_not_lost():
    broken = bytes([SPEED[0] ^ 4]) + SPEED[1:]
    items = heard(chunks_of([broken, FUEL]))
    assert isinstance(items[0], Damage)
    assert items[0].kind == "checksum"
    assert items[1].data == FUEL


def test_kinds_of_damage():
    kinds = [item.kind for item in heard(chunks_of([b"\x80", bytes(8), b"\xff" * 30], idle_bits=1000))]
    assert kinds == ["lone byte", "held", "too long"]


def test_a_sound_message_beyond_21_bytes_is_a_message_that_is_too_long():
    long = message(128, [200, 24], range(24))
    (item,) = heard(chunks_of([long]))
    assert isinstance(item, Message)
    assert item.too_long
    assert not heard(chunks_of([message(128, [200, 16], range(16))]))[0].too_long  # 20 bytes


def test_the_links_own_identifiers_have_no_parameters():
    (lamp,) = heard(chunks_of([message(10, [0])]))  # trailer lamp: MID 10, one byte, checksum
    assert lamp.data == b"\x0a\x00\xf6"
    assert lamp.parameters is None


payloads = st.lists(
    st.one_of(
        st.sampled_from([SPEED, LAMPS, FUEL]),
        st.binary(min_size=1, max_size=30),
    ),
    max_size=12,
)


@given(payloads, st.integers(0, 40))
def test_whole_and_byte_by_byte_say_the_same(messages, idle_bits):
    chunks = chunks_of(messages, idle_bits)
    assert heard(chunks) == heard(byte_by_byte(chunks))


@given(payloads, st.integers(0, 40))
def test_every_byte_is_in_one_message_or_one_damage(messages, idle_bits):
    assert b"".join(item.data for item in heard(chunks_of(messages, idle_bits))) == b"".join(messages)


@given(st.lists(st.sampled_from([SPEED, LAMPS, FUEL]), max_size=20), st.integers(10, 200))
def test_sound_traffic_gives_its_messages_and_no_damage(messages, idle_bits):
    assert [item.data for item in heard(chunks_of(messages, idle_bits))] == messages
