"""The bus as a line: waves, edges, margins, and what a scope's trace shows. Pure: values in, values out, no files."""

from linkcheck.physical.bus import Bus, Cable, Driver, Station, Terminator, even_bus

__all__ = ["Bus", "Cable", "Driver", "Station", "Terminator", "even_bus"]
