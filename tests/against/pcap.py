"""Writes frames as a pcap file that tshark reads: link type 227, CAN as SocketCAN gives it (pcap-linktype(7)).

Not a test: the files beside this one use it.
"""

import struct
from pathlib import Path

EXTENDED = 0x80000000
REMOTE = 0x40000000
ERROR = 0x20000000

LINKTYPE_CAN_SOCKETCAN = 227


def write_pcap(path, rows):
    """Write rows of (time_ns, identifier with the flags above, payload of up to 8 bytes) and return the path."""
    parts = [struct.pack("<IHHiIII", 0xA1B23C4D, 2, 4, 0, 0, 65535, LINKTYPE_CAN_SOCKETCAN)]  # times in nanoseconds
    for time_ns, identifier, payload in rows:
        seconds, nanoseconds = divmod(time_ns, 1_000_000_000)
        frame = struct.pack(">IB3x", identifier, len(payload)) + payload
        parts.append(struct.pack("<IIII", seconds, nanoseconds, len(frame), len(frame)) + frame)
    Path(path).write_bytes(b"".join(parts))
    return path
