"""Identifiers, addresses and error frames against Wireshark's dissectors, run as tshark.

Sources: epan/dissectors/packet-j1939.c and packet-socketcan.c of the Wireshark that is installed.
"""

import re
import shutil
import subprocess

import numpy as np
import pytest

from linkcheck.frames.bus_errors import _CONTROLLER, _LOCATIONS, _PROTOCOL, decode_error
from linkcheck.j1939 import GLOBAL, address_name, destinations, pgns, sources, split

from .pcap import ERROR, EXTENDED, write_pcap

pytestmark = pytest.mark.skipif(shutil.which("tshark") is None, reason="tshark is not installed (Debian: tshark)")


def tshark(path, *arguments):
    command = ["tshark", "-r", str(path), "-d", "can.subdissector,j1939", *arguments]
    return subprocess.run(command, capture_output=True, text=True, check=True, timeout=120).stdout


def test_identifiers_split_as_wireshark_splits_them(tmp_path):
    chance = np.random.default_rng(1939)
    # Every PDU format on every data page, then anything.
    formats = [page << 24 | pf << 16 | chance.integers(1 << 16) for page in range(4) for pf in range(256)]
    identifiers = [*map(int, formats), *chance.integers(1 << 29, size=4000).tolist()]
    path = write_pcap(tmp_path / "frames.pcap", [(n, EXTENDED | one, b"\0") for n, one in enumerate(identifiers)])
    wanted = (
        "j1939.priority",
        "j1939.pgn",
        "j1939.src_addr",
        "j1939.dst_addr",
        "j1939.ex_data_page",
        "j1939.data_page",
    )
    fields = [argument for field in wanted for argument in ("-e", field)]
    lines = tshark(path, "-T", "fields", *fields).splitlines()
    assert len(lines) == len(identifiers)

    column = np.array(identifiers, np.uint32)
    columns = zip(pgns(column).tolist(), sources(column).tolist(), destinations(column).tolist(), strict=True)
    for identifier, line, in_columns in zip(identifiers, lines, columns, strict=True):
        priority, pgn, source, destination, extended_page, page = line.split("\t")
        theirs = (int(priority), int(pgn), int(source), int(destination) if destination else GLOBAL)
        ours = split(identifier)
        assert (ours.priority, ours.pgn, ours.source, ours.destination) == theirs, hex(identifier)
        assert (ours.extended_data_page, ours.data_page) == (int(extended_page), int(page))
        assert in_columns == theirs[1:]


def test_addresses_bear_the_names_wireshark_gives_them(tmp_path):
    path = write_pcap(tmp_path / "addresses.pcap", [(n, EXTENDED | 0x18FECA00 | n, b"\0") for n in range(256)])
    theirs = dict(re.findall(r"Source Address: (\d+) \((.*)\)\]", tshark(path, "-V")))
    assert len(theirs) == 256

    def words(text):
        """Words that carry the meaning, singular."""
        return {word.rstrip("s") for word in re.findall(r"[a-z]{3,}|\d", text.lower())}

    for address in range(256):
        ours, other = address_name(address), theirs[str(address)]
        if 128 <= address <= 247:
            assert (ours, other) == ("dynamic address", "Arbitrary")
        elif other != "Reserved":
            assert words(ours) & words(other), (address, ours, other)
            # "#2" must not be named "1"
            assert not ({"1", "2"} & words(ours)) or "#" not in other or words(ours) & words(other) & {"1", "2"}


def test_error_frames_read_as_wireshark_reads_them(tmp_path):
    chance = np.random.default_rng(2)
    frames = [(int(chance.integers(1 << 9)), chance.bytes(5) + b"\0" + chance.bytes(2)) for _ in range(1000)]
    frames += [(0x008, bytes((0, 0, 1, location, 0, 0, 0, 0))) for location in range(256)]
    path = write_pcap(tmp_path / "errors.pcap", [(n, ERROR | bits, data) for n, (bits, data) in enumerate(frames)])
    classes = ("tx_timeout", "lostarb", "ctrl", "prot", "trx", "ack", "busoff", "buserror", "restarted")
    controller = ("rx_overflow", "tx_overflow", "rx_warning", "tx_warning", "rx_passive", "tx_passive", "active")
    protocol = ("bit", "form", "stuff", "bit0", "bit1", "overload", "active", "tx")
    names = [*classes, *(f"ctrl.{name}" for name in controller), *(f"prot.type.{name}" for name in protocol)]
    names += ["lostarb.bitnum", "prot.location"]
    fields = [argument for name in names for argument in ("-e", f"can.err.{name}")]
    lines = tshark(path, "-T", "fields", *fields).splitlines()
    locations = dict(re.findall(r"^V\tcan\.err\.prot\.location\t(\d+)\t(.*)$", _values(), re.MULTILINE))

    for (bits, data), line in zip(frames, lines, strict=True):
        cells = dict(zip(names, line.split("\t"), strict=True))
        ours = decode_error(bits, data)
        assert len(ours.classes) == sum(cells[name] == "1" for name in classes)
        for table, part, given in ((_CONTROLLER, "ctrl.", ours.controller), (_PROTOCOL, "prot.type.", ours.protocol)):
            for name, text in zip(controller if part == "ctrl." else protocol, table.values(), strict=True):
                assert (text in given) == (cells[part + name] == "1"), (name, text)
        assert (ours.arbitration_bit or 0) == int(cells["lostarb.bitnum"] or 0)
        if location := cells["prot.location"]:
            known = ours.location in _LOCATIONS.values()
            assert known == (location in locations and location != "0")


def _values():
    return subprocess.run(["tshark", "-G", "values"], capture_output=True, text=True, check=True, timeout=120).stdout
