"""Files to frames: every format becomes `FrameBatch`, every line is accounted for."""

from linkcheck.readers.capture import Capture, Skip, Tally

__all__ = ["Capture", "Skip", "Tally"]
