"""What a file holds, told by its content: magic numbers first, then a vote of its lines.

The suffix is not looked at. Garbage at the start does not matter as long as lines of a known form follow among the
bytes looked at. What is recognised but not read is named, so that the user knows what to do.
"""

from __future__ import annotations

import re

from linkcheck.errors import DataError
from linkcheck.readers.byte_log import BYTE_LINE
from linkcheck.readers.console import CONSOLE_LINE

__all__ = ["FORMATS", "sniff"]

# Name of a format as it may be given on the command line, and in words.
FORMATS = {
    "candump": "candump log",
    "console": "candump console output",
    "trc": "TRC text",
    "asc": "ASC text",
    "csv": "python-can CSV table",
    "blf": "BLF",
    "mf4": "MF4 (MDF 4)",
    "sqlite": "python-can SQLite database",
    "j1708": "J1708 byte log",
}

_MAGIC = {b"LOGG": "blf", b"MDF     ": "mf4", b"UnFinMF ": "mf4", b"SQLite format 3\0": "sqlite"}
_PACKED = "Unpack it first."
_EXPORT = "Export it as a candump log."
_FOREIGN = {
    b"PK\x03\x04": ("a zip archive", _PACKED),
    b"\xfd7zXZ\x00": ("an xz archive", _PACKED),
    b"BZh": ("a bzip2 archive", _PACKED),
    b"7z\xbc\xaf\x27\x1c": ("a 7-Zip archive", _PACKED),
    b"\xd4\xc3\xb2\xa1": ("a packet capture (pcap)", _EXPORT),
    b"\xa1\xb2\xc3\xd4": ("a packet capture (pcap)", _EXPORT),
    b"\x0a\x0d\x0d\x0a": ("a packet capture (pcapng)", _EXPORT),
    b"name,type,start_time,duration,": ("a logic analyser's table of frame fields", _EXPORT),
}

_LINES = {
    "candump": re.compile(rb"\s*\(\d+(?:\.\d+)?\)\s+\S+\s+[0-9A-Fa-f]{3,8}#"),
    "console": CONSOLE_LINE,
    "j1708": BYTE_LINE,
    "trc": re.compile(
        rb";\$(?:FILEVERSION|STARTTIME|COLUMNS)=|\s*\d+\)\s+\d+(?:\.\d+)?\s+\S"
        rb"|\s*\d+\s+\d+\.\d+\s+(?:DT|RR|FD|FB|FE|BI|ER|ST|EC|EV)\s"
    ),
    "asc": re.compile(
        rb"(?i)\s*\d+\.\d+\s+(?:CANFD\s+\d+\s+(?:Rx|Tx)|\d+\s+(?:[0-9A-F]+x?\s+(?:Rx|Tx)\s+[dr]\b|ErrorFrame))"
        rb"|base\s+(?:hex|dec)\s+timestamps\s|begin\s+triggerblock"
    ),
    "csv": re.compile(
        rb"timestamp,arbitration_id,extended,remote,error,dlc,data|-?\d+(?:\.\d+)?(?:e-?\d+)?,0x[0-9a-f]+,[01],[01],[01],\d"
    ),
}


def sniff(head: bytes, path: str, *, whole: bool) -> str:
    """The format's name, a key of `FORMATS`.

    Args:
        head: the first bytes of the content.
        path: for the error's sentence.
        whole: `head` is all there is, so its last line counts.

    Raises:
        DataError: it is nothing that can be read.

    """
    for magic, name in _MAGIC.items():
        if head.startswith(magic):
            return name
    for magic, (what, todo) in _FOREIGN.items():
        if head.startswith(magic):
            raise DataError(f"This is {what}, which is not read.", where=path, todo=todo)
    lines = head.replace(b"\r", b"").split(b"\n")
    if not whole and len(lines) > 1:
        lines.pop()
    votes = {name: sum(1 for line in lines if pattern.match(line)) for name, pattern in _LINES.items()}
    name = max(votes, key=votes.__getitem__)
    if votes[name]:
        return name
    kinds = ", ".join(words for words in FORMATS.values())
    raise DataError(
        "No line of this file is one of a capture.", where=path, todo=f"Read are: {kinds}; each also as .gz or .zst."
    )
