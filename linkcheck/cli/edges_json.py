"""The JSON of `linkcheck edges`: SI units with the unit in each name; None where a figure is infinite or not there."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from linkcheck.physical.account import Account, reasons
from linkcheck.traffic.result import Finding
from linkcheck.verdict.waveform import SCHEMA, WaveformReading

__all__ = ["account_json", "waveform_json"]


def account_json(found: Account) -> dict[str, Any]:
    """Schema linkcheck.edges/1: the bus, the verdict, the limits, other terminators, the plotted edge."""
    plain: dict[str, Any] = _finite(
        {
            "schema": "linkcheck.edges/1",
            "bus": asdict(found.bus),
            "bit": asdict(found.bit),
            "given": asdict(found.given),
            "others": [asdict(each) for each in found.others],
            "longest_stub_m": found.longest_stub_m,
            "stub_rule_m": found.stub_rule_m,
            "slowest_fall": {
                "from_node": found.fall_from,
                "to_node": found.fall_to,
                "step_s": found.step_s,
                "volts": [round(float(volts), 4) for volts in found.fall_volts],
            },
            "reasons": reasons(found),
        }
    )
    return plain


def waveform_json(
    path: str, reading: WaveformReading, findings: Sequence[Finding], notes: Sequence[str]
) -> dict[str, Any]:
    """Schema linkcheck.waveform/1: what was read, without the samples themselves."""
    wave = reading.wave
    fields = ("swapped", "bit_rate", "nominal_bit_rate", "decay_s", "terminators")
    plain: dict[str, Any] = _finite(
        {
            "schema": SCHEMA,
            "source": {"path": path, "samples": len(wave.high_volts), "step_s": wave.step_s, "notes": list(notes)},
            **{name: getattr(reading, name) for name in fields},
            "recessive": asdict(reading.recessive) if reading.recessive else None,
            "dominant": asdict(reading.dominant) if reading.dominant else None,
            "fall": asdict(reading.fall) if reading.fall else None,
            "senders": [asdict(row) for row in reading.senders],
            "frames": [{**asdict(row), "data": row.data.hex().upper()} for row in reading.frames],
            "findings": [asdict(finding) for finding in findings],
        }
    )
    return plain


def _finite(value: Any) -> Any:  # noqa: ANN401  any JSON value
    """The same with None for what JSON cannot say."""
    if isinstance(value, dict):
        return {key: _finite(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(each) for each in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value
