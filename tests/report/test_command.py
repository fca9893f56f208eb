"""`linkcheck report` as a technician types it."""

import json
import os
import subprocess
import sys

import pytest

from linkcheck.cli.main import main
from linkcheck.jobs.events import Intake
from linkcheck.jobs.store import open_store
from linkcheck.walk.messages import Answer


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("LINKCHECK_DATA", str(tmp_path))
    with open_store() as store:
        job = store.open(store.create(Intake(unit="Unit 12 (invented)", complaint="dark")))
        job.begin_walk()
        job.add(Answer("volts:B-A:key_off", "12.41"))
    return tmp_path


@pytest.mark.parametrize(
    ("option", "begins"),
    [
        ([], "<!DOCTYPE html>"),
        (["--html"], "<!DOCTYPE html>"),
        (["--customer"], "<!DOCTYPE html>"),
        (["--text"], "UNIT Unit 12 (invented)"),
        (["--json"], "{"),
    ],
)
def test_every_form_to_standard_output_and_to_a_file(folder, capsys, option, begins):
    assert main(["report", "1", *option]) == 0
    out = capsys.readouterr().out
    assert out.startswith(begins)
    file = folder / "report"
    assert main(["report", "1", *option, "-o", str(file)]) == 0
    assert file.read_text(encoding="utf-8") == out
    assert capsys.readouterr().out == ""


def test_json_of_the_command_is_json(capsys):
    main(["report", "1", "--json"])
    assert json.loads(capsys.readouterr().out)["intake"]["unit"] == "Unit 12 (invented)"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["report", "99"], "no such job"),
        (["report", "1", "-o", "/nowhere/report.html"], "cannot be written"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(capsys, words, says):
    assert main(words) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert says in err
    assert len(err.splitlines()) == 1


def test_two_forms_at_once_are_refused(capsys):
    with pytest.raises(SystemExit) as caught:
        main(["report", "1", "--json", "--text"])
    assert caught.value.code == 2
    assert "not allowed with" in capsys.readouterr().err


def loaded(words, folder):
    code = (
        "import sys, io, contextlib\n"
        "from linkcheck.cli.main import main\n"
        "with contextlib.redirect_stdout(io.StringIO()):\n"
        f"    main({words!r})\n"
        "print('\\n'.join(sys.modules))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "LINKCHECK_DATA": str(folder)},
        capture_output=True,
        text=True,
        check=True,
    )
    return {name.split(".")[0] for name in done.stdout.split()}


def test_only_a_page_with_plots_loads_matplotlib(folder):
    for form in ("--text", "--json", "--customer"):
        assert not loaded(["report", "1", form], folder) & {"matplotlib", "textual"}
    assert "pyplot" not in "".join(loaded(["report", "1"], folder))
    assert not loaded(["jobs", "list"], folder) & {"numpy", "matplotlib", "textual", "pint", "jinja2"}
