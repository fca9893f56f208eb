"""What the figures are held against, each with its source. Shared by the tests, the sheet and the documentation."""

from __future__ import annotations

__all__ = [
    "COMMON",
    "LATENCY_MAX_MS",
    "LATENCY_P99_MS",
    "LOAD_RECEIVE",
    "LOAD_SEND",
    "LONGEST_GAP_S",
    "SUPPLY_LEAST_V",
    "SUPPLY_MOST_V",
    "SUPPLY_SOURCE",
    "TERMINATION_LEAST_OHMS",
    "TERMINATION_SOURCE",
    "TRANSPORT_GAP_S",
    "TRANSPORT_SOURCE",
]

COMMON = "common practice, no source"

LOAD_RECEIVE = 0.95  # share of the bit rate an adapter must take in without loss; the rest is the partner's pauses
LOAD_SEND = 0.5  # a tool sends far less than a whole bus
LATENCY_P99_MS = 50.0
LATENCY_MAX_MS = 200.0  # a module waits no longer for an answer: SAE J1939-21, Tr
LONGEST_GAP_S = 1.0

TRANSPORT_GAP_S = 0.05
TRANSPORT_SOURCE = "SAE J1939-21: 50 to 200 ms between packets of a broadcast, at most 1785 bytes"

SUPPLY_LEAST_V, SUPPLY_MOST_V = 9.0, 32.0
SUPPLY_SOURCE = "ISO 16750-2 supply ranges of 12 V and 24 V vehicles, from memory"

TERMINATION_LEAST_OHMS = 5_000.0
TERMINATION_SOURCE = "ISO 11898-2:2003, differential input resistance 10 to 100 kohm; half for the meter's sake"
