"""`linkcheck practice` as a conversation in the terminal."""

import re
import subprocess
import sys

import pytest

from linkcheck.cli.main import main
from linkcheck.faults.catalogue import FAULTS


def talk(monkeypatch, capsys, lines, *words):
    """Everything that was said, for these lines typed."""
    monkeypatch.setattr("sys.stdin", iter(f"{line}\n" for line in lines))
    assert main(["practice", *words]) == 0
    return capsys.readouterr().out


@pytest.fixture
def said(monkeypatch, capsys):
    return lambda lines, *words: talk(monkeypatch, capsys, lines, *words)


def test_a_lesson_from_the_first_probe_to_the_verdict(said):
    out = said(
        ["v b a", "key on; v c a", "key off; battery off", "o c d", "repair terminator_missing", "o c d", "done"],
        "--fault", "terminator_missing", "--seed", "5",
    )  # fmt: skip
    before, after = (float(ohms) for ohms in re.findall(r"^> +([\d.]+) ohm$", out, re.MULTILINE))
    assert 110 < before < 130  # one terminator of 120 ohm; two of them are 60: ISO 11898-2
    assert 55 < after < 65
    assert "It was: One terminator missing" in out
    assert "You found it." in out
    assert "linkcheck practice --seed 5 --fault terminator_missing" in out


def test_the_same_seed_is_the_same_truck(said):
    lines = ["v b a", "key on", "v c a", "v d a", "done"]
    assert said(lines, "--difficulty", "hard", "--seed", "12") == said(lines, "--difficulty", "hard", "--seed", "12")
    assert said(lines, "--difficulty", "hard", "--seed", "12") != said(lines, "--difficulty", "hard", "--seed", "13")


def test_without_a_seed_it_tells_the_one_it_took(said):
    out = said(["done"])
    seed = re.search(r"Practice truck (\d+)", out)[1]
    assert f"--seed {seed} --difficulty easy" in out


def test_do_follows_the_advice_to_the_cause(said):
    out = said(
        ["do"] * 20 + ["suspects", "why", "repair feed_fuse_open", "done"], "--fault", "feed_fuse_open", "--seed", "5"
    )
    assert "Fuse of the connector's feed blown or missing. Proven by" in " ".join(out.split())
    assert re.search(r"^[> ]+\d+%  Fuse of the connector's feed", out, re.MULTILINE)
    assert "for      " in out
    assert "You found it." in out


def test_advice_is_hidden_unless_asked_for(said):
    quiet = said(["v b a"], "--seed", "3")
    assert "Advice:" not in quiet
    assert said(["v b a"], "--seed", "3", "--advice").count("Advice:") == 2


def test_what_would_have_happened_is_said(said):
    assert "may blow" in said(["o b a"], "--fault", "none", "--seed", "5").replace("\n", " ")


def test_the_recording_is_a_capture(said, tmp_path, capsys):
    path = tmp_path / "bus.log"
    out = said([f"record {path}", "done"], "--fault", "module_unpowered", "--seed", "5")
    assert "Written to" in out
    assert main(["replay", str(path)]) == 0
    assert "5 addresses heard" in capsys.readouterr().out


def test_a_wrong_line_gets_a_sentence_and_nothing_is_lost(said):
    out = said(
        ["rubbish", "v q a", "repair the thing", "listen", "v b a", "readings"], "--fault", "none", "--seed", "5"
    )
    for words in (
        '"rubbish" is not understood',
        'no point "q"',
        "no fault of that name",
        "no adapter",
        "1. volts B to A",
    ):
        assert words in out


def test_the_help_fits_80_columns(said):
    out = said(["help", "points", "faults feed"], "--seed", "5")
    assert all(len(line) <= 80 for line in out.splitlines())


def test_the_list_names_every_fault(capsys):
    assert main(["practice", "--list"]) == 0
    assert [line.split()[0] for line in capsys.readouterr().out.splitlines()] == list(FAULTS)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [(["--fault", "rust"], "no such fault"), (["--seed", "-4"], "0 or more"), (["--pinout", "nope"], "nope")],
)
def test_wrong_options_get_one_sentence(words, sentence):
    run = subprocess.run(
        [sys.executable, "-m", "linkcheck", "practice", *words], capture_output=True, text=True, check=False
    )
    assert run.returncode == 2
    assert sentence in run.stderr
    assert "Traceback" not in run.stderr
