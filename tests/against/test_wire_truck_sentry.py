"""Wire length and checksum against frames a logic analyser saw on a real bus (tests/data/truck_sentry/README.md).

From the first identifier bit to the ACK slot lie all bits of a frame but the one before (start of frame) and the 12
from the ACK slot on (ACK, its delimiter, 7 end of frame, 3 interframe space).
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from linkcheck.frames import EXTENDED, FrameBatch, Tracker
from linkcheck.frames.bits import crc15
from linkcheck.frames.kernel import KERNEL

BIT_S = 1 / 250_000
EXCERPT = Path(__file__).parent.parent / "data" / "truck_sentry" / "dos_excerpt.csv"


def read():
    """Whole frames: (first identifier bit in s, ACK slot in s, identifier, data, checksum), in order."""
    frames, frame = [], {}
    with EXCERPT.open(newline="") as file:
        for field in csv.DictReader(file):
            start = float(field["start_time"])
            match field["type"]:
                case "identifier_field":
                    assert field["extended"] == "true"
                    frame = {"start": start, "identifier": int(field["identifier"], 16), "data": b""}
                case "data_field":
                    frame["data"] += bytes([int(field["data"], 16)])
                case "crc_field":
                    frame["crc"] = int(field["crc"], 16)
                case "ack_field":
                    frames.append((frame["start"], start, frame["identifier"], frame["data"], frame["crc"]))
    return frames


FRAMES = read()


def wire_bits(kernel):
    rows = [(round(start * 1e9), 0, identifier, EXTENDED, len(data), data) for start, _, identifier, data, _ in FRAMES]
    return Tracker(kernel=kernel).annotate(FrameBatch.from_rows(rows, ("can0",))).wire_bits.astype(int)


@pytest.fixture(params=[False, True], ids=["twin", "kernel"])
def bits(request):
    if request.param and not KERNEL:
        pytest.skip("the kernel is not built here")
    return wire_bits(request.param)


def test_excerpt_holds_what_it_should():
    assert len(FRAMES) > 250
    assert {len(data) for *_, data, _ in FRAMES} == {3, 8}


def test_every_frame_lasts_as_long_as_on_the_wire(bits):
    seen = np.array([(ack - start) / BIT_S for start, ack, *_ in FRAMES])
    assert np.abs(seen - np.round(seen)).max() < 0.01
    assert (np.round(seen) == bits - 13).all()


def test_every_checksum_is_the_one_on_the_wire():
    assert [crc15(identifier, EXTENDED, len(data), data) for *_, identifier, data, _ in FRAMES] == [
        checksum for *_, checksum in FRAMES
    ]


def test_back_to_back_frames_follow_after_their_wire_bits(bits):
    starts = np.array([start for start, *_ in FRAMES])
    idle = np.diff(starts) / BIT_S - bits[:-1]
    idle = idle[np.diff(starts) > 0]  # the excerpt's two stretches
    assert idle.min() > -0.05  # no frame begins before the one before it is over
    assert (idle < 0.2).sum() > 40  # many do at once; hard synchronisation takes a fraction of a bit
