"""An invented truck to practise on: its bus, its modules, and scenarios with something hidden in their traffic."""

from linkcheck.practice.recording import START_NS, Recording
from linkcheck.practice.scenarios import SCENARIOS, Scenario, simulate
from linkcheck.practice.truth import Truth

__all__ = ["SCENARIOS", "START_NS", "Recording", "Scenario", "Truth", "simulate"]
