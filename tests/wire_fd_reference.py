"""An independent account of a CAN FD frame on the wire, for checks of our own routine.

Written from ISO 11898-1:2015 (FD base and extended format, stuff count, CRC-17 and CRC-21, fixed stuff
bits), with the frame as text: "0" is dominant, "1" recessive, and capitals "O" and "I" are the same at the second bit
rate. Slow and plain on purpose; shares no code with the package.
"""

from __future__ import annotations

DLC = {0: 0, 1: 1, 2: 2, 3: 3, 4: 4, 5: 5, 6: 6, 7: 7, 8: 8, 12: 9, 16: 10, 20: 11, 24: 12, 32: 13, 48: 14, 64: 15}
STUFF_COUNT = ("0000", "0011", "0110", "0101", "1100", "1111", "1010", "1001")  # Gray code and even parity


def _remainder(text, width, polynomial):
    """Remainder of a long division of the bits, with 1 followed by zeros as the starting value."""
    number = int(text, 2) << width
    number ^= 1 << (width - 1) << len(text)
    divisor = 1 << width | polynomial
    for place in reversed(range(len(text))):
        if number >> (place + width) & 1:
            number ^= divisor << place
    return f"{number:0{width}b}"


def _inverse(bit):
    return "1" if bit == "0" else "0"


def fd_frame(identifier, data, *, extended, brs, esi):
    """An acknowledged frame and the interframe space."""
    base = f"0{identifier:011b}00"  # SOF, identifier, RRS, IDE
    long = f"0{identifier >> 18:011b}11{identifier & 0x3FFFF:018b}0"  # SOF, base, SRR, IDE, extension, RRS
    slow = long if extended else base
    slow += f"10{brs:b}"  # FDF, res, BRS
    content = slow + f"{esi:b}{DLC[len(data)]:04b}" + "".join(f"{byte:08b}" for byte in data)

    sent, run, stuffed = "", 0, 0
    switch = 0  # where the second bit rate begins
    for place, bit in enumerate(content):
        if place == len(slow):
            switch = len(sent)
        run = run + 1 if sent[-1:] == bit else 1
        sent += bit
        if run == 5 and place + 1 < len(content):
            sent += _inverse(bit)
            run, stuffed = 1, stuffed + 1

    count = STUFF_COUNT[stuffed % 8]
    width, polynomial = (17, 0x1685B) if len(data) <= 16 else (21, 0x102899)
    tail = count + _remainder(sent + count, width, polynomial)
    for place, bit in enumerate(tail):
        if place % 4 == 0:
            sent += _inverse(sent[-1])
        sent += bit
    fast = sent[switch:] + "1"  # CRC delimiter
    if brs:
        fast = fast.replace("0", "O").replace("1", "I")
    return sent[:switch] + fast + "01" + "1" * 7 + "1" * 3  # ACK and its delimiter, end of frame, interframe space
