"""SocketCAN without CAN hardware: the real kernel's time stamps and drop counter through a UDP socket that carries
`struct can_frame`, and the link's settings as iproute2 prints them.

Layout: Linux include/uapi/linux/can.h; a frame as python-can builds it; `ip -details -json link show` of iproute2.
"""

import json
import socket
import sys

import can
import pytest
from can.interfaces.socketcan.socketcan import build_can_frame

from linkcheck.errors import UsageError
from linkcheck.frames import ERROR, EXTENDED, FD, REMOTE
from linkcheck.frames.records import batch_of
from linkcheck.live.kernel_link import KernelLink, read_links
from linkcheck.live.port import PortRefusedError, PortSpec, Silence
from linkcheck.live.socketcan_port import SocketCanPort

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="SocketCAN is Linux")

# One row as iproute2 6 prints it for a USB adapter, shortened; the field names are those of its ip/iplink_can.c.
PRINTED = json.dumps(
    [
        {"ifindex": 1, "ifname": "lo", "flags": ["LOOPBACK", "UP"], "link_type": "loopback"},
        {
            "ifindex": 3,
            "ifname": "can0",
            "flags": ["NOARP", "UP", "LOWER_UP", "ECHO"],
            "operstate": "UP",
            "link_type": "can",
            "linkinfo": {
                "info_kind": "can",
                "info_data": {
                    "ctrlmode": ["LISTEN-ONLY", "BERR-REPORTING"],
                    "state": "ERROR-ACTIVE",
                    "berr_counter": {"tx": 0, "rx": 7},
                    "restart_ms": 0,
                    "bittiming": {"bitrate": 250000, "sample_point": "0.875", "tq": 250, "sjw": 1, "brp": 4},
                    "bittiming_const": {"name": "some_usb", "tseg1": {"min": 1, "max": 16}},
                    "clock": 16000000,
                },
            },
        },
        {"ifindex": 4, "ifname": "vcan0", "flags": ["UP"], "link_type": "can", "linkinfo": {"info_kind": "vcan"}},
    ]
)


def link(**changes):
    row = {
        "name": "can0",
        "up": True,
        "virtual": False,
        "bit_rate": 250_000,
        "data_bit_rate": None,
        "sample_point": 0.875,
        "listen_only": True,
        "reports_errors": True,
        "state": "ERROR-ACTIVE",
        "tx_errors": 0,
        "rx_errors": 0,
        "restart_ms": 0,
        "driver": None,
    }
    return KernelLink(**{**row, **changes})


@pytest.fixture
def wire():
    """A port that reads from a UDP socket, and the socket that sends to it."""
    receiving = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    receiving.bind(("127.0.0.1", 0))
    sending = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    sending.connect(receiving.getsockname())
    port = SocketCanPort(PortSpec("socketcan", "can0"), link=link(), raw=receiving)
    yield port, sending
    port.close()
    sending.close()


def test_the_kernels_settings_are_read():
    links = read_links(PRINTED)
    assert set(links) == {"can0", "vcan0"}
    can0 = links["can0"]
    assert (can0.bit_rate, can0.sample_point, can0.listen_only, can0.up) == (250_000, 0.875, True, True)
    assert (can0.state, can0.tx_errors, can0.rx_errors, can0.driver) == ("ERROR-ACTIVE", 0, 7, "some_usb")
    assert links["vcan0"].virtual
    assert links["vcan0"].bit_rate is None
    assert read_links("not json") == {}


def test_frames_as_python_can_builds_them(wire):
    port, sending = wire
    messages = [
        can.Message(arbitration_id=0x18FEF100, data=bytes(range(8))),
        can.Message(arbitration_id=0x123, is_extended_id=False, data=b"\1\2"),
        can.Message(arbitration_id=0x18EA00F9, is_remote_frame=True, dlc=3),
        can.Message(arbitration_id=0x77, is_extended_id=False, is_fd=True, data=bytes(48)),
        can.Message(arbitration_id=0x88, is_error_frame=True, data=bytes([0, 0, 4, 0, 0, 0, 0, 9])),
    ]
    for message in messages:
        sending.send(build_can_frame(message))
    body = bytearray()
    while len(body) < 80 * len(messages):
        body += port.read(1.0).records
    batch = batch_of(body, ("can0",))
    assert batch.identifier.tolist()[:4] == [0x18FEF100, 0x123, 0x18EA00F9, 0x77]
    assert batch.flags.tolist() == [EXTENDED, 0, EXTENDED | REMOTE, FD, ERROR]
    assert batch.payload(3) == bytes(48)
    assert batch.data[4, 7] == 9
    assert port.facts.silence is Silence.PROVEN


def test_the_kernel_counts_what_it_drops_and_stamps_what_it_keeps(wire):
    port, sending = wire
    port._socket.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    frame = build_can_frame(can.Message(arbitration_id=1, data=bytes(8)))
    sent = 2000
    for _ in range(sent):
        sending.send(frame)
    body, more = bytearray(), True
    while more:
        more = port.read(0.1).records
        body += more
    sending.send(frame)  # the count comes with the next frame
    body += port.read(1.0).records
    batch = batch_of(body, ("can0",))
    assert port.counters().kernel == sent + 1 - len(batch) > 0
    assert (batch.time_ns[1:] >= batch.time_ns[:-1]).all()


@pytest.mark.parametrize(
    ("changes", "spec", "reason"),
    [
        ({"listen_only": False}, {}, "unproven"),
        ({"up": False}, {}, "absent"),
        ({}, {"bit_rate": 500_000}, "rate"),
    ],
)
def test_refusals(changes, spec, reason):
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as raw, pytest.raises(PortRefusedError) as refused:
        SocketCanPort(PortSpec("socketcan", "can0", **spec), link=link(**changes), raw=raw)
    assert refused.value.reason == reason


def test_an_interface_that_takes_part_is_used_when_the_user_says_so():
    raw = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    spec = PortSpec("socketcan", "can0", accept_unproven=True)
    port = SocketCanPort(spec, link=link(listen_only=False), raw=raw)
    assert port.facts.silence is Silence.ACTIVE
    with pytest.raises(UsageError):
        port.send(1, 0, b"")
    port.close()


def test_an_interface_that_is_not_there():
    with pytest.raises(PortRefusedError) as refused:
        SocketCanPort(PortSpec("socketcan", "can99"))
    assert refused.value.reason == "absent"
