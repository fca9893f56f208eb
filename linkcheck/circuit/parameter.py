"""What a parameter of the circuit is: one row of the tables in `supply_parameters`, `link_parameters` and
`interface_parameters`, which `trucks` draws from.

"Common practice" as a source stands for common practice, no source: such ranges are wide on purpose. Resistances of
what is not there are `OPEN`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from linkcheck.circuit.distributions import Sampler, constant, log, mixture
from linkcheck.circuit.probes import CAVITIES, MODULES, TERMINATORS
from linkcheck.circuit.states import ADAPTERS
from linkcheck.circuit.vehicle import SEGMENTS

__all__ = ["ABSENT", "AXES", "COMMON", "JOINT", "MEMORY", "NO", "OPEN", "Axis", "Parameter"]

OPEN = math.inf
COMMON = "common practice"
MEMORY = "from memory"
# Good joints 2-5 mohm, corroded ones 50-200 mohm (a published calculator's page); a few are worse.
ABSENT = constant(OPEN)  # a resistance that is not there
NO = constant(value=False)
JOINT = mixture((0.94, log(2e-3, 3e-2)), (0.06, log(3e-2, 1.0)))

Axis = Literal["truck", "cavity", "terminator", "segment", "place", "module", "adapter"]
# What comes before the trucks' axis. "segment": pieces of backbone, from terminator 1 on. "place": the back of the
# connector, then the junction of each module.
AXES: dict[Axis, tuple[int, ...]] = {
    "truck": (),
    "cavity": (len(CAVITIES),),
    "terminator": (len(TERMINATORS),),
    "segment": (SEGMENTS,),
    "place": (1 + len(MODULES),),
    "module": (len(MODULES),),
    "adapter": (len(ADAPTERS),),
}


@dataclass(frozen=True, slots=True)
class Parameter:
    """One row: a figure of every truck.

    Attributes:
        name: key into `Trucks`.
        axis: what it is counted by beside trucks.
        unit: SI, "" for a ratio, "flag" for a boolean, "index" for a place.
        sample: how sound trucks differ.
        source: where the figures come from.
        note: what it is, where the name does not say it.

    """

    name: str
    axis: Axis
    unit: str
    sample: Sampler
    source: str
    note: str = ""
