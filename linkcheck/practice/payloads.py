"""What the invented truck's modules put into their messages, eight bytes each.

Layouts and scales as published for SAE J1939-71 (SPN numbers stand beside them); whatever the truck does not know is
sent as 0xFF, not available. Those marked "memory" were not re-read. Written apart from the decoder on purpose: the two
check each other.
"""

from __future__ import annotations

from collections.abc import Callable

from linkcheck.practice.plant import Plant

__all__ = ["PAYLOADS", "Payload"]

Payload = Callable[[Plant, float], bytes]
"""Of a truck and a time in seconds, the eight bytes."""

_GEAR = 10  # the one it drives in


def _byte(value: float, scale: float, offset: float = 0.0) -> int:
    """A one-byte value, kept within 0-250 (above are the signals for error and not available)."""
    return max(0, min(250, round((value - offset) / scale)))


def _word(value: float, scale: float, offset: float = 0.0) -> bytes:
    """A two-byte value, low byte first, kept within 0-64255."""
    return max(0, min(64255, round((value - offset) / scale))).to_bytes(2, "little")


def _kelvin(celsius: float) -> bytes:
    return _word(celsius, 0.03125, -273.0)


def _fill(*parts: tuple[int, int | bytes]) -> bytes:
    """Eight bytes of 0xFF with parts put in at their byte number, from 1."""
    data = bytearray(b"\xff" * 8)
    for number, part in parts:
        value = bytes([part]) if isinstance(part, int) else part
        data[number - 1 : number - 1 + len(value)] = value
    return bytes(data)


def _engine_1(plant: Plant, t: float) -> bytes:
    demand = _byte(plant.torque_percent(t) + (2.0 if plant.road else 0.0), 1.0, -125.0)  # SPN 512
    actual = _byte(plant.torque_percent(t), 1.0, -125.0)  # SPN 513
    starter = 0xF2 if plant.cranking(t) else 0xF0  # SPN 1675
    mode = 0xF1 if plant.pedal_percent(t) > 0 else 0xF0  # SPN 899
    return _fill(
        (1, mode), (2, demand), (3, actual), (4, _word(plant.rpm(t), 0.125)), (6, 0), (7, starter), (8, demand)
    )


def _engine_2(plant: Plant, t: float) -> bytes:
    idle = 0xF1 if plant.pedal_percent(t) <= 0 else 0xF0
    return _fill((1, idle), (2, _byte(plant.pedal_percent(t), 0.4)), (3, _byte(plant.torque_percent(t), 1.0)))


def _engine_3(plant: Plant, t: float) -> bytes:
    return _fill((1, _byte(8.0, 1.0, -125.0)), (2, _word(plant.rpm(t), 0.125)))  # SPN 514, 515


def _gas_flow(plant: Plant, t: float) -> bytes:
    air = plant.rpm(t) * (0.25 + plant.boost_kpa(t) / 400.0)
    return _fill((1, _word(air * 0.1, 0.05)), (3, _word(air, 0.05)))  # SPN 2659, 132; memory


def _fuel_economy(plant: Plant, t: float) -> bytes:
    return _fill((1, _word(plant.fuel_rate_l_h(t), 0.05)))  # SPN 183


def _inlet(plant: Plant, t: float) -> bytes:
    return _fill((2, _byte(plant.boost_kpa(t), 2.0)), (3, _byte(plant.intake_c(t), 1.0, -40.0)))  # SPN 102, 105


def _engine_fluids(plant: Plant, t: float) -> bytes:
    fuel_kpa = 420.0 if plant.running(t) else 0.0
    return _fill(
        (1, _byte(fuel_kpa, 4.0)),  # SPN 94
        (3, _byte(91.0, 0.4)),  # SPN 98
        (4, _byte(plant.oil_kpa(t), 4.0)),  # SPN 100
        (8, _byte(96.0, 0.4)),  # SPN 111
    )


def _engine_temperatures(plant: Plant, t: float) -> bytes:
    coolant, fuel = _byte(plant.coolant_c(t), 1.0, -40.0), _byte(plant.fuel_c(t), 1.0, -40.0)
    return _fill((1, coolant), (2, fuel), (3, _kelvin(plant.oil_c(t))))  # SPN 110, 174, 175


def _ambient(plant: Plant, t: float) -> bytes:
    inlet = _byte(plant.ambient_c + (6.0 if plant.running(t) else 0.2), 1.0, -40.0)
    return _fill((1, _byte(plant.barometric_kpa, 0.5)), (4, _kelvin(plant.ambient_c)), (6, inlet))  # SPN 108, 171, 172


def _electrical(plant: Plant, t: float) -> bytes:
    volts = plant.battery_now_v(t)
    return _fill((5, _word(volts, 0.05)), (7, _word(volts - 0.1, 0.05)))  # SPN 168, 158


def _turbocharger(plant: Plant, t: float) -> bytes:
    return _fill((2, _word(plant.rpm(t) * 38.0, 4.0)))  # SPN 103; memory


def _transmission_1(plant: Plant, t: float) -> bytes:
    engaged = 0xCD if plant.road and not plant.shifting(t) else 0xCC
    output, into = plant.speed_kmh(t) * 19.4, plant.rpm(t) * (1.0 if plant.road else 0.0)
    return _fill((1, engaged), (2, _word(output, 0.125)), (4, 0), (6, _word(into, 0.125)), (8, 3))  # SPN 191, 161


def _transmission_2(plant: Plant, _t: float) -> bytes:
    gear = _GEAR if plant.road else 0
    now = b"D " if plant.road else b"N "
    return _fill((1, gear + 125), (2, _word(1.0, 0.001)), (4, gear + 125), (5, now), (7, now))  # SPN 524, 526, 523


def _transmission_fluids(plant: Plant, t: float) -> bytes:
    return _fill((5, _kelvin(plant.transmission_oil_c(t))))  # SPN 177


def _torque_request(plant: Plant, t: float) -> bytes:
    return _fill((1, 0xE2), (2, _word(8031.875, 0.125)), (4, _byte(plant.torque_percent(t) * 0.5, 1.0, -125.0)))


def _brakes_1(plant: Plant, t: float) -> bytes:
    return _fill((1, 0xC0), (2, 0 if plant.road else _byte(20.0 + plant.wave(t, 5.0, 4.0), 0.4)), (6, 0xF4))


def _brakes_2(plant: Plant, t: float) -> bytes:
    return _fill((1, _word(plant.speed_kmh(t), 1 / 256)), (3, b"\x7d" * 6))  # SPN 904 to 910


def _brakes_5(_plant: Plant, _t: float) -> bytes:
    return _fill((1, 0xCF), (2, 0xF0))


def _stability(plant: Plant, t: float) -> bytes:
    swing = plant.wave(t, 3.1, 0.12 if plant.road else 0.0)
    return _fill(  # SPN 1807, 1808, 1809, 1810; memory
        (1, _word(swing, 1 / 1024, -31.374)),
        (4, _word(swing / 9.0, 1 / 8192, -3.92)),
        (6, _word(swing * 2.0, 1 / 2048, -15.687)),
        (8, _byte(plant.wave(t, 6.7, 0.3 if plant.road else 0.0), 0.1, -12.5)),
    )


def _wheels(plant: Plant, t: float) -> bytes:
    speed = plant.speed_kmh(t)
    uneven = (0.0, 0.07, -0.05, 0.02) if plant.road else (0.0,) * 4
    return b"".join(_word(speed + extra + plant.wave(t, 0.4, extra), 1 / 256) for extra in uneven)  # memory


def _engine_7(_plant: Plant, _t: float) -> bytes:
    return _fill((1, _word(0.0, 0.0025)))  # SPN 27: EGR valve closed; memory


def _transmission_7(plant: Plant, _t: float) -> bytes:
    return _fill((1, 0xF3 if plant.road else 0xF0))  # memory


def _stability_1(_plant: Plant, _t: float) -> bytes:
    return _fill((1, 0xF0), (2, 0xC0))  # memory


def _retarder(_plant: Plant, _t: float) -> bytes:
    return _fill((1, 0xF0), (2, _byte(0.0, 1.0, -125.0)), (4, 0x0F))  # SPN 520; memory


def _retarder_fluids(plant: Plant, t: float) -> bytes:
    return _fill((2, _byte(plant.transmission_oil_c(t), 1.0, -40.0)))  # SPN 120; memory


def _distance(plant: Plant, t: float) -> bytes:
    metres = 312_450_000 + int(plant.speed_kmh(t) / 3.6 * t)
    return _fill((1, (metres // 5).to_bytes(4, "little")), (5, (metres // 5 % 40_000).to_bytes(4, "little")))  # SPN 917


def _dash(_plant: Plant, _t: float) -> bytes:
    return _fill((2, _byte(63.0, 0.4)))  # SPN 96


def _air_supply(plant: Plant, t: float) -> bytes:
    kpa = 860.0 + plant.wave(t, 40.0, 25.0) if plant.running(t) else 640.0
    return _fill((1, _byte(kpa, 8.0)), (3, _byte(kpa, 8.0)), (4, _byte(kpa - 8.0, 8.0)))  # SPN 46, 1087, 1088; memory


def _lighting(plant: Plant, t: float) -> bytes:
    blinking = plant.road and t % 11.0 < 3.0 and t % 0.8 < 0.4
    return _fill((1, 0xC4 if plant.road else 0xC0), (2, 0xC4 if blinking else 0xC0))


def _cruise(plant: Plant, t: float) -> bytes:
    brake = 0xFC if plant.road else 0xF3
    return _fill((1, brake), (2, _word(plant.speed_kmh(t), 1 / 256)), (4, 0xC0), (6, 0), (7, 0x1F), (8, 0xCF))  # SPN 84


def _cab(_plant: Plant, _t: float) -> bytes:
    return _fill((1, 0), (3, _byte(40.0, 0.4)))


def _clock(_plant: Plant, t: float) -> bytes:
    """Time and date as the recorder's own clock begins: 22:13:20 on 14 November 2023 (SPN 959-964, 1601, 1602)."""
    seconds = int(t) + 20
    minutes = 13 + seconds // 60
    return bytes([seconds % 60 * 4, minutes % 60, 22 + minutes // 60, 11, 14 * 4, 2023 - 1985, 125, 125])


PAYLOADS: dict[int, Payload] = {
    0: _torque_request,
    57344: _cab,
    61440: _retarder,
    61441: _brakes_1,
    61442: _transmission_1,
    61443: _engine_2,
    61444: _engine_1,
    61445: _transmission_2,
    61449: _stability,
    61450: _gas_flow,
    64916: _engine_7,
    64964: _brakes_5,
    65088: _lighting,
    65098: _transmission_7,
    65103: _stability_1,
    65134: _wheels,
    65198: _air_supply,
    65215: _brakes_2,
    65217: _distance,
    65245: _turbocharger,
    65247: _engine_3,
    65254: _clock,
    65262: _engine_temperatures,
    65263: _engine_fluids,
    65265: _cruise,
    65266: _fuel_economy,
    65269: _ambient,
    65270: _inlet,
    65271: _electrical,
    65272: _transmission_fluids,
    65275: _retarder_fluids,
    65276: _dash,
}
