"""Lines to start fuzzing from: every legal layout, and what damage does to them."""

from __future__ import annotations

import random

LEGAL = [
    b"(1436509052.249713) can0 18FEF100#0011223344556677",
    b"(1436509052.249913) can0 0CF00400#FF12",
    b"(1436509053.000000) vcan1 123#DEADBEEF",
    b"(1436509053.000001)    a 7FF#",
    b"(1436509053.000001) interface_num15 00000000#00",
    b"(1436509052.249713123) can0 18fef100#00aabbccddeeff77 R",
    b"(000.000000) can0 18FEF100#0011223344556677 T",
    b"(12) can0 123#R",
    b"(12.) can0 1ABCDEF0#R8",
    b"(12.5) can0 123#R8_F",
    b"(12.5) can0 123#0011223344556677_9",
    b"(12.5) can0 123#00.11.22.33",
    b"(9223372036.854775807) can0 20000004#0010000000000000",
    b"(12.5) can0 20000080#0000000000000000",
    b"(12.5) can0 123##1001122334455667788990011",
    b"(12.5) can0 1ABCDEF0##3" + b"5A" * 64,
    b"  (12.5)\tcan0 \t123#11\t",
    b"DROPCOUNT: dropped 5 CAN frames on 'can0' socket (total drops 12)",
    b"# a remark",
    b"; another",
    b"",
    b"(9223372036.854775808) can0 123#11",
    b"(1.5) can0 800#11",
    b"(1.5) can0 40000000#11",
    b"(1.5) can0 12345#11",
    b"(1.5) can0 123#1",
    b"(1.5) can0 123#001122334455667788",
    b"(1.5) can0 123##0" + b"11" * 9,
    b"(1.5) can0\0 123#11",
    b"(1.5) sixteen_letters_ 123#11",
    b"(1.5) can0 20000004#R",
    b"(-1.5) can0 123#11",
    b"(1.5) can0 123#11 X",
    b"garbage",
    b"\0" * 40,
    b"(1.5) can0 " + b" " * 4090 + b"123#11",
]
_PIECES = [b"#", b"##", b"R", b"_", b".", b"(", b")", b" ", b"\t", b"\r", b"\n", b"\0", b"0", b"9", b"F", b"g", b"\xff"]


def damaged(rng: random.Random, line: bytes) -> bytes:
    """The line with a few bytes changed, cut out, doubled or put in."""
    text = bytearray(line)
    for _ in range(rng.choice([1, 1, 2, 4])):
        at = rng.randrange(len(text) + 1)
        match rng.randrange(5):
            case 0:
                text[at : at + 1] = bytes([rng.randrange(256)])
            case 1:
                del text[at : at + rng.randrange(1, 9)]
            case 2:
                text[at:at] = rng.choice(_PIECES)
            case 3:
                text[at : at + 1] = rng.choice(_PIECES)
            case _:
                text[at:at] = text[at : at + rng.randrange(1, 20)]
    return bytes(text)


def damaged_text(rng: random.Random, lines: int, share: float) -> bytes:
    """Lines of all layouts, `share` of them damaged; in one file of four the last has no newline."""
    most = rng.choices(LEGAL, k=3)  # a file mostly has one layout
    picked = (rng.choice(most if rng.random() < 0.7 else LEGAL) for _ in range(lines))
    text = b"".join(
        (damaged(rng, line) if rng.random() < share else line) + rng.choice([b"\n", b"\n", b"\r\n"]) for line in picked
    )
    return text[: -rng.randrange(1, 30)] if rng.random() < 0.25 else text
