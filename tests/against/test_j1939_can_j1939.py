"""Transport against can-j1939: its nodes talk to each other on an imagined bus, and we listen.

Every frame comes from that library's own sender and receiver (J1939_21, without bus or thread). A further instance of
it listens to everything: what it puts together, and what was handed to the senders, is what we must put together.
"""

import time
from collections import deque

import numpy as np
import pytest
from j1939 import Name as TheirName
from j1939.diagnostic_messages import DTC
from j1939.j1939_21 import J1939_21
from j1939.message_id import MessageId

from linkcheck.j1939 import Completed, Name, Reassembly, decode_report, join, split

NODES = 8
MILLISECOND = 1_000_000


class Node:
    """One device made of can-j1939's data link layer; what it sends goes into `bus`."""

    def __init__(self, address, bus, block):
        self.received = []
        self.layer = J1939_21(
            lambda identifier, _extended, data: bus.append((address, identifier, bytes(data))),
            lambda: None,
            lambda _priority, pgn, source, destination, _time, data: self.received.append(
                (source, destination, pgn, bytes(data))
            ),
            block,
            None,
            None,
            lambda destination: address is None or destination == address,
        )


def talk(messages, block):
    """Let the nodes send their messages; returns frames in order and what can-j1939's own listener received."""
    bus, frames = deque(), []
    nodes = [Node(address, bus, block) for address in range(NODES)]
    listener = Node(None, deque(), block)
    waiting = {address: deque(m for m in messages if m[0] == address) for address in range(NODES)}
    while True:
        for address, node in enumerate(nodes):
            if waiting[address]:
                _, destination, pgn, payload = waiting[address][0]
                specific = destination if pgn >> 8 & 0xFF < 240 else pgn & 0xFF
                if node.layer.send_pgn(pgn >> 16, pgn >> 8 & 0xFF, specific, 6, address, list(payload), 0, 0):
                    waiting[address].popleft()
            node.layer.async_job_thread(time.time() + 0.1)  # past the pause between packets, short of any time-out
        if not bus:
            return frames, listener.received
        while bus:
            sender, identifier, data = bus.popleft()
            frames.append((identifier, data))
            for node in (*nodes[:sender], *nodes[sender + 1 :], listener):
                node.layer.notify(identifier, bytearray(data), 0.0)


def reassemble(frames, reassembly):
    events = []
    for number, (identifier, data) in enumerate(frames):
        one = split(identifier)
        kind = {60416: "cm", 60160: "dt"}[one.pgn]
        events += reassembly.feed(number * MILLISECOND, one.source, one.destination, kind, data)
    return events


@pytest.mark.parametrize("block", [1, 5, 16, 255])
def test_interleaved_transfers_between_can_j1939_nodes_are_put_together(block):
    chance = np.random.default_rng(block)
    messages = []
    for _ in range(60):
        source, destination = chance.choice(NODES, 2, replace=False).tolist()
        broadcast = chance.random() < 0.5
        pgn = 65226 + int(chance.integers(50)) if broadcast else 0xEF00
        size = int(chance.choice((9, 14, 15, 1785, chance.integers(9, 1786))))
        messages.append((source, 255 if broadcast else destination, pgn, chance.bytes(size)))
    frames, theirs = talk(messages, block)
    reassembly = Reassembly()
    events = reassemble(frames, reassembly)

    assert all(isinstance(event, Completed) for event in events)
    ours = [(event.source, event.destination, event.pgn, event.payload) for event in events]
    assert ours == theirs
    assert sorted(ours) == sorted(messages)
    assert reassembly.finish() == ()
    assert (reassembly.orphans, reassembly.malformed) == (0, 0)


def test_the_name_reads_as_can_j1939_reads_it():
    chance = np.random.default_rng(64)
    for _ in range(500):
        value = int.from_bytes(chance.bytes(8)) & ~(1 << 48)  # can-j1939 forgets the reserved bit
        data = value.to_bytes(8, "little")
        ours, theirs = Name.from_bytes(data), TheirName(bytes=list(data))
        assert ours.value == theirs.value
        assert (ours.identity, ours.manufacturer) == (theirs.identity_number, theirs.manufacturer_code)
        assert (ours.ecu_instance, ours.function_instance) == (theirs.ecu_instance, theirs.function_instance)
        assert (ours.function, ours.vehicle_system) == (theirs.function, theirs.vehicle_system)
        assert ours.vehicle_system_instance == theirs.vehicle_system_instance
        assert ours.industry_group == theirs.industry_group
        assert ours.arbitrary_address_capable == theirs.arbitrary_address_capable


def test_codes_read_as_can_j1939_reads_them():
    chance = np.random.default_rng(4)
    for _ in range(500):
        group = chance.bytes(3) + bytes((chance.integers(128),))  # conversion method 0, the only one it reads
        theirs = DTC(dtc=int.from_bytes(group, "little"))
        (ours,) = decode_report(b"\xff\xff" + group).codes
        assert (ours.spn, ours.fmi) == (theirs.spn, theirs.fmi)
        assert (127 if ours.count is None else ours.count) == theirs.oc


def test_identifiers_join_as_can_j1939_joins_them():
    chance = np.random.default_rng(29)
    for _ in range(500):
        priority, pgn, source = chance.integers((0, 0xF000, 0), (8, 0x10000, 256)).tolist()
        theirs = MessageId(priority=priority, parameter_group_number=pgn, source_address=source)
        assert join(priority, pgn, source) == theirs.can_id
