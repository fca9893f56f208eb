"""Who hears whom on the CAN pair, and so what the bus is doing: computed from levels, never assumed.

Stations are the eight modules and, last, the adapter. A station hears another when the pair at its pins
- rises above its threshold while the other drives (ISO 11898-2: not dominant below 0.5 V, dominant from 0.9 V),
- rests below it, less hysteresis, while nobody drives,
- falls back in time for its sample point (first moment of the network's delays, after Elmore 1948), and
- stays inside its receiver's common-mode range: -2 to 7, -12 to 12 or -30 to 30 V by generation.

What follows for the bus is a judgement, from memory of ISO 11898-1: a frame needs a sender that reads itself back and
another station that acknowledges it; a lone sender repeats its frame without end; a station that sees a frame moving
but cannot read it breaks it with error flags; so does one that starts over a frame it does not hear.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

__all__ = ["ACTIVITIES", "ADAPTER", "SHOWS", "Bus", "Receivers", "Talk", "what_adapter_shows", "work_out"]

Array = npt.NDArray[Any]

ADAPTER = 8  # its index among the stations
TINY = 1e-30
MOVES_VOLTS = 0.4  # a swing that some receiver might take for a bit; below it a bus looks quiet
ACTIVITIES = ("idle", "busy", "erroring", "unacknowledged")
SHOWS = ("no_power", "silent", "errors", "frames")
# Lower ends of the common-mode ranges whose upper ends are 7, 12 and 30 V.
OLD_COMMON_MODE_UPPER, OLD_COMMON_MODE_LOWER = 7.0, -2.0


@dataclass(frozen=True, slots=True, eq=False)
class Receivers:
    """What the stations are, S of them (modules, then the adapter if there is one); arrays [S, B].

    Attributes:
        active: has supply, is awake and would take part.
        threshold_volts, hysteresis_volts, common_mode_volts: of the receiver.
        delay_s: through the transceiver and back.
        wrong_rate: set to another bit rate than the bus.
        stuck: drives dominant all the time.
        talk: weight of its frames; zero for one that only listens.
        farads: across its pins, with the cable next to it; zero where it is not connected.

    """

    active: Array
    threshold_volts: Array
    hysteresis_volts: Array
    common_mode_volts: Array
    delay_s: Array
    wrong_rate: Array
    stuck: Array
    talk: Array
    farads: Array


@dataclass(frozen=True, slots=True, eq=False)
class Bus:
    """Levels at every station's pins.

    Attributes:
        rest_volts, rest_common_volts: difference and mean of the lines with nobody driving, [S, B].
        drive_volts, drive_common_volts: the same with station s driving, at station r: [S, S, B].
        decay_s: time constant of the difference at each station, [S, B].
        bit_s, sample_point: of the bus, [B].
        busy_share, unacknowledged_share, erroring_share: dominant shares of time, [B].

    """

    rest_volts: Array
    rest_common_volts: Array
    drive_volts: Array
    drive_common_volts: Array
    decay_s: Array
    bit_s: Array
    sample_point: Array
    busy_share: Array
    unacknowledged_share: Array
    erroring_share: Array


@dataclass(frozen=True, slots=True, eq=False)
class Talk:
    """What the bus is doing.

    Attributes:
        hears: bool[S, S, B], station r takes station s's frames: hears[s, r].
        moves: bool[S, S, B], station r sees s's frames move but cannot read them.
        held: bool[S, B], the pair at this station rests dominant.
        good: bool[S, B], this station's frames are acknowledged and unbroken.
        broken: bool[S, B], its frames end in errors.
        alone: bool[S, B], nobody acknowledges its frames.
        share: float64[S, B], share of time it holds the lines dominant.
        activity: int[B], index into `ACTIVITIES`.

    """

    hears: Array
    moves: Array
    held: Array
    good: Array
    broken: Array
    alone: Array
    share: Array
    activity: Array


def work_out(stations: Receivers, bus: Bus) -> Talk:
    """Who hears whom, whose frames are good, and how long each holds the lines dominant."""
    hears, moves, held = _hearing(stations, bus)
    itself = np.arange(len(stations.active))
    holds = stations.active & stations.stuck
    sends = stations.active & (stations.talk > 0.0) & ~stations.stuck & ~held
    two_way = hears & hears.swapaxes(0, 1)
    two_way[itself, itself] = False
    reads_itself = hears[itself, itself] & ~_reversed(bus, sends)
    broken = sends & (~reads_itself | _interrupted(hears, moves) | _overrun(hears, sends))
    acknowledged = two_way.any(axis=1)
    alone = sends & ~broken & ~acknowledged
    good = sends & ~broken & acknowledged
    weight = stations.talk / np.maximum(stations.talk.sum(axis=0), TINY)
    share = weight * (good * bus.busy_share + broken * bus.erroring_share) + alone * bus.unacknowledged_share
    trouble = (holds | held | broken).any(axis=0)
    activity = np.select([trouble, good.any(axis=0), alone.any(axis=0)], [2, 1, 3], 0)
    return Talk(hears, moves, held, good, broken, alone, np.where(holds, 1.0, share), activity)


def _hearing(stations: Receivers, bus: Bus) -> tuple[Array, Array, Array]:
    """hears[s, r], moves[s, r] and held[r]."""
    upper = stations.common_mode_volts
    lower = np.where(upper <= OLD_COMMON_MODE_UPPER, OLD_COMMON_MODE_LOWER, -upper)
    back = stations.threshold_volts - stations.hysteresis_volts
    held = stations.active & (bus.rest_volts >= back)
    time_s = bus.bit_s * bus.sample_point - 2.0 * stations.delay_s
    fall_s = bus.decay_s * np.log(np.maximum(bus.drive_volts, back) / back)
    rest_in_range = (bus.rest_common_volts >= lower) & (bus.rest_common_volts <= upper)
    drive_in_range = (bus.drive_common_volts >= lower) & (bus.drive_common_volts <= upper)
    readable = (
        (bus.drive_volts >= stations.threshold_volts) & (fall_s <= time_s) & rest_in_range & drive_in_range & ~held
    )
    both = stations.active[:, None] & stations.active[None]
    hears = both & readable & ~(stations.wrong_rate[:, None] ^ stations.wrong_rate[None])
    swings = bus.drive_volts - bus.rest_volts >= MOVES_VOLTS
    return hears, both & swings & ~hears, held


def _reversed(bus: Bus, sends: Array) -> Array:
    """Stations at which most others' frames swing the wrong way: their bits do not survive, and they fall silent."""
    against = (bus.drive_volts - bus.rest_volts <= -MOVES_VOLTS) & sends[:, None]
    return np.asarray(2 * against.sum(axis=0) > sends.sum(axis=0) - 1)


def _interrupted(hears: Array, moves: Array) -> Array:
    """Some module sees the frames move without reading them, and its error flags come through."""
    notices = hears | moves
    return np.asarray((moves & notices.swapaxes(0, 1))[:, :ADAPTER].any(axis=1))


def _overrun(hears: Array, sends: Array) -> Array:
    """Some sender does not hear these frames, but a station that does hear them hears that sender too."""
    counts = hears.astype(np.float32)
    both_heard = np.einsum("srb,trb->stb", counts, counts) > 0.0
    return np.asarray((both_heard & ~hears & sends[None]).any(axis=1))


def what_adapter_shows(
    talk: Talk, powered: Array, same_rate: Array, reports_errors: Array, copes_one_way: Array
) -> tuple[Array, Array]:
    """What an adapter shows and which modules it hears.

    Args:
        talk: with the adapter as the last station.
        powered: bool[B].
        same_rate: bool[B], it listens at the bus's bit rate.
        reports_errors: bool[B], it shows errors at all.
        copes_one_way: bool[B], it takes frames though no module could hear it: levels come in over one line of the
            pair, at half the swing and with the other line afloat.

    Returns:
        index into `SHOWS`, int[B], and bool[8, B].

    """
    comes_in = talk.hears[:ADAPTER, ADAPTER]
    one_way = ~talk.hears[ADAPTER, :ADAPTER].any(axis=0) & ~copes_one_way
    heard = comes_in & talk.good[:ADAPTER] & same_rate & ~one_way
    noise = (
        (talk.moves[:ADAPTER, ADAPTER] & (talk.share[:ADAPTER] > 0.0)).any(axis=0)
        | (comes_in & (talk.broken[:ADAPTER] | ~same_rate | one_way)).any(axis=0)
        | talk.held[ADAPTER]
    )
    shows = np.select([~powered, heard.any(axis=0), noise & reports_errors], [0, 3, 2], 1)
    return shows, heard
