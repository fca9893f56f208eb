"""Console output and TRC text, line by line against the readers of cantools and python-can.

cantools: src/cantools/logreader.py (candump output in all time styles, TRC 1.0 to 2.1). python-can: can/io/trc.py
(TRC 1.0, 1.1, 1.3, 2.0, 2.1). Both drop error, state and counter rows; those are left out here and tested elsewhere.
"""

import io
import random
from datetime import UTC, datetime, timedelta

import can
import cantools.logreader
import pytest
from reading import rows
from trc_examples import ALL

from linkcheck.frames import BRS, ERROR, ESI, EXTENDED, REMOTE
from linkcheck.readers.console import ConsoleCapture
from linkcheck.readers.trc import TrcCapture


def console_text(style, seed):
    chance = random.Random(seed)  # noqa: S311  # a seeded test
    lines, clock = [], 0
    for _ in range(400):
        step = chance.randrange(20_000)
        clock += step
        date = datetime(2015, 7, 10, tzinfo=UTC) + timedelta(seconds=7, microseconds=clock)
        stamp = {
            "ta": f" ({1436509052 + clock // 10**6:010d}.{clock % 10**6:06d}) ",
            "tz": f" ({clock // 10**6:03d}.{clock % 10**6:06d}) ",
            "tA": f" ({date:%Y-%m-%d %H:%M:%S.%f}) ",
            "none": " ",
        }[style]
        extended = chance.random() < 0.7
        identifier = f"{chance.randrange(1 << 29):08X}" if extended else f"     {chance.randrange(1 << 11):03X}"
        data = chance.randbytes(chance.randrange(9))
        shown = data.hex(" ").upper() if chance.random() < 0.95 else "remote request"
        text = "   '" + "".join(chr(b) if 0x1F < b < 0x7F else "." for b in data) + "'" if chance.random() < 0.2 else ""
        text = text if shown != "remote request" else ""
        shown = f"{shown:<23}" if text else shown
        lines.append(f"{stamp} can{chance.randrange(2)}  {identifier}   [{len(data)}]  {shown}{text}\n")
    return "".join(lines)


@pytest.mark.parametrize("style", ["ta", "tz", "tA", "none"])
def test_console_output_as_cantools_reads_it(style):
    text = console_text(style, style)
    ours = rows(ConsoleCapture("x", io.BytesIO(text.encode())).batches())
    theirs = list(cantools.logreader.Parser(io.StringIO(text), tz=UTC))
    assert len(ours) == len(theirs) == 400
    for row, frame in zip(ours, theirs, strict=True):
        time_ns, channel, identifier, flags, _, payload = row
        assert (channel, identifier, payload) == (frame.channel, frame.frame_id, frame.data)
        assert bool(flags & EXTENDED) == frame.is_extended_frame
        assert bool(flags & REMOTE) == frame.is_remote_frame
        if style != "none":
            epoch = timedelta(0) if style == "tz" else datetime(1970, 1, 1, tzinfo=UTC)
            stamp = frame.timestamp if style != "tA" else frame.timestamp.replace(tzinfo=UTC)
            assert time_ns == (stamp - epoch) // timedelta(microseconds=1) * 1000


@pytest.mark.parametrize("version", ALL)
def test_trc_rows_as_cantools_reads_them(version):
    ours = [row for row in rows(TrcCapture("x", io.BytesIO(ALL[version].encode())).batches()) if not row[3] & ERROR]
    theirs = [
        frame
        for line in ALL[version].splitlines()
        # A parser of its own for each row: it settles on the first row's version. "Error" and "Warng" rows it reads
        # as frames where their length stands in another column than it expects.
        if not line.startswith(";")
        and not any(word in line for word in ("ERROR", "Error", "Warng", "FFFFFFFF", " ST "))
        if (frame := cantools.logreader.Parser().parse(line if "RTR" in line else line + " ")) is not None
    ]
    start_ns = ours[0][0] - theirs[0].timestamp // timedelta(microseconds=1) * 1000
    assert [(row[2], row[5], bool(row[3] & REMOTE)) for row in ours] == [
        (frame.frame_id, frame.data, frame.is_remote_frame) for frame in theirs
    ]
    assert [row[0] - start_ns for row in ours] == [
        frame.timestamp // timedelta(microseconds=1) * 1000 for frame in theirs
    ]


@pytest.mark.parametrize("version", [version for version in ALL if version != "1.2"])
def test_trc_files_as_python_can_reads_them(version, tmp_path):
    """python-can takes FE for both flags and BI for one; the format's description has them the other way round."""
    path = tmp_path / "x.trc"
    path.write_text("".join(line + "\n" for line in ALL[version].splitlines() if "ERROR" not in line))
    ours = [row for row in rows(TrcCapture("x", io.BytesIO(path.read_bytes())).batches()) if not row[3] & ERROR]
    with can.TRCReader(path) as reader:
        theirs = list(reader)
    assert len(ours) == len(theirs)
    for (time_ns, channel, identifier, flags, length, payload), message in zip(ours, theirs, strict=True):
        assert abs(time_ns - round(message.timestamp * 1e9)) <= 2000  # a float, and a start time rounded on its own
        assert (channel, identifier) == (str(message.channel), message.arbitration_id)
        assert (length if flags & REMOTE else payload) == (message.dlc if flags & REMOTE else bytes(message.data))
        assert bool(flags & EXTENDED) == message.is_extended_id
        if not flags & ESI:
            assert bool(flags & BRS) == message.bitrate_switch
