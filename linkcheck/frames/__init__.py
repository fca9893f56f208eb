"""Frames as columns, and their exact length on the wire. Pure: no files, no buses, no clocks."""

from linkcheck.frames.batch import BRS, ERROR, ESI, EXTENDED, FD, REMOTE, SENT, FrameBatch
from linkcheck.frames.track import Marks, Tracker, wire_bits

__all__ = ["BRS", "ERROR", "ESI", "EXTENDED", "FD", "REMOTE", "SENT", "FrameBatch", "Marks", "Tracker", "wire_bits"]
