"""Live buses to frames: ports, their drivers, reception in a process of its own. Touches devices and clocks."""

from linkcheck.live.port import Counters, Port, PortEvent, PortFacts, PortLostError, PortRefusedError, PortSpec, Silence

__all__ = ["Counters", "Port", "PortEvent", "PortFacts", "PortLostError", "PortRefusedError", "PortSpec", "Silence"]
