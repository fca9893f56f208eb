"""What each line of the sheet means for somebody who wants to trust an adapter. Words only; common practice, no source.

Rows are found by how their short name begins, so that a row per bit rate or direction needs no words of its own.
"""

from __future__ import annotations

from linkcheck.bench.result import Row

__all__ = ["meaning"]

_WORDS = {
    "opens": "If it does not open, or takes the bit rate without confirming it, nothing it shows can be trusted.",
    "termination": "A terminator inside the adapter changes every ohms reading and loads a bus that has two already.",
    "tells_status": "Without its status, an adapter that has gone off the bus looks like a bus that is quiet.",
    "acknowledges": "A lone module needs somebody to acknowledge. An adapter that does not makes it seem faulty.",
    "kinds": "A kind of frame that is lost or changed is missing from every capture made with this adapter.",
    "own_echo": "Own frames that come back as received ones look like a second module with the same address.",
    "load": "What is lost at full load is lost on a busy truck as well, and looks like a module that falls silent.",
    "latency": "Late frames break requests that wait for an answer, and programming of modules.",
    "time_stamps": "Message periods and gaps are worked out from these. Wrong stamps show gaps that are not there.",
    "alone": "With nobody to acknowledge it must say so, and go on once somebody is there.",
    "listens_only": "If it is not silent when it says so, listening already changes what is on the vehicle's bus.",
    "wrong_rate": "Listening at the wrong rate must show errors and disturb nobody.",
    "long_message": "Fault codes and identifications come in packets. One lost packet loses the whole message.",
    "bus_off": "After a short it must come back; otherwise a repaired truck still looks dead.",
    "supply": "Cranking pulls the supply down. An adapter that resets then loses what matters most.",
    "replug": "A loss that is not noticed looks like a silent bus.",
    "soak": "Faults that come once in an hour show only in a long run.",
}


def meaning(row: Row) -> str:
    """What a row is about, in a sentence or two; empty for one that is not known."""
    return next((words for name, words in _WORDS.items() if row.row.startswith(name)), "")
