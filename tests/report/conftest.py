"""Jobs of every kind of ending, walked once for all tests of this folder."""

from pathlib import Path

import pytest
from report_jobs import walked

from linkcheck.jobs.events import CauseConfirmed, FindingTaken, Intake, TrafficAttached
from linkcheck.jobs.store import open_store
from linkcheck.jobs.traffic_summary import summary_of
from linkcheck.report.compose import compose
from linkcheck.survey import CaptureFile
from linkcheck.traffic import Options

CAPTURES = Path(__file__).parents[2] / "captures"


def attach(job, when, capture):
    job.add(TrafficAttached(when, summary_of(CaptureFile(str(CAPTURES / f"{capture}.log"), Options()).run())))


@pytest.fixture(scope="session")
def jobs(tmp_path_factory):
    """The records: fuse, terminator (with traffic), terminal (16-pin), unrepaired, unfinished, stated, empty."""
    with open_store(tmp_path_factory.mktemp("report") / "jobs.db") as store:
        terminator = walked(store, "terminator_missing")
        attach(terminator, "before", "drops-over-bumps")
        attach(terminator, "after", "healthy")
        terminator.add(FindingTaken("can0", "fell_silent", "brake system controller falls silent", "its plug"))
        stated = walked(store, "short:can_high-ground", most=2)
        stated.add(CauseConfirmed(["short:can_high-ground"], "chafed wire at the cab hinge"))
        connector = Intake(
            unit="Unit 5 (invented)", complaint="no comm", connector="16-pin-j1962", bit_rate=500_000, odometer="9 km"
        )
        found = {
            "fuse": walked(store, "feed_fuse_open"),
            "terminator": terminator,
            "terminal": walked(store, "cavity_open:B", intake=connector),
            "unrepaired": walked(store, "feed_fuse_open", repair=False),
            "unfinished": walked(store, "short:can_high-ground", most=2),
            "stated": stated,
            "empty": store.open(store.create(Intake(unit="Unit 9 (invented)", complaint="nothing & nobody"))),
        }
        return {name: job.record for name, job in found.items()}


@pytest.fixture(scope="session")
def reports(jobs):
    return {name: compose(record) for name, record in jobs.items()}
