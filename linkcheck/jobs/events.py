"""What can happen to a job, as values: the walk's own events and everything beside them.

An entry of a job is one of these with its number, time and note. Entries are only ever added: what is taken back,
corrected or deleted stays visible with the entry that did it. The tags are the `type` of the JSON form
(`linkcheck.job/1`) and of the store's rows; renaming one takes a migration.
"""

from __future__ import annotations

from datetime import datetime
from typing import Literal

import msgspec

from linkcheck.jobs.traffic_summary import TrafficSummary
from linkcheck.walk.messages import Answer, Back, Repaired, Setup, Skip

__all__ = [
    "CauseConfirmed",
    "CautionsRead",
    "Corrected",
    "Deleted",
    "Entry",
    "FindingTaken",
    "Intake",
    "JobEvent",
    "Lost",
    "Note",
    "Photo",
    "ShopCauses",
    "Technician",
    "Tools",
    "TrafficAttached",
    "Undeleted",
    "WalkEvent",
    "When",
    "Withdrawn",
    "Worded",
    "WordedPart",
    "kind_of",
    "read_body",
    "write_body",
]

When = Literal["before", "after"]
WordedPart = Literal["complaint", "cause", "correction", "confirmation"]


class Intake(msgspec.Struct, frozen=True, tag="intake", omit_defaults=True, forbid_unknown_fields=True):
    """What the job is about. The first entry of every job; a later one replaces it.

    Attributes:
        unit: unit number or plate, as the shop says it.
        complaint: in the driver's words.
        connector: name or path of the pinout.
        system_volts: 12 or 24.
        bit_rate: of the CAN pair, in bit/s; the pinout's own where not given.
        j1708, shield: whether the truck has them; None for a shield nobody knows of.
        odometer: as read, with its unit ("412300 km"); empty where nobody read it.

    """

    unit: str
    complaint: str = ""
    connector: str = "9-pin-type-1"
    system_volts: float = 12.0
    bit_rate: int | None = None
    j1708: bool = True
    shield: bool | None = None
    odometer: str = ""

    def setup(self, *, max_checks: int = 25, by_eye: bool = True, seed: int = 1) -> Setup:
        """A walk on this truck."""
        return Setup(
            pinout=self.connector,
            system_volts=self.system_volts,
            bit_rate=self.bit_rate,
            j1708=self.j1708,
            shield=self.shield,
            max_checks=max_checks,
            by_eye=by_eye,
            seed=seed,
        )


class Corrected(msgspec.Struct, frozen=True, tag="corrected", omit_defaults=True, forbid_unknown_fields=True):
    """The answer of entry `of` was read or typed wrongly; this is what it should be."""

    of: int
    text: str
    span: float = 0.0


class Withdrawn(msgspec.Struct, frozen=True, tag="withdrawn", forbid_unknown_fields=True):
    """Entry `of` (a note, a photo, a correction; not a reading, which `Back` takes back) does not count any more."""

    of: int


class Note(msgspec.Struct, frozen=True, tag="note", forbid_unknown_fields=True):
    """Free text."""

    text: str


class Photo(msgspec.Struct, frozen=True, tag="photo", omit_defaults=True, forbid_unknown_fields=True):
    """Where a picture lies, and what it shows. The picture itself is not kept here."""

    path: str
    caption: str = ""


class Tools(msgspec.Struct, frozen=True, tag="tools", omit_defaults=True, forbid_unknown_fields=True):
    """The meter and the adapter used, in the technician's words."""

    meter: str = ""
    adapter: str = ""


class Technician(msgspec.Struct, frozen=True, tag="technician", forbid_unknown_fields=True):
    """Who works on it from now on; empty for nobody named."""

    name: str


class CautionsRead(msgspec.Struct, frozen=True, tag="cautions_read", forbid_unknown_fields=True):
    """These cautions were acknowledged."""

    texts: list[str]


class TrafficAttached(msgspec.Struct, frozen=True, tag="traffic", forbid_unknown_fields=True):
    """A capture taken before or after the repair, as far as the report needs it; the last of each counts."""

    when: When
    summary: TrafficSummary


class FindingTaken(msgspec.Struct, frozen=True, tag="finding_taken", omit_defaults=True, forbid_unknown_fields=True):
    """A finding of the traffic that the technician took into the job."""

    channel: str
    finding: str
    text: str
    check_next: str = ""


class CauseConfirmed(msgspec.Struct, frozen=True, tag="cause_confirmed", forbid_unknown_fields=True):
    """The cause as it was proven: ids of the faults, and the same in words."""

    faults: list[str]
    text: str


class ShopCauses(msgspec.Struct, frozen=True, tag="shop_causes", forbid_unknown_fields=True):
    """How often each fault had been confirmed in this shop when the walk began: what its odds were sharpened with."""

    counts: dict[str, int]


class Worded(msgspec.Struct, frozen=True, tag="worded", forbid_unknown_fields=True):
    """A part of the write-up put into the technician's own words; empty text goes back to the program's."""

    part: WordedPart
    text: str


class Deleted(msgspec.Struct, frozen=True, tag="deleted", forbid_unknown_fields=True):
    """The job is out of the list."""


class Undeleted(msgspec.Struct, frozen=True, tag="undeleted", forbid_unknown_fields=True):
    """The job is back in the list."""


class Lost(msgspec.Struct, frozen=True, tag="lost", forbid_unknown_fields=True):
    """An entry that a rescue could not read stood here."""


WalkEvent = Setup | Answer | Skip | Back | Repaired
JobEvent = (
    WalkEvent
    | Intake
    | Corrected
    | Withdrawn
    | Note
    | Photo
    | Tools
    | Technician
    | CautionsRead
    | TrafficAttached
    | FindingTaken
    | CauseConfirmed
    | ShopCauses
    | Worded
    | Deleted
    | Undeleted
    | Lost
)
_DECODER: msgspec.json.Decoder[JobEvent] = msgspec.json.Decoder(JobEvent)


class Entry(msgspec.Struct, frozen=True, omit_defaults=True, forbid_unknown_fields=True):
    """One entry of a job: its number from 1, when it was made (UTC), what happened, and a free note."""

    n: int
    at: datetime
    event: JobEvent
    note: str = ""


def kind_of(event: JobEvent) -> str:
    """The event's tag."""
    return str(event.__struct_config__.tag)


def write_body(event: JobEvent) -> str:
    """An event as the JSON text of a row."""
    return msgspec.json.encode(event).decode()


def read_body(body: str | bytes) -> JobEvent:
    """An event from the JSON text of a row.

    Raises:
        msgspec.MsgspecError: it is none.

    """
    return _DECODER.decode(body)
