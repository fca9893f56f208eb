"""A walk that is going on: the engine over its table, and the record that every event goes to first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

from linkcheck.diagnosis.samples import Samples
from linkcheck.errors import LinkcheckError
from linkcheck.faults.catalogue import prior_odds
from linkcheck.jobs.experience import sharpened
from linkcheck.jobs.naming import layout_for
from linkcheck.jobs.tables import cached_table, full_table, quick_table
from linkcheck.pinout import Pinout, find_pinout, load_pinout
from linkcheck.walk.engine import Walk
from linkcheck.walk.judge import Judge
from linkcheck.walk.messages import Event, Setup

__all__ = ["Keeper", "Session"]


class Keeper(Protocol):
    """Keeps events: a job's handle, a walk's file, or nothing."""

    def add(self, event: Event, /) -> object:
        """Keep one event; it is safe when this returns.

        Raises:
            DataError: it cannot be kept.

        """


class Session:
    """One walk with its record.

    Args:
        setup: what it is started with.
        events: that have happened, from a record.
        record: takes every event, before it counts.
        causes: the shop's confirmed causes, to sharpen the odds with.

    Attributes:
        pinout: the connector.
        walk: the engine. The first check may come from a rough table; `settle` puts the full one in its place.

    Raises:
        DataError, UsageError: the setup or the events do not fit together.

    """

    def __init__(
        self, setup: Setup, events: Sequence[Event], record: Keeper, causes: Mapping[str, int] | None = None
    ) -> None:
        self.setup = setup
        self.record = record
        self._odds = sharpened(prior_odds(), causes or {})
        self.pinout: Pinout = load_pinout(find_pinout(setup.pinout))
        self._layout = layout_for(setup)
        table = cached_table(self._layout, setup.seed)
        self._rough = table is None and not events
        if table is None:
            table = quick_table(self._layout, setup.seed) if self._rough else full_table(self._layout, setup.seed)
        self.walk = self._walk(table, events)
        self.check, self.card = self.walk.check, self.walk.card

    def _walk(self, table: Samples, events: Sequence[Event]) -> Walk:
        known = set(self._layout.faults())
        odds = {fault: share for fault, share in self._odds.items() if fault in known}
        judge = Judge(table, odds, system_volts=self.setup.system_volts)
        return Walk(self.setup, self._layout, judge, events)

    def settle(self) -> None:
        """Put the full table in the place of a rough one. The check that is on the screen stays there."""
        if self._rough:
            self._rough = False
            self.walk = self._walk(full_table(self._layout, self.setup.seed), self.walk.events)

    def take(self, event: Event) -> None:
        """Let something happen.

        Raises:
            DataError, UsageError: it cannot, or cannot be kept; nothing has changed.

        """
        self.settle()
        before = tuple(self.walk.events)
        self.walk.take(event)
        try:
            self.record.add(event)
        except LinkcheckError:
            self.walk = Walk(self.setup, self._layout, self.walk.judge, before)
            raise
        self.check, self.card = self.walk.check, self.walk.card
