"""`linkcheck listen --search`: tries the bit rates and prints what was heard at each."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

from linkcheck.cli import exit_codes
from linkcheck.cli.listen import confirm
from linkcheck.cli.output import say
from linkcheck.live.port import PortRefusedError, PortSpec
from linkcheck.live.rate_search import WRONG_RATE, search_rates

__all__ = ["search"]


def search(spec: PortSpec, rates: Sequence[int], seconds: float) -> int:
    """Search, and say by the exit code whether the rate was found (0) or not (1)."""
    try:
        return _search(spec, rates, seconds)
    except PortRefusedError as error:
        if error.reason != "unproven" or not confirm(f"{error.where}: {error.what} {WRONG_RATE}"):
            raise
    return _search(dataclasses.replace(spec, accept_unproven=True), rates, seconds)


def _search(spec: PortSpec, rates: Sequence[int], seconds: float) -> int:
    say(f"Listening for {seconds:g} s at each of {', '.join(f'{rate // 1000}k' for rate in rates)}.")
    found = False
    for verdict in search_rates(spec, rates, seconds):
        print(f"{verdict.bit_rate / 1000:>7g}k  {verdict.verdict:<12} {verdict.text}", flush=True)
        found = found or verdict.verdict == "traffic"
    return exit_codes.OK if found else exit_codes.FAULT_FOUND
