"""Files to frames: every format becomes `FrameBatch`, every line is accounted for."""

from linkcheck.readers.capture import Capture, Skip, Tally
from linkcheck.readers.open import open_capture
from linkcheck.readers.order import regroup

__all__ = ["Capture", "Skip", "Tally", "open_capture", "regroup"]
