"""Makers of J1708 traffic for the tests: messages, and bytes with times."""

from linkcheck.j1708 import checksum
from linkcheck.j1708.framing import BIT_NS, CHARACTER_NS

START_NS = 1_700_000_000_000_000_000


def message(mid, *parts):
    """MID, content and checksum."""
    body = bytes([mid]) + b"".join(bytes(part) for part in parts)
    return body + bytes([checksum(body)])


def chunks_of(messages, idle_bits=14, start_ns=START_NS):
    """Every message as one chunk with the time its last byte ends, `idle_bits` of silence between."""
    chunks = []
    for data in messages:
        start_ns += len(data) * CHARACTER_NS
        chunks.append((start_ns, data))
        start_ns += round(idle_bits * BIT_NS)
    return chunks


def byte_by_byte(chunks):
    """The same bytes, each with its own time."""
    return [
        (end_ns - (len(data) - 1 - place) * CHARACTER_NS, data[place : place + 1])
        for end_ns, data in chunks
        for place in range(len(data))
    ]
