"""A store with one job, in a folder of its own."""

from datetime import UTC, datetime, timedelta

import pytest

from linkcheck.jobs.events import Intake
from linkcheck.jobs.store import open_store


class Clock:
    """A second later each time it is asked."""

    def __init__(self):
        self.at = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)

    def __call__(self):
        self.at += timedelta(seconds=1)
        return self.at


@pytest.fixture
def path(tmp_path):
    return tmp_path / "jobs.db"


@pytest.fixture
def store(path):
    with open_store(path, clock=Clock()) as opened:
        yield opened


@pytest.fixture
def job(store):
    return store.open(store.create(Intake(unit="Truck 12", complaint="no communication")))
