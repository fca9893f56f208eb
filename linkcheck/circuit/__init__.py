"""The data link as a circuit: sampled trucks, the states they are put in, and what a meter or an adapter then shows.

Trucks (`sample_trucks`) in a `State` make a `Situation`, which answers volts, ohms and what the adapter shows;
`measure` does that for many readings at once. Faults are knobs on the trucks (`KNOBS`, `turn`). Nothing here judges:
what a reading means is for the diagnosis.
"""

from linkcheck.circuit.hearing import ACTIVITIES, SHOWS
from linkcheck.circuit.knob_table import KNOBS
from linkcheck.circuit.knobs import Bridge, Change, Knob, Turned, turn
from linkcheck.circuit.parameter import OPEN, Parameter
from linkcheck.circuit.probes import CAVITIES, MODULES, POINTS, TERMINATORS, cavity_of_role
from linkcheck.circuit.readings import Measurement, adapter_sees, measure, read_ohms, read_volts
from linkcheck.circuit.situation import AdapterView, Instrument, Situation
from linkcheck.circuit.states import ADAPTERS, UNPLUGGABLE, State
from linkcheck.circuit.trucks import PARAMETERS, Trucks, concatenate, sample_trucks
from linkcheck.circuit.vehicle import Equipment

__all__ = [
    "ACTIVITIES",
    "ADAPTERS",
    "CAVITIES",
    "KNOBS",
    "MODULES",
    "OPEN",
    "PARAMETERS",
    "POINTS",
    "SHOWS",
    "TERMINATORS",
    "UNPLUGGABLE",
    "AdapterView",
    "Bridge",
    "Change",
    "Equipment",
    "Instrument",
    "Knob",
    "Measurement",
    "Parameter",
    "Situation",
    "State",
    "Trucks",
    "Turned",
    "adapter_sees",
    "cavity_of_role",
    "concatenate",
    "measure",
    "read_ohms",
    "read_volts",
    "sample_trucks",
    "turn",
]
