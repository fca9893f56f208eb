"""Connectors and vehicles as tables: read from TOML, checked, drawn. Light at the door: pint is loaded with a file."""

from linkcheck.pinout.cautions import CAUTIONS
from linkcheck.pinout.face import draw_faces
from linkcheck.pinout.load import (
    find_pinout,
    list_pinouts,
    load_file,
    load_pinout,
    load_vehicle,
    shipped_folder,
    user_folder,
)
from linkcheck.pinout.schema import (
    Caution,
    Cavity,
    Check,
    Fuse,
    Module,
    Network,
    Pinout,
    Role,
    Terminator,
    Vehicle,
    Wire,
)

__all__ = [
    "CAUTIONS",
    "Caution",
    "Cavity",
    "Check",
    "Fuse",
    "Module",
    "Network",
    "Pinout",
    "Role",
    "Terminator",
    "Vehicle",
    "Wire",
    "draw_faces",
    "find_pinout",
    "list_pinouts",
    "load_file",
    "load_pinout",
    "load_vehicle",
    "shipped_folder",
    "user_folder",
]
