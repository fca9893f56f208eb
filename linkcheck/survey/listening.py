"""What every face of a live capture says and asks: before it listens, while it does, and when it has ended.

Sentences and decisions only; no face is drawn here, and nothing is opened. That an adapter which takes part answers
frames with error flags at a wrong bit rate is ISO 11898-1, error signalling.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

from linkcheck.errors import UsageError
from linkcheck.live.port import PortRefusedError, PortSpec, Silence
from linkcheck.quantities.entry import read_reading
from linkcheck.survey.live_capture import Gauge, LiveCapture, LiveEvent
from linkcheck.traffic import TrafficResult
from linkcheck.traffic.wiggle import WiggleEvent
from linkcheck.traffic.wiggle_sheet import MeterMinMax

__all__ = [
    "WIGGLE_LEAD",
    "accepting",
    "capture_ends",
    "event_line",
    "gauge_words",
    "introduction",
    "meter_readings",
    "would_take_part",
]

WIGGLE_LEAD = "Wiggle watch: hold the harness still for 5 s, then move it; the bell rings for what drops out."
_SILENCE_WORDS = {
    Silence.PROVEN: "silent, proven",
    Silence.CLAIMED: "asked to be silent, unproven",
    Silence.ACTIVE: "takes part in the bus",
    Silence.UNKNOWN: "nobody knows whether it is silent",
    Silence.NO_BUS: "no bus behind it",
}
_TAKES_PART = (
    "It would then take part in the bus: acknowledge frames, and at a wrong bit rate answer every frame with error "
    "flags, so that modules may drop out or set codes."
)
_ALARM_WORDS = {"late": "SILENT", "errors": "ERRORS", "dip": "BATTERY", "mark": "MARK", "link": "LINK"}


def would_take_part(error: PortRefusedError, specs: Sequence[PortSpec]) -> str | None:
    """The question to ask where ports were refused for want of silence; None where asking changes nothing."""
    if error.reason not in ("unproven", "mode") or any(spec.active for spec in specs):
        return None
    rate = specs[0].bit_rate
    at = f" It would be set to {rate / 1000:g} kbit/s." if rate else ""
    return f"{error.sentence}\n{_TAKES_PART}{at}"


def accepting(error: PortRefusedError, specs: Sequence[PortSpec]) -> list[PortSpec]:
    """The ports as they are to be opened once the user has said yes to `would_take_part`."""
    active = error.reason == "mode"
    return [dataclasses.replace(spec, accept_unproven=True, active=spec.active or active) for spec in specs]


def introduction(capture: LiveCapture) -> list[str]:
    """What was opened, one sentence each."""
    lines = []
    for name, facts in capture.listener.facts.items():
        rate = f"{facts.bit_rate / 1000:g} kbit/s" if facts.bit_rate else "bit rate not told"
        lines.append(f"{name}: {_SILENCE_WORDS[facts.silence]}; {rate}; times from the {facts.clock}.")
        lines += [f"{name}: {note}." for note in facts.notes]
    return lines


def event_line(event: LiveEvent | WiggleEvent, started_ns: int) -> str:
    """One line for something that happened: second since the start, channel, a word in capitals, the sentence."""
    if isinstance(event, WiggleEvent):
        time_ns, word = event.start_ns, _ALARM_WORDS[event.kind]
    else:
        time_ns, word = event.time_ns, event.kind.replace("_", " ").upper()
    return f"{max(0.0, (time_ns - started_ns) / 1e9):8.2f} s  {event.channel:<6} {word:<9} {event.text}"


def gauge_words(gauge: Gauge) -> str:
    """How a channel stands now, in a few words."""
    if gauge.away:
        return f"{gauge.channel} AWAY"
    load = "" if gauge.load is None else f" {gauge.load:4.0%}"
    silent = ""
    if gauge.silent_s is None:
        silent = " nothing heard yet"
    elif gauge.silent_s > 1:
        silent = f" SILENT {gauge.silent_s:.0f} s"
    errors = f" {gauge.errors:,} errors" if gauge.errors else ""
    return f"{gauge.channel}{load} {gauge.frames_per_s:.0f}/s {gauge.addresses} addresses{errors}{silent}"


def capture_ends(capture: LiveCapture, result: TrafficResult) -> list[str]:
    """What was lost, what was recorded, and what a silent bus may mean."""
    lines = []
    for name, count in capture.counters().items():
        told = {"adapter overruns": count.adapter, "dropped by the kernel": count.kernel}
        told |= {"dropped here": count.ours, "unreadable": count.damaged}
        lines.append(
            f"{name} lost: " + ", ".join(f"{what} {'unknown' if n is None else n}" for what, n in told.items())
        )
        channel = result.channels.get(name)
        frames = 0 if channel is None else channel.frames - channel.error_frames.total
        if not frames:
            errors = 0 if channel is None else channel.error_frames.total
            why = "errors only: somebody talks, perhaps at another bit rate" if errors else "silent: nothing was heard"
            lines.append(f"{name}: {why}. `linkcheck listen --search` tries the bit rates without disturbing the bus.")
    recorder = capture.recorder
    if recorder is not None:
        missed = f"; {recorder.missed:,} frames were not recorded ({recorder.problem})" if recorder.missed else ""
        names = ", ".join(map(str, recorder.files)) or "no file, as nothing triggered"
        lines.append(f"Recorded {recorder.written:,} frames to {names}{missed}.")
    return lines


def meter_readings(text: str, where: str = "") -> MeterMinMax:
    """A min/max meter's two readings as a user writes them, in either order.

    Raises:
        UsageError, DataError: not two readings.

    """
    words = text.replace(" to ", " ").split()
    if len(words) != 2:
        raise UsageError(f"{text!r} are not two readings.", where=where, todo='Write them as "11.8 12.6".')
    low, high = sorted(read_reading(word, "dc_volts").value for word in words)
    return MeterMinMax(low, high, "V")
