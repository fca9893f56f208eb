"""SAE J1939 above the frame: identifiers, transport, names, trouble codes, signals. Pure: values in, values out."""

from linkcheck.j1939.addresses import address_name
from linkcheck.j1939.claims import Claim, Claims, Contest
from linkcheck.j1939.identifier import GLOBAL, NULL, Identifier, destinations, join, pgns, sources, split
from linkcheck.j1939.messages import nominal_period_ms, pgn_name
from linkcheck.j1939.name import Name
from linkcheck.j1939.network_codes import NETWORK_SPNS, network_meaning
from linkcheck.j1939.parameter_names import spn_name
from linkcheck.j1939.requests import Exchange, Requests
from linkcheck.j1939.signals import Decoded, SignalSpec, SignalTable, signal_table
from linkcheck.j1939.transport import Reassembly
from linkcheck.j1939.transport_events import Aborted, Completed, Event, Incomplete, Superseded, TimedOut
from linkcheck.j1939.trouble_codes import Report, TroubleCode, decode_report, fmi_text

__all__ = [
    "GLOBAL",
    "NETWORK_SPNS",
    "NULL",
    "Aborted",
    "Claim",
    "Claims",
    "Completed",
    "Contest",
    "Decoded",
    "Event",
    "Exchange",
    "Identifier",
    "Incomplete",
    "Name",
    "Reassembly",
    "Report",
    "Requests",
    "SignalSpec",
    "SignalTable",
    "Superseded",
    "TimedOut",
    "TroubleCode",
    "address_name",
    "decode_report",
    "destinations",
    "fmi_text",
    "join",
    "network_meaning",
    "nominal_period_ms",
    "pgn_name",
    "pgns",
    "signal_table",
    "sources",
    "split",
    "spn_name",
]
