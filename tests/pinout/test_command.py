"""`linkcheck pinouts` as a user runs it."""

import argparse
import json

import pytest

from linkcheck.cli import pinouts


@pytest.fixture
def run(capsys, monkeypatch, tmp_path):
    monkeypatch.setattr("linkcheck.pinout.load.user_config_dir", lambda _: str(tmp_path))

    def run(*words):
        parser = argparse.ArgumentParser()
        pinouts.add_arguments(parser)
        assert pinouts.run(parser.parse_args(words)) == 0
        return capsys.readouterr().out

    return run


def test_the_list_names_every_file_and_the_users_folder(run, tmp_path):
    listing = run()
    for name in ("9-pin-type-1", "9-pin-type-2", "6-pin", "16-pin-j1962", "example-truck", str(tmp_path)):
        assert name in listing


def test_a_broken_file_of_the_user_does_not_spoil_the_list(run, tmp_path):
    (tmp_path / "pinouts").mkdir()
    (tmp_path / "pinouts" / "broken.toml").write_text("kind = 'connector'\n")
    listing = run()
    assert "cannot be used" in listing
    assert "9-pin-type-1" in listing


@pytest.mark.parametrize("name", ["9-pin-type-1", "9-pin-type-2", "6-pin", "16-pin-j1962", "example-truck"])
def test_a_page_fits_80_columns(run, name):
    assert max(map(len, run(name).splitlines())) <= 80


def test_the_page_of_a_connector_has_faces_figures_cautions_and_sources(run):
    page = " ".join(run("9-pin-type-1").split())
    for words in (
        "MATING SIDE",
        "WIRE SIDE",
        "battery negative",
        "CAN high, network 1",
        "10 A",
        "55 to 65 ohm (60)",
        "12.2 to 12.9 V (12.6)",
        "Park brake on",
        "never a larger one",
        "orange high-voltage",
        "airbag",
        "service information",
        "common practice, no source",
    ):
        assert words in page


def test_json_carries_si_values_and_roles(run):
    pinout = json.loads(run("9-pin-type-2", "--json"))
    assert pinout["schema"] == "linkcheck.pinout/1"
    assert pinout["networks"][0]["bit_rate"] == 500_000
    assert {cavity["label"]: cavity["role"] for cavity in pinout["cavities"]}["C"] == "can_high"
    vehicle = json.loads(run("example-truck", "--json"))
    assert [module["address"] for module in vehicle["modules"]] == [0, 3, 11, 15, 33, 49]
    assert {entry["name"] for entry in json.loads(run("--json"))["pinouts"]} >= {"6-pin", "example-truck"}
