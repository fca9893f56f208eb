"""Parameter groups by number: a plain short name and, where one is published, the nominal period.

A table and two look-ups; layouts of signals are in `signals.dbc`. Names paraphrase the standard titles as public lists
of parameter groups give them. Periods are those of SAE J1939-71 as given in open teaching material (SystemsCyber/
CyberTruckResources, Jupyter/J1939db.json, commit 46c16ec2); rows marked "memory" were not re-read. Real controllers run
up to 10 % off nominal, and some groups have several legal periods: a period here is a hint about what to expect, never
a limit.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = [
    "ACKNOWLEDGEMENT",
    "ADDRESS_CLAIM",
    "COMMANDED_ADDRESS",
    "DM1",
    "DM2",
    "DM3",
    "DM11",
    "DM13",
    "MESSAGES",
    "REQUEST",
    "TP_CM",
    "TP_DT",
    "Message",
    "nominal_period_ms",
    "pgn_name",
]

DM13 = 57088
ACKNOWLEDGEMENT = 59392
REQUEST = 59904
TP_DT = 60160
TP_CM = 60416
ADDRESS_CLAIM = 60928
DM1 = 65226
DM2 = 65227
DM3 = 65228
DM11 = 65235
COMMANDED_ADDRESS = 65240


@dataclass(frozen=True, slots=True)
class Message:
    """A parameter group.

    Attributes:
        pgn: its number. name: a plain short name.
        period_ms: nominal period; None when sent on request, on an event, at a rate that follows engine speed, or at
            one not stated here.

    """

    pgn: int
    name: str
    period_ms: float | None = None


MESSAGES: dict[int, Message] = {
    message.pgn: message
    for message in (
        Message(0, "torque and speed control 1"),
        Message(256, "transmission control 1"),
        Message(1024, "external brake request"),
        Message(55040, "binary data transfer (DM16)"),
        Message(55296, "memory access answer (DM15)"),
        Message(55552, "memory access request (DM14)"),
        Message(DM13, "start and stop broadcasts (DM13)"),
        Message(57344, "cab message 1"),
        Message(58112, "command a test (DM7)"),
        Message(ACKNOWLEDGEMENT, "acknowledgement"),
        Message(REQUEST, "request"),
        Message(TP_DT, "transport, data"),
        Message(TP_CM, "transport, connection management"),
        Message(ADDRESS_CLAIM, "address claim"),
        Message(61184, "proprietary, addressed"),
        Message(61440, "electronic retarder controller 1", 100),
        Message(61441, "electronic brake controller 1", 100),
        Message(61442, "electronic transmission controller 1", 10),
        Message(61443, "electronic engine controller 2", 50),
        Message(61444, "electronic engine controller 1"),  # 10 to 100 ms, follows engine speed
        Message(61445, "electronic transmission controller 2", 100),
        Message(61449, "vehicle dynamic stability control 2", 10),
        Message(61450, "engine gas flow rate", 50),
        Message(61452, "electronic transmission controller 8"),
        Message(61454, "aftertreatment 1 intake gas", 50),
        Message(61455, "aftertreatment 1 outlet gas", 50),
        Message(64796, "particulate filter 1 soot"),
        Message(64800, "aftertreatment 1 oxidation catalyst"),
        Message(64828, "aftertreatment 1 fluid supply"),
        Message(64830, "aftertreatment 1 catalyst gas temperatures"),
        Message(64831, "aftertreatment 1 catalyst gas pressures"),
        Message(64832, "aftertreatment 1 dosing requests 2"),
        Message(64833, "aftertreatment 1 dosing 2"),
        Message(64879, "electronic engine controller 8"),
        Message(64891, "aftertreatment 1 service"),
        Message(64892, "particulate filter control 1"),
        Message(64899, "transfer case"),
        Message(64908, "aftertreatment 1 gas parameters"),
        Message(64914, "engine operating information"),
        Message(64916, "electronic engine controller 7"),
        Message(64917, "transmission fluids 2"),
        Message(64923, "aftertreatment 1 fluid information"),
        Message(64929, "aftertreatment 1 fuel control 1"),
        Message(64931, "electronic engine controller 6"),
        Message(64946, "aftertreatment 1 intermediate gas"),
        Message(64947, "aftertreatment 1 outlet gas 2"),
        Message(64948, "aftertreatment 1 intake gas 2"),
        Message(64964, "electronic brake controller 5"),
        Message(64965, "controller identification"),
        Message(64966, "cold start aids"),
        Message(64976, "inlet and exhaust conditions 2"),
        Message(64981, "electronic engine controller 5"),
        Message(64997, "maximum vehicle speed limit"),
        Message(65031, "exhaust temperature"),
        Message(65088, "lighting"),
        Message(65089, "lighting command"),
        Message(65098, "electronic transmission controller 7"),
        Message(65103, "vehicle dynamic stability control 1", 100),  # memory
        Message(65104, "battery temperature"),
        Message(65105, "adaptive cruise control, operator"),
        Message(65106, "vehicle electrical power 3"),
        Message(65110, "aftertreatment fluid tank 1"),
        Message(65112, "air suspension control 4"),
        Message(65129, "engine temperatures 3"),
        Message(65131, "driver identification"),
        Message(65132, "tachograph"),
        Message(65134, "wheel speeds, high resolution", 20),  # memory
        Message(65135, "adaptive cruise control 1", 100),  # memory
        Message(65165, "vehicle electrical power 2"),
        Message(65170, "engine information 1", 100),
        Message(65171, "engine electrical system", 100),
        Message(65174, "turbocharger wastegate", 100),
        Message(65177, "turbocharger information 3", 1000),
        Message(65178, "turbocharger information 2", 1000),
        Message(65179, "turbocharger information 1", 1000),
        Message(65188, "engine temperatures 2", 1000),
        Message(65190, "intake manifold 1", 500),
        Message(65191, "alternator temperature", 1000),
        Message(65197, "wheel application pressures", 100),
        Message(65198, "air supply pressure", 1000),
        Message(65203, "fuel information 1"),
        Message(65213, "fan drive 1", 1000),
        Message(65214, "electronic engine controller 4"),
        Message(65215, "wheel speeds", 100),
        Message(65216, "service information"),
        Message(65217, "vehicle distance, high resolution", 1000),
        Message(DM1, "active trouble codes (DM1)", 1000),
        Message(DM2, "previously active trouble codes (DM2)"),
        Message(DM3, "clear previously active codes (DM3)"),
        Message(65229, "freeze frame (DM4)"),
        Message(65230, "diagnostic readiness (DM5)"),
        Message(65231, "pending emission codes (DM6)"),
        Message(DM11, "clear active codes (DM11)"),
        Message(65236, "active emission codes (DM12)"),
        Message(65237, "alternator", 1000),
        Message(COMMANDED_ADDRESS, "commanded address"),
        Message(65242, "software identification"),
        Message(65243, "engine fluid level and pressure 2", 500),
        Message(65244, "idle operation"),
        Message(65245, "turbocharger", 1000),
        Message(65247, "electronic engine controller 3", 250),
        Message(65248, "vehicle distance", 100),
        Message(65249, "retarder configuration", 5000),
        Message(65250, "transmission configuration"),
        Message(65251, "engine configuration", 5000),
        Message(65252, "shutdown", 1000),
        Message(65253, "engine hours and revolutions"),
        Message(65254, "time and date"),
        Message(65255, "vehicle hours"),
        Message(65256, "vehicle direction and speed"),
        Message(65257, "fuel used"),
        Message(65259, "component identification"),
        Message(65260, "vehicle identification"),
        Message(65261, "cruise control and speed limits"),
        Message(65262, "engine temperatures 1", 1000),
        Message(65263, "engine fluid level and pressure 1", 500),
        Message(65264, "power takeoff", 100),
        Message(65265, "cruise control and vehicle speed 1", 100),
        Message(65266, "fuel economy", 100),
        Message(65267, "vehicle position", 5000),
        Message(65268, "tire condition", 10000),
        Message(65269, "ambient conditions", 1000),
        Message(65270, "inlet and exhaust conditions 1", 500),
        Message(65271, "vehicle electrical power 1", 1000),
        Message(65272, "transmission fluids 1", 1000),
        Message(65273, "axle information", 1000),
        Message(65274, "brakes", 1000),
        Message(65275, "retarder fluids", 1000),
        Message(65276, "dash display", 1000),
        Message(65279, "water in fuel", 10000),  # memory
    )
}


def pgn_name(pgn: int) -> str:
    """Plain short name of a group; "PGN 64000" where the table has none."""
    if pgn in MESSAGES:
        return MESSAGES[pgn].name
    if 65280 <= pgn <= 65535:
        return "proprietary, to everyone"
    return f"PGN {pgn}"


def nominal_period_ms(pgn: int) -> float | None:
    """Published period of a group in milliseconds, or None where there is none to expect."""
    message = MESSAGES.get(pgn)
    return message.period_ms if message else None
