"""`linkcheck simulate`, run as a program."""

import gzip
import subprocess
import sys

import pytest
from practice_recordings import NAMES

from linkcheck.cli.main import main

SHORT = ["simulate", "healthy", "--seconds", "0.5", "--seed", "4"]


def program(*words):
    return subprocess.run([sys.executable, "-m", "linkcheck", *words], capture_output=True, check=False)


def test_same_bytes_on_standard_output_in_a_file_and_zipped(tmp_path):
    printed = program(*SHORT).stdout
    assert printed.startswith(b"(1700000000.")
    assert main([*SHORT, "-o", str(tmp_path / "a.log")]) == 0
    assert main([*SHORT, "-o", str(tmp_path / "a.log.gz")]) == 0
    assert (tmp_path / "a.log").read_bytes() == printed
    assert gzip.decompress((tmp_path / "a.log.gz").read_bytes()) == printed


def test_list_names_every_scenario(capsys):
    assert main(["simulate", "--list"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert [line.split()[0] for line in lines] == list(NAMES)


def test_truth_goes_to_standard_error(capfdbinary):
    assert main(["simulate", "coolant-stuck", "--seconds", "0.5", "--truth"]) == 0
    printed, said = capfdbinary.readouterr()
    assert printed.splitlines()[-1].startswith(b"(1700000000.")
    assert b"can0: The engine 1 says engine coolant temperature is 87 degC" in said


def test_bit_rate_changes_the_timing():
    slow, fast = (program(*SHORT, "--bit-rate", rate).stdout for rate in ("250000", "500000"))
    assert slow != fast


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["simulate"], "Which scenario?"),
        (["simulate", "nope"], "There is no scenario 'nope'"),
        (["simulate", "healthy", "--seconds", "-1"], "--seconds -1"),
        (["simulate", "healthy", "--seconds", "nan"], "--seconds nan"),
        (["simulate", "healthy", "--seconds", "0.3", "-o", "/nowhere/x.log"], "/nowhere/x.log: Cannot be written"),
    ],
)
def test_mistakes_end_with_a_sentence(words, sentence, capsys):
    assert main(words) == 2
    assert sentence in capsys.readouterr().err
