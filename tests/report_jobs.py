"""Jobs walked through on invented trucks: readings are the middle of what the circuit predicts for a fault, and of a
sound truck after the repair.
"""

import numpy as np

from linkcheck.jobs.events import CauseConfirmed, CautionsRead, Intake, Note, Photo, Technician, Tools
from linkcheck.jobs.session import Session
from linkcheck.walk.messages import Answer, Repaired


def reading(session, which, check):
    """What such a truck shows at a check, as typed."""
    values = session.walk.judge.samples.predictions(which, check.id)
    middle = float(np.quantile(values, 0.5, method="nearest"))
    if check.observable.categories:
        return check.observable.categories[int(middle)]
    return "OL" if np.isinf(middle) else f"{middle:.2f}" if check.quantity == "dc_volts" else f"{middle:.1f}"


def walked(store, fault, *, most=25, repair=True, after=8, intake=None):
    """A job with a fault walked to its end, repaired, and read again."""
    job = store.open(store.create(intake or Intake(unit="Unit 12 (invented)", complaint="adapter stays dark")))
    job.add(Technician("A. Example"))
    job.add(Tools(meter="handheld, 10 Mohm, leads nulled", adapter="own, two channels"))
    job.add(CautionsRead(["Park brake on, wheels chocked.", "Volts first."]))
    session = Session(job.begin_walk(intake.setup() if intake else None), (), job)
    session.settle()
    which = tuple(fault.split("+"))
    take(session, which, most)
    if repair and session.check is None:
        found = session.walk.opinion.belief.leader
        job.add(CauseConfirmed(list(found), session.walk.finding.cause))
        job.add(Photo("pictures/fuse-box.jpg", "fuse box, cover off"))
        session.take(Repaired(list(found)))
        take(session, (), after)
        job.add(Note("Road test over the yard's speed bumps, adapter stayed on."))
    return job


def take(session, which, most):
    for _ in range(most):
        if session.check is None:
            break
        session.take(Answer(session.check.id, reading(session, which, session.check)))
