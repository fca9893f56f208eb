"""The customer's page: plain words, no claim beyond what the readings carry."""

import html5lib
import pytest

from linkcheck.faults.repairs import REPAIRS
from linkcheck.report.customer import as_customer_page
from linkcheck.report.plain import PLAIN

# Words a driver has no use for.
TRADE = ("CAN", "J1708", "J1939", "ohm", "volt", "terminator", "backbone", "stub", "cavity", "module", "bit rate")


def text_of(report):
    return " ".join("".join(html5lib.parse(as_customer_page(report), namespaceHTMLElements=False).itertext()).split())


def test_every_repair_has_plain_words():
    assert set(PLAIN) == set(REPAIRS)


@pytest.mark.parametrize("repair", PLAIN)
def test_plain_words_are_plain(repair):
    for sentence in PLAIN[repair]:
        assert sentence.endswith(".")
        assert not [word for word in TRADE if word in sentence]


@pytest.mark.parametrize("name", ["unrepaired", "unfinished", "stated", "empty"])
def test_nothing_is_called_repaired_that_was_not(reports, name):
    text = text_of(reports[name])
    assert "Repaired" not in text
    assert not any(plain.done in text for plain in PLAIN.values() if plain.done.startswith("We"))


def test_a_proven_and_repaired_fault_is_told_in_plain_words(reports):
    text = text_of(reports["terminal"])
    assert PLAIN["reseat_terminal"].wrong in text
    assert PLAIN["reseat_terminal"].done in text
    assert "Repaired and checked." in text


def test_an_unfinished_job_does_not_guess(reports):
    assert "we will not guess" in text_of(reports["unfinished"])
