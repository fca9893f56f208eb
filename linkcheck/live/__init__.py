"""Live buses to frames: ports, their drivers, reception in a process of its own. Touches devices and clocks."""
