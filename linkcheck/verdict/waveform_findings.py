"""What a colleague would say of a scope's trace. Each rule sees figures only and says what, how sure, and what next.

Bands: recessive 2.0 to 3.0 V to ground and -500 to 50 mV between the lines, dominant 1.5 to 3.0 V between them (ISO
11898-2; NXP TJA1051 data sheet rev. 7, table 7). Where nothing is cited, the limits are our own judgement.
"""

from __future__ import annotations

from collections.abc import Iterator
from statistics import median

from linkcheck.physical.edges import DOMINANT_VOLTS, RECESSIVE_VOLTS
from linkcheck.physical.waveform import SAMPLE_POINT
from linkcheck.traffic.result import Finding
from linkcheck.verdict.waveform import SenderRow, WaveformReading

__all__ = ["find"]

REST_VOLTS = (2.0, 3.0)
DRIVEN_VOLTS = (1.5, 3.0)
REST_DIFFERENCE_VOLTS = 0.1  # 50 mV by ISO 11898-2, and as much again for the scope
STILL_SHARE = 0.25  # a line that moves less than this part of the other does not move
RATE_OFF = 0.005  # ISO 11898-1 receivers put up with about this, depending on how their bit is cut
WEAK = 0.85  # of the others' dominant level
LIKELY = 0.6
SAID = {
    "two": "Two terminators",
    "one": "A terminator is missing",
    "none": "No terminator at all",
    "three": "One terminator too many",
}
NEXT = {
    "one": "Battery off, ohms between CAN high and CAN low: about 120 confirms it. Then look at both "
    "ends of the backbone.",
    "none": "Battery off, ohms between CAN high and CAN low: thousands or OL confirm it; a broken stub "
    "to the connector "
    "looks alike.",
    "three": "Battery off, ohms between CAN high and CAN low: about 40 confirms it. Unplug what was added last.",
}


def find(reading: WaveformReading) -> list[Finding]:
    """All that is to be said, faults first."""
    found = [finding for rule in RULES for finding in rule(reading)]
    order = ("fault", "watch", "note")
    return sorted(found, key=lambda finding: order.index(finding.severity))


def _silent(reading: WaveformReading) -> Iterator[Finding]:
    if reading.dominant is not None or reading.recessive is None:
        return
    rest = reading.recessive
    level = f"The lines rest at {rest.high_volts:.2f} V and {rest.low_volts:.2f} V and nobody drives them."
    if max(rest.high_volts, rest.low_volts) < REST_VOLTS[0] / 2.0:
        text, after = (
            f"{level} That is a sleeping bus, or a line shorted to ground.",
            "Turn the key on and record again.",
        )
    else:
        text = f"{level} Nobody sends, or the lines are shorted to each other."
        after = "Battery off, ohms between CAN high and CAN low: 60 is sound, under 1 is a short."
    yield Finding("no_traffic", "fault", 0.9, text, after, {"high_v": rest.high_volts, "low_v": rest.low_volts})


def _swapped(reading: WaveformReading) -> Iterator[Finding]:
    if reading.swapped:
        yield Finding(
            "swapped",
            "fault",
            0.9,
            "CAN low goes up and CAN high goes down: they are changed over, at the probes or in the wiring. All "
            "figures "
            "here are put right.",
            "Make sure of the probes first; if they are right, the two wires are changed over between here and "
            "the bus.",
        )


def _still_line(reading: WaveformReading) -> Iterator[Finding]:
    if reading.dominant is None or reading.recessive is None:
        return
    moves = {
        "CAN high": abs(reading.dominant.high_volts - reading.recessive.high_volts),
        "CAN low": abs(reading.dominant.low_volts - reading.recessive.low_volts),
    }
    still, other = sorted(moves, key=lambda line: moves[line])
    if moves[still] < STILL_SHARE * moves[other]:
        yield Finding(
            "line_still",
            "fault",
            0.9,
            f"{still} moves {moves[still]:.2f} V while {other} moves {moves[other]:.2f} V: {still} is open on the "
            "way here, "
            "or shorted to something that holds it.",
            f"Battery off: ohms from {still} to ground and to battery positive, then continuity to the next connector.",
            {line.lower().replace(" ", "_") + "_moves_v": volts for line, volts in moves.items()},
        )


def _rest(reading: WaveformReading) -> Iterator[Finding]:
    rest = reading.recessive
    if rest is None or reading.dominant is None:
        return
    if not REST_VOLTS[0] <= rest.common_volts <= REST_VOLTS[1]:
        yield Finding(
            "common_mode",
            "fault",
            0.8,
            f"At rest the lines lie {rest.common_volts:.2f} V above ground; 2.0 to 3.0 V is sound.",
            "Check the scope's ground clip, then ohms from each line to ground and to battery positive (battery off).",
            {"common_v": rest.common_volts},
        )
    if rest.difference_volts > REST_DIFFERENCE_VOLTS:
        severity = "fault" if rest.difference_volts > RECESSIVE_VOLTS else "watch"
        yield Finding(
            "rest_difference",
            severity,
            0.8,
            f"At rest CAN high lies {rest.difference_volts * 1e3:.0f} mV above CAN low; at most 50 mV is sound, "
            "and over "
            "500 mV the bus is no longer recessive.",
            "Compare both channels' zero; then look for a leak from CAN high to a supply, or from CAN low to ground.",
            {"difference_v": rest.difference_volts},
        )


def _driven(reading: WaveformReading) -> Iterator[Finding]:
    if reading.dominant is None:
        return
    volts = reading.dominant.difference_volts
    if not DRIVEN_VOLTS[0] <= volts <= DRIVEN_VOLTS[1]:
        way = "low: too much load, or resistance on the way" if volts < DRIVEN_VOLTS[0] else "high: too little load"
        yield Finding(
            "dominant_level",
            "fault" if volts < DOMINANT_VOLTS or volts > DRIVEN_VOLTS[1] else "watch",
            0.8,
            f"Driven, the lines are {volts:.2f} V apart; 1.5 to 3.0 V is sound. That is {way}.",
            "Battery off, ohms between CAN high and CAN low.",
            {"dominant_v": volts},
        )


def _terminators(reading: WaveformReading) -> Iterator[Finding]:
    if not reading.terminators or reading.fall is None:
        return
    likely = max(reading.terminators, key=lambda count: reading.terminators[count])
    share = reading.terminators[likely]
    shape = f"driven to {reading.fall.driven_volts:.2f} V, decay {_micro(reading.fall.decay_s)}"
    evidence = {"probability": reading.terminators, "decay_s": reading.fall.decay_s}
    if share < LIKELY:
        second = sorted(reading.terminators, key=lambda count: -reading.terminators[count])[1]
        text = f"The edges ({shape}) fit {likely} terminators and {second} about as well."
        yield Finding(
            "terminators_unclear", "watch", share, text, "Battery off, ohms between CAN high and CAN low.", evidence
        )
    elif likely == "two":
        yield Finding("terminators", "note", share, f"{SAID[likely]}, by the edges: {shape}.", "", evidence)
    else:
        yield Finding("terminators", "fault", share, f"{SAID[likely]}: {shape}.", NEXT[likely], evidence)


def _decay(reading: WaveformReading) -> Iterator[Finding]:
    if reading.decay_s is None or not reading.nominal_bit_rate:
        return
    share = reading.decay_s * reading.nominal_bit_rate
    if share > SAMPLE_POINT / 2.0:
        yield Finding(
            "slow_edges",
            "fault" if share > SAMPLE_POINT else "watch",
            0.9,
            f"An edge takes {_micro(reading.decay_s)} to die down, {share:.0%} of a bit; receivers look at "
            f"{SAMPLE_POINT:.0%}.",
            "Terminators first, then what adds capacitance: filters, splitters, long stubs.",
            {"share_of_bit": share},
        )


def _ringing(reading: WaveformReading) -> Iterator[Finding]:
    rung = [sender for sender in reading.senders if sender.fall and sender.fall.ring_volts > RECESSIVE_VOLTS]
    if rung:
        worst = max(sender.fall.ring_volts for sender in rung if sender.fall)
        yield Finding(
            "ringing",
            "fault" if worst > DOMINANT_VOLTS else "watch",
            0.85,
            f"After an edge the lines come up again to {worst:.2f} V (senders {', '.join(map(_who, rung))}); from "
            "0.5 V on it "
            "may be read as dominant.",
            "Look for a long stub, a splitter cable, or an end of the backbone without its terminator.",
            {"ring_v": worst},
        )


def _rate(reading: WaveformReading) -> Iterator[Finding]:
    if reading.bit_rate and reading.nominal_bit_rate:
        off = reading.bit_rate / reading.nominal_bit_rate - 1.0
        if abs(off) > RATE_OFF:
            yield Finding(
                "bit_rate_off",
                "watch",
                0.8,
                f"Bits come {off:+.2%} off {reading.nominal_bit_rate / 1e3:g} kbit/s.",
                "Another sender's clock or the scope's time base is off; record another sender and compare.",
                {"off": off},
            )


def _frames(reading: WaveformReading) -> Iterator[Finding]:
    whole = [frame for frame in reading.frames if not frame.cut]
    bad = [frame for frame in whole if frame.problem]
    if bad and len(bad) < len(whole):
        first = bad[0]
        yield Finding(
            "bad_frames",
            "fault",
            0.9,
            f"{len(bad)} of {len(whole)} frames are not good; the first, {first.at_s * 1e3:.3f} ms: {first.problem}",
            "Look at the trace there: its edges and levels say why.",
            {"bad": len(bad), "frames": len(whole)},
        )
    elif bad:
        yield Finding(
            "no_good_frame",
            "fault",
            0.9,
            f"Not one good frame was read; the first: {bad[0].problem}",
            "With nobody to answer, a sender repeats itself for ever: is anything else on the bus? Else look at "
            "the edges.",
            {"frames": len(whole)},
        )


def _weak(reading: WaveformReading) -> Iterator[Finding]:
    usual = median(row.dominant.difference_volts for row in reading.senders) if len(reading.senders) > 2 else 0.0
    for row in reading.senders:
        if row.dominant.difference_volts < WEAK * usual:
            yield Finding(
                "weak_sender",
                "watch",
                0.75,
                f"{_who(row)} drives {row.dominant.difference_volts:.2f} V, the others {usual:.2f} V: resistance in "
                "its stub "
                "or connector, or a weak driver.",
                "Voltage drop along that module's stub and pins.",
                {"dominant_v": row.dominant.difference_volts, "usual_v": usual},
            )


def _who(row: SenderRow) -> str:
    return row.name if row.address is None else f"{row.address} ({row.name})"


def _micro(seconds: float) -> str:
    return f"{seconds * 1e6:.2f} µs" if seconds < 1.0 else "longer than the trace shows"


RULES = (
    _silent,
    _swapped,
    _still_line,
    _terminators,
    _driven,
    _rest,
    _decay,
    _ringing,
    _frames,
    _weak,
    _rate,
)
