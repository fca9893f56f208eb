"""Frames as columns, and their exact length on the wire. Pure: no files, no buses, no clocks."""

from linkcheck.frames.batch import BRS, ERROR, ESI, EXTENDED, FD, REMOTE, SENT, FrameBatch

__all__ = ["BRS", "ERROR", "ESI", "EXTENDED", "FD", "REMOTE", "SENT", "FrameBatch"]
