"""What the shop itself has found: its confirmed causes sharpen the odds that a walk begins with. Pure.

The catalogue's odds are nobody's statistics; a shop's own trucks tell better as their number grows. The odds count as
much as `CATALOGUE_JOBS` confirmed jobs (a Dirichlet prior's posterior mean), so that a handful changes little.
"""

from __future__ import annotations

from collections.abc import Mapping

__all__ = ["CATALOGUE_JOBS", "sharpened"]

CATALOGUE_JOBS = 100.0  # judgement: about one for each fault and half as many again


def sharpened(odds: Mapping[str, float], causes: Mapping[str, int]) -> dict[str, float]:
    """Odds of faults after the shop's own confirmed causes; that of a sound truck ("none") stays.

    Args:
        odds: of the catalogue; need not add up to one.
        causes: fault to how often it was confirmed; unknown faults are left out.

    """
    faults = {fault: share for fault, share in odds.items() if fault != "none"}
    total = sum(faults.values())
    seen = sum(causes.get(fault, 0) for fault in faults)
    scale = total / (CATALOGUE_JOBS + seen)
    found = {f: scale * (CATALOGUE_JOBS * share / total + causes.get(f, 0)) for f, share in faults.items()}
    return {fault: found.get(fault, share) for fault, share in odds.items()}
