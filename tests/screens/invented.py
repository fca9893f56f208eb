"""Invented sheets and reports to draw: figures of no truck, so that pictures change only when drawing does."""

from screens.look import START

from linkcheck.jobs.sheet import ReadingLine, Sheet, Suspect
from linkcheck.report.content import Band, Figure, ReadingRow
from linkcheck.walk.checks import CHECKS
from linkcheck.walk.messages import Card, Finding

SUSPECTS = (
    Suspect("One terminator missing or not connected", 0.62),
    Suspect("Both wires of the backbone broken or a backbone connector apart", 0.21),
    Suspect("CAN high of the backbone broken", 0.08),
    Suspect("Nothing wrong with the data link now", 0.004),
)
READINGS = (
    ReadingLine("listen:own", "own adapter listening", "key on, your adapter plugged in", "errors", "frames", "other"),
    ReadingLine("volts:B-A:key_off", "volts B to A", "key off", "12.52 V", "12.20 to 12.90 V", "sound"),
    ReadingLine("ohms:C-D:dead", "ohms C to D", "battery off", "120.4 ohm", "57.0 to 63.0 ohm", "high"),
)
EVIDENCE = (
    "for      ohms C to D: 120.4 ohm (it would make about 120 ohm)",
    "against  own adapter listening: errors (it would make frames)",
)
WHY = 'It would read, with "One terminator missing or not connected" about 2.62 V; with "CAN high broken" about 2.50 V.'


def finding(confirmed):
    return Finding(
        faults=[{"fault": "terminator_missing", "probability": 0.97, "parameters": {"ohms": 120.4}}],
        confirmed=confirmed,
        readings=3,
        minutes=9.5,
        repair="Fit the missing terminator.",
        root_cause="One terminator missing: look for a plug left off after work.",
        then=["After the repair read again: ohms C to D."],
        none_of_these=0.01,
        complaint="The adapter hears errors only.",
        cause="One terminator missing or not connected. Proven by ohms C to D 120.4 ohm.",
        correction="Look at both ends of the backbone.",
        confirmation="Not repaired yet: take the same readings again afterwards.",
    )


def sheet(check=None, **changes):
    """A sheet that asks for a check; None: it has found something."""
    card = None
    if check is not None:
        asked = CHECKS[check]
        card = Card(
            n=4,
            id=check,
            quantity=asked.quantity,
            red=asked.red,
            black=asked.black,
            state={},
            do=changes.pop(
                "do",
                [
                    "Connect the batteries again.",
                    "Turn the key on.",
                    "DC volts: red lead to cavity C, black lead to cavity A.",
                ],
            ),
            expect=changes.pop("expect", {"low": 2.5, "high": 3.0, "unit": "V"}),
            minutes=1.3,
            why=WHY,
        )
    drawn = {
        "check": None if check is None else CHECKS[check],
        "card": card,
        "red": "",
        "black": "",
        "words": (),
        "cautions": (),
        "suspects": SUSPECTS,
        "none_of_these": 0.02,
        "leader": SUSPECTS[0].title,
        "evidence": EVIDENCE,
        "readings": READINGS,
        "before": (),
        "compared": (),
        "finding": finding(confirmed=check is None),
        "repairable": ("terminator_missing",),
    }
    return Sheet(**(drawn | changes))


def reading_rows():
    """Readings of a report, before and after a repair."""

    def figure(words, value, verdict):
        return Figure(words, value, words, verdict, START)

    return [
        ReadingRow(
            "ohms:C-D:dead", "ohms", "cavity C", "cavity D", "battery off", Band("57.0 to 63.0 ohm", 57.0, 63.0, "ohm"),
            [[figure("120.4 ohm", 120.4, "high")], [figure("60.2 ohm", 60.2, "ok")]], proof=True,
        ),
        ReadingRow(
            "listen:own", "adapter listening", "", "", "key on", Band("frames", shows="frames"),
            [[figure("errors", None, "other")], []], proof=False,
        ),
    ]  # fmt: skip
