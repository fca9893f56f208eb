"""`linkcheck edges` and `linkcheck branch` as a user meets them: pages, JSON, bad words."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

CAPTURES = Path(__file__).parents[2] / "captures"
SHORT = ("--length", "12", "--nodes", "3", "--bit-rate", "500k")


def run(*words, columns="80"):
    return subprocess.run(
        [sys.executable, "-m", "linkcheck", *map(str, words)],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "COLUMNS": columns},
    )


def test_page_of_a_sound_bus_fits_eighty_columns():
    done = run("edges", *SHORT)
    assert done.returncode == 0
    assert "VERDICT  Works" in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 80
    for word in ("To recessive", "At the sample", "Margin", "Stops working", "Longest stub", "one of 120 ohm"):
        assert word in done.stdout


@pytest.mark.long
def test_json_says_what_the_page_says():
    found = json.loads(run("edges", *SHORT, "--terminators", "none", "--json").stdout)
    assert found["schema"] == "linkcheck.edges/1"
    assert found["given"]["margin"]["works"] is False
    by_name = {variant["name"]: variant for variant in found["others"]}
    assert by_name["two"]["margin"]["works"] is True
    assert by_name["two"]["load_ohms"] == pytest.approx(60.0, rel=0.01)
    assert found["reasons"]


@pytest.mark.long
def test_places_and_terminators_of_its_own():
    words = (
        "--at",
        "0,3,12",
        "--stub",
        "0.5,1,2",
        "--terminators",
        "120@3,120@12",
        "--capacitance",
        "60",
        "--length",
        "12",
    )
    bus = json.loads(run("edges", *words, "--json").stdout)["bus"]
    assert [station["at_m"] for station in bus["stations"]] == [0, 3, 12]
    assert [station["stub_m"] for station in bus["stations"]] == [0.5, 1, 2]
    assert [terminator["at_m"] for terminator in bus["terminators"]] == [3, 12]
    assert bus["cable"]["delay_ns_per_m"] == pytest.approx(7.2)


@pytest.mark.long
def test_scope_page_and_json():
    trace = CAPTURES / "scope-terminator-missing.csv.gz"
    done = run("edges", "--scope", trace)
    assert done.returncode == 0
    assert "A terminator is missing" in done.stdout
    assert max(len(line) for line in done.stdout.splitlines()[2:]) <= 80
    found = json.loads(run("edges", "--scope", trace, "--json").stdout)
    assert found["schema"] == "linkcheck.waveform/1"
    assert found["terminators"]["one"] > 0.9
    assert len(found["frames"]) == 3


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["edges", "--nodes", "1"], "nodes"),
        (["edges", "--length", "-3"], "-3 m"),
        (["edges", "--terminators", "120,wrong"], "--terminators"),
        (["edges", "--terminators", "120@90"], "90 m"),
        (["edges", "--stub", "1,2"], "--stub"),
        (["edges", "--delay", "5", "--capacitance", "50"], "--capacitance"),
        (["edges", "--delay", "1"], "light"),
        (["edges", "--bit-rate", "fast"], "--bit-rate"),
        (["edges", "--sample-point", "10"], "sample point"),
        (["edges", "--node-capacitance", "-1"], "--node-capacitance"),
        (["edges", "--scope", "no-such.csv"], "no-such.csv"),
        (["edges", "--scope", CAPTURES / "healthy.log"], "healthy.log"),
        (["branch", "--vehicle", "example-truck"], "nothing to go by"),
        (["branch", "--vehicle", "no-such-truck", "--ohms", "60"], "no-such-truck"),
        (["branch", "--vehicle", "example-truck", "--ohms", "sixty"], "sixty"),
        (["branch", "--vehicle", "example-truck", "--ohms", "60@200"], "200"),
        (["branch", "--vehicle", "example-truck", "--network", "7", "--ohms", "60"], "network 7"),
    ],
)
def test_bad_input_gets_one_sentence_and_exit_code_2(words, says):
    done = run(*words)
    assert done.returncode == 2
    assert done.stdout == ""
    assert says in done.stderr
    assert "Traceback" not in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
