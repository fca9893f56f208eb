"""The analysis of a bus, recorded or live: batches in, one result out. Knows no files and no screens."""

from linkcheck.traffic.engine import Analysis, Marked
from linkcheck.traffic.options import Options
from linkcheck.traffic.result import SCHEMA, ChannelResult, Finding, TrafficResult

__all__ = ["SCHEMA", "Analysis", "ChannelResult", "Finding", "Marked", "Options", "TrafficResult"]
