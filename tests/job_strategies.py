"""Sequences of what a technician does to a job, for hypothesis, and a plain model of what must come of them.

The model knows nothing of the store: a list of readings, where undo pops and a correction replaces.
"""

from dataclasses import dataclass, field

from hypothesis import strategies as st

from linkcheck.jobs.events import Corrected, Note, Photo, Technician, Tools, Withdrawn, Worded
from linkcheck.walk.messages import Answer, Back, Skip

CHECKS = ("volts:B-A:key_off", "ohms:C-D:dead", "listen:own", "volts:C-A:key_on")
TEXTS = st.text(st.characters(exclude_categories=("Cs",)), max_size=30)
READINGS = st.sampled_from(("12.41", "OL", "59.8", "-0.02", "12,41 v", "no_power"))

STEPS = st.lists(
    st.one_of(
        st.tuples(st.just("read"), st.sampled_from(CHECKS), READINGS),
        st.tuples(st.just("skip"), st.sampled_from(CHECKS)),
        st.tuples(st.just("undo")),
        st.tuples(st.just("correct"), st.integers(0, 20), READINGS),
        st.tuples(st.just("take back correction")),
        st.tuples(st.just("note"), TEXTS),
        st.tuples(st.just("withdraw note")),
        st.tuples(
            st.just("other"),
            st.one_of(
                st.builds(Photo, TEXTS, TEXTS),
                st.builds(Tools, TEXTS, TEXTS),
                st.builds(Technician, TEXTS),
                st.builds(Worded, st.sampled_from(("complaint", "cause", "correction", "confirmation")), TEXTS),
            ),
        ),
    ),
    max_size=40,
)


@dataclass
class Model:
    """What should stand after the steps so far, each with the number of its entry."""

    walk: list = field(default_factory=list)  # [n, check or None for a skip, texts: the first, then corrections]
    notes: list = field(default_factory=list)
    corrections: list = field(default_factory=list)  # [n, of]
    acknowledged: int = 0

    def readings(self):
        return [(check, texts[-1][1]) for _, check, texts in self.walk if check is not None]


def play(job, steps):
    """Do the steps on an open job; steps that have nothing to act on are left out. Returns the model."""
    model = Model()
    for step in steps:
        event, then = _event(model, step)
        if event is not None:
            entry = job.add(event)
            model.acknowledged += 1
            then(entry.n)
    return model


def _event(model, step):  # noqa: C901, PLR0911  one case a kind of step
    match step:
        case ("read", check, text):
            return Answer(check, text), lambda n: model.walk.append([n, check, [(n, text)]])
        case ("skip", check):
            return Skip(check), lambda n: model.walk.append([n, None, []])
        case ("undo",) if model.walk:
            return Back(), lambda _: model.walk.pop()
        case ("correct", place, text):
            readings = [row for row in model.walk if row[1] is not None]
            if readings:
                row = readings[place % len(readings)]

                def corrected(n):
                    row[2].append((n, text))
                    model.corrections.append((n, row[0]))

                return Corrected(row[0], text), corrected
        case ("take back correction",) if model.corrections:
            n, of = model.corrections.pop()

            def back(_):
                for row in model.walk:
                    if row[0] == of:
                        row[2] = [each for each in row[2] if each[0] != n]

            return Withdrawn(n), back
        case ("note", text):
            return Note(text), lambda n: model.notes.append((n, text))
        case ("withdraw note",) if model.notes:
            n, _ = model.notes[-1]
            return Withdrawn(n), lambda _: model.notes.pop()
        case ("other", event):
            return event, lambda _: None
    return None, None
