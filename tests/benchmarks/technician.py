"""A simulated technician: reads the checks of one truck with an imperfect meter, and slips once in fifty readings."""

import math

import numpy as np

from linkcheck.quantities import Meter

METER = Meter()
SLIP = 0.02


class Technician:
    """Answers checks.

    Args:
        subject: the truck, with the true value of each check.
        seed: of meter and slips.

    """

    def __init__(self, subject, seed, slip=SLIP):
        self.rng = np.random.default_rng([seed, 77])
        self.values = subject.values
        self.slip = slip
        self.gain = {"dc_volts": self.rng.uniform(-0.004, 0.004), "ohms": self.rng.uniform(-0.008, 0.008)}
        self.leads = 0.0 if self.rng.random() < 0.5 else self.rng.uniform(0.1, 0.5)
        self.slips = 0

    def answer(self, check, slip=None):
        """What is typed for a check."""
        value = self.values.get(check.id, math.inf if check.quantity == "ohms" else 0.0)  # no shield: an empty cavity
        slips = self.rng.random() < (self.slip if slip is None else slip)
        self.slips += slips
        if isinstance(value, str):
            return str(self.rng.choice(check.observable.categories)) if slips else value
        if slips:
            value = self._slipped(value, check.quantity)
        return self._shown(value, check.quantity)

    def _slipped(self, value, quantity):
        """Leads in the air, a lost decimal point, or two other points."""
        kind = self.rng.integers(3)
        if kind == 0:
            return 0.0 if quantity == "dc_volts" else math.inf
        if kind == 1:
            return value * float(self.rng.choice([0.1, 10.0]))
        kindred = "volts" if quantity == "dc_volts" else "ohms"
        others = [other for name, other in self.values.items() if name.startswith(kindred)]
        return float(others[self.rng.integers(len(others))])

    def _shown(self, value, quantity):
        if quantity == "ohms":
            value += self.leads + abs(self.rng.normal(0, 0.05))
            if value > METER.over_limit_ohms:
                return "OL"
        value *= 1.0 + self.gain[quantity]
        step = METER.step(value, quantity)
        counts = round(value / step) + int(self.rng.integers(-1, 2))
        digits = max(0, -math.floor(math.log10(step) + 1e-9))
        return f"{min(max(counts * step, -99), 1e9):.{digits}f}"
