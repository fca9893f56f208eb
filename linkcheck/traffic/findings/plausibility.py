"""Findings about sensors: do they agree with each other, engine off and cold, and is the battery sane?

With the engine off and cold every temperature sensor reads about the same, boost pressure agrees with the barometer,
and oil pressure is near zero. Limits are our own judgement ("common practice, no source"), wide enough for tolerances
and for a sun-warmed hood. Battery: rest and charging volts of lead-acid batteries as in general tables.
"""

from __future__ import annotations

from collections.abc import Iterator
from statistics import median
from typing import TYPE_CHECKING

from linkcheck.traffic.options import Options
from linkcheck.traffic.result import ChannelResult, Finding, SignalRow

if TYPE_CHECKING:
    from linkcheck.traffic.channel import ChannelAnalysis

__all__ = ["RULES"]

TEMPERATURES = (
    "coolant_temperature",
    "oil_temperature",
    "fuel_temperature",
    "ambient_temperature",
    "air_inlet_temperature",
    "intake_manifold_temperature",
    "transmission_oil_temperature",
)
ODD_DEGREES = 15.0
COLD_COOLANT = 45.0  # above it, with the others agreeing, the engine was run lately and the comparison is void
BOOST_KPA = 10.0
STANDING_OIL_KPA = 30.0
BATTERY_V = {12: (11.8, 15.0), 24: (23.6, 30.0)}
DEEPEST_DIP = 0.6  # of the system's volts: below it even a cranking battery is not sane
_LEAST_SAMPLES = 3


def _off(result: ChannelResult, name: str) -> Iterator[tuple[int, SignalRow, float]]:
    """Address, row and mean value with the engine off of a signal, for every address that sends it."""
    for key, row in result.signals.items():
        if key.rsplit("@", 1)[0] == name and row.engine_off is not None:
            yield row.source_address, row, row.engine_off


def temperatures(_: ChannelAnalysis, result: ChannelResult, __: Options) -> Iterator[Finding]:
    """Cold and standing, all thermometers agree."""
    readings = [(name, address, value) for name in TEMPERATURES for address, _row, value in _off(result, name)]
    if len(readings) < 3:
        return
    middle = median(value for _, _, value in readings)
    coolant = [value for name, _, value in readings if name == "coolant_temperature"]
    warm_engine = any(value > COLD_COOLANT for value in coolant) and sum(
        abs(value - middle) > ODD_DEGREES for _, _, value in readings
    ) > max(1, len(readings) // 3)
    if warm_engine:
        return
    for name, address, value in readings:
        if abs(value - middle) > ODD_DEGREES:
            yield Finding(
                "temperature_implausible",
                "watch",
                0.8,
                f"With the engine off, {_words(name)} from address {address} reads {value:.0f} °C while the others "
                f"agree on about {middle:.0f} °C.",
                "If the engine really is cold, measure that sensor and its two wires; not a data link fault.",
                {"signal": name, "address": address, "value": value, "others": middle, "unit": "degC"},
            )


def boost(_: ChannelAnalysis, result: ChannelResult, __: Options) -> Iterator[Finding]:
    """Standing, boost is nothing (gauge) or the barometer's reading (absolute)."""
    barometer = [value for _, _, value in _off(result, "barometric_pressure")]
    for address, _row, value in _off(result, "boost_pressure"):
        absolute = bool(barometer) and abs(value - barometer[0]) <= BOOST_KPA
        if abs(value) > BOOST_KPA and not absolute:
            against = f"; the barometer says {barometer[0]:.0f} kPa" if barometer else ""
            yield Finding(
                "boost_implausible",
                "watch",
                0.8,
                f"With the engine off, boost pressure from address {address} reads {value:.0f} kPa{against}.",
                "Compare with the sensor disconnected; not a data link fault.",
                {"address": address, "value": value, "barometer": barometer[0] if barometer else None, "unit": "kPa"},
            )


def oil_pressure(_: ChannelAnalysis, result: ChannelResult, __: Options) -> Iterator[Finding]:
    """Standing, there is no oil pressure."""
    for address, _row, value in _off(result, "oil_pressure"):
        if value > STANDING_OIL_KPA:
            yield Finding(
                "oil_pressure_implausible",
                "watch",
                0.8,
                f"With the engine off, oil pressure from address {address} reads {value:.0f} kPa.",
                "Measure the sensor's supply and signal; not a data link fault.",
                {"address": address, "value": value, "unit": "kPa"},
            )


def battery(_: ChannelAnalysis, result: ChannelResult, options: Options) -> Iterator[Finding]:
    """Battery volts as modules report them."""
    for key, row in result.signals.items():
        if key.rsplit("@", 1)[0] not in ("battery_potential", "keyswitch_potential") or row.valid < _LEAST_SAMPLES:
            continue
        if row.mean is None or row.minimum is None:
            continue
        system = options.system_volts or (24 if row.mean > 18 else 12)
        low, high = BATTERY_V[system]
        # A dip while the starter turns is normal; the mean, and the mean before the start, are not excused by it.
        lowest = min(row.mean, row.mean if row.engine_off is None else row.engine_off)
        if lowest < low or row.mean > high or row.minimum < DEEPEST_DIP * system:
            yield Finding(
                "battery_implausible",
                "watch",
                0.85,
                f"{_words(key.rsplit('@', 1)[0]).capitalize()} reported by address {row.source_address}: mean "
                f"{row.mean:.2f} V, lowest {row.minimum:.2f} V; {low:.1f} to {high:.1f} V is sane for {system} V, less "
                "only while the starter turns.",
                "Compare with the meter at B to A and at the battery posts; a difference is a voltage drop.",
                {"signal": key, "minimum": row.minimum, "mean": row.mean, "system_volts": system, "unit": "V"},
            )


def sensor_errors(_: ChannelAnalysis, result: ChannelResult, __: Options) -> Iterator[Finding]:
    """Signals their own sender marks as wrong."""
    for key, row in result.signals.items():
        if row.errors:
            name = _words(key.rsplit("@", 1)[0])
            yield Finding(
                "signal_in_error",
                "watch",
                0.9,
                f"Address {row.source_address} marks its {name} as in error in {row.errors} of {row.samples} samples.",
                "Its sensor or wiring, not the data link; see that module's trouble codes.",
                {"signal": key, "errors": row.errors, "samples": row.samples},
            )


def _words(name: str) -> str:
    return name.replace("_", " ")


RULES = (temperatures, boost, oil_pressure, battery, sensor_errors)
