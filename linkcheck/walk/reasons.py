"""Why a check is asked, and what readings say for and against suspects: in sentences."""

from __future__ import annotations

import math

import numpy as np

from linkcheck.diagnosis.explain import Argument, arguments
from linkcheck.diagnosis.samples import SOUND, Hypothesis
from linkcheck.diagnosis.scale import scale_of
from linkcheck.faults.catalogue import FAULTS
from linkcheck.walk.checks import CHECKS, Check
from linkcheck.walk.judge import Opinion
from linkcheck.walk.layout import Layout

__all__ = ["case_for", "check_words", "figure_words", "title", "why"]

COMPARED = 8  # suspects looked at for the widest difference
LEAST_SHARE = 0.01


def title(which: Hypothesis, layout: Layout) -> str:
    """Faults in trade words."""
    return " and ".join(layout.named(FAULTS[fault].title) for fault in which or ("none",))


def figure_words(value: float | str, quantity: str) -> str:
    """A reading as one says it: "12.41 V", "59.8 ohm", "4.7 kohm", "OL", "no power"."""
    if isinstance(value, str):
        return value.replace("_", " ")
    if math.isinf(value):
        return "OL"
    if quantity == "dc_volts":
        return f"{value:.2f} V"
    for factor, unit in ((1e6, "Mohm"), (1e3, "kohm")):
        if abs(value) >= factor:
            return f"{value / factor:.3g} {unit}"
    return f"{value:.1f} ohm"


def check_words(check: Check, layout: Layout) -> str:
    """A check in a line: "ohms C to D", "volts B (wire side) to A", "ohms fuse in to fuse out"."""
    if check.quantity == "heard":
        return "addresses heard"
    if check.quantity == "look":
        return "fuse looked at" if check.id == "look:fuse" else "terminals looked at"
    if check.quantity == "listen":
        which = "own adapter" if check.state.adapter == "own" else "known-good adapter"
        return f"{which} listening" + (" at the other bit rate" if check.other_rate else "")
    name = "volts" if check.quantity == "dc_volts" else "ohms"
    red, black = (_short_point(layout.named(point)) for point in (check.red, check.black))
    return f"{name} {red} to {black}"


def _short_point(point: str) -> str:
    return point.replace(".wire", " (wire side)").replace("_", " ").replace(".", " ")


def why(opinion: Opinion, check: Check, layout: Layout) -> str:
    """Why this check comes next, in a sentence or two."""
    belief = opinion.belief
    if opinion.reason == "again":
        return "All the other readings speak against the one that was taken here. Take it once more, with care."
    if opinion.reason == "pivot":
        return "What remains hangs on this one reading. Take it once more."
    if opinion.reason == "due":
        return "To compare with the reading before the repair."
    if opinion.reason == "sweep":
        return "A last look at a part that no reading has looked at yet: a second fault may hide there."
    words = f'Proves or clears "{title(belief.leader, layout)}".' if opinion.reason == "proof" else ""
    pair = _apart(opinion, check)
    if pair is None:
        return words or "Clears what the readings so far say nothing about."
    told = [f'with "{title(which, layout)}" about {_typical(opinion, which, check)}' for which in pair]
    return f"{words} It would read, {told[0]}; {told[1]}.".strip()


def _apart(opinion: Opinion, check: Check) -> tuple[Hypothesis, Hypothesis] | None:
    """The leading suspect and the likely one that this check sets farthest apart from it."""
    belief = opinion.belief
    some = [which for which in belief.ranking[:COMPARED] if belief.probability(which) >= LEAST_SHARE]
    some += [SOUND] if SOUND not in some else []
    first, others = some[0], some[1:]
    places = {which: _place(opinion, which, check) for which in some}
    far = max(
        others, key=lambda which: abs(places[which] - places[first]) * (belief.probability(which) + 0.01), default=None
    )
    if far is None or abs(places[far] - places[first]) < 1.0:
        return None
    return first, far


def _place(opinion: Opinion, which: Hypothesis, check: Check) -> float:
    values = opinion.belief.samples.predictions(which, check.id)
    if check.observable.categories:
        return float(np.median(values)) * 5.0
    scale = scale_of(check.observable.quantity, check.subsystem)
    return float(np.median(scale.place(values)))


def _typical(opinion: Opinion, which: Hypothesis, check: Check) -> str:
    values = opinion.belief.samples.predictions(which, check.id)
    middle = float(np.quantile(values, 0.5, method="nearest"))
    if check.observable.categories:
        return figure_words(check.observable.categories[int(middle)], check.quantity)
    return figure_words(middle, check.quantity)


def case_for(opinion: Opinion, which: Hypothesis, layout: Layout) -> list[str]:
    """What each reading says for or against a suspect, the weightiest first."""
    return [_argument(each, layout) for each in arguments(opinion.weigher, opinion.belief, which)]


def _argument(each: Argument, layout: Layout) -> str:
    check = CHECKS[each.check]
    side = "for" if each.weight > 0.5 else "against" if each.weight < -0.5 else "neither"
    read = ", ".join(figure_words(reading.value, check.quantity) for reading in each.readings)
    expected = figure_words(each.usual, check.quantity) if each.usual else ""
    if each.expected is not None:
        expected = " to ".join(figure_words(value, check.quantity) for value in each.expected)
    return f"{side:8} {check_words(check, layout)}: {read} (it would make {expected})"
