"""J1708/J1587, the older serial link on the connector: stamped bytes in, values out. No files, no ports, no clock.

Bytes become bursts (`framing`), bursts messages or damage (`messages`), messages parameters (`parameters`), names,
figures and fault lists (`mids`, `pids`, `fault_list`); `link` counts it all.
"""

from linkcheck.j1708.checksum import checksum, is_sound

__all__ = ["checksum", "is_sound"]
