"""An independent account of a classic CAN frame on the wire, bit by bit, for checks of our own routine.

Written from the frame format of ISO 11898-1 (start of frame, arbitration, control, data, CRC-15 with polynomial
0x4599, stuffing after five equal bits, delimiters, acknowledge, end of frame, 3-bit interframe space). Slow and plain
on purpose; shares no code with the package.
"""


def _number(value, width):
    return [value >> place & 1 for place in reversed(range(width))]


def _crc15(bits):
    register = 0
    for bit in bits:
        flip = bit ^ register >> 14
        register = register << 1 & 0x7FFF
        if flip:
            register ^= 0x4599
    return register


def frame_bits(identifier, data, *, extended, remote=False, length=None):
    """All bits of an acknowledged frame and the interframe space, as a list of 0 (dominant) and 1 (recessive)."""
    length = len(data) if length is None else length
    if extended:
        head = [0, *_number(identifier >> 18, 11), 1, 1, *_number(identifier & 0x3FFFF, 18), int(remote), 0, 0]
    else:
        head = [0, *_number(identifier, 11), int(remote), 0, 0]
    body = head + _number(length, 4)
    if not remote:
        body += [bit for byte in data for bit in _number(byte, 8)]
    body += _number(_crc15(body), 15)
    stuffed, run, last = [], 0, None
    for bit in body:
        run = run + 1 if bit == last else 1
        last = bit
        stuffed.append(bit)
        if run == 5:
            last, run = 1 - bit, 1
            stuffed.append(last)
    return [*stuffed, 1, 0, 1, *[1] * 7, *[1] * 3]
