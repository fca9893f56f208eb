"""A walk's answers in words, with the labels of the job's own connector. Needs numpy; import it late."""

from __future__ import annotations

from linkcheck.errors import LinkcheckError
from linkcheck.pinout import find_pinout, load_pinout
from linkcheck.walk.checks import CHECKS
from linkcheck.walk.engine import read_answer
from linkcheck.walk.layout import Layout, layout_of
from linkcheck.walk.messages import Answer, Setup
from linkcheck.walk.reasons import check_words, figure_words
from linkcheck.walk.steps import state_words

__all__ = ["answer_words", "layout_for"]


def layout_for(setup: Setup) -> Layout:
    """The layout of a walk's truck.

    Raises:
        DataError, UsageError: its pinout cannot be used.

    """
    return layout_of(
        load_pinout(find_pinout(setup.pinout)),
        system_volts=setup.system_volts,
        bit_rate=setup.bit_rate,
        j1708=setup.j1708,
        shield=setup.shield,
    )


def answer_words(answer: Answer, layout: Layout | None) -> str:
    """An answer in a line: "volts B to A, key off: 12.41 V"; as it was typed where it cannot be read."""
    check = CHECKS.get(answer.check)
    if check is None or layout is None:
        return f"{answer.check}: {answer.text}"
    try:
        value = figure_words(read_answer(check, answer.text, answer.span)[0].value, check.quantity)
    except LinkcheckError:
        value = answer.text
    return f"{check_words(check, layout)}, {state_words(check.state)}: {value}"
