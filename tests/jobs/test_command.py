"""`linkcheck jobs` as a technician types it."""

import json

import pytest

from linkcheck.cli.main import main
from linkcheck.jobs.events import Corrected, Intake, Note
from linkcheck.jobs.store import open_store
from linkcheck.walk.messages import Answer, Back


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("LINKCHECK_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("COLUMNS", "80")
    with open_store() as store:
        job = store.open(store.create(Intake(unit="Truck 12", complaint="adapter stays dark")))
        job.begin_walk()
        job.add(Answer("volts:B-A:key_off", "12.41"))
        job.add(Back())
        job.add(Answer("ohms:C-D:dead", "OL"), note="second try")
        job.add(Corrected(5, "118"))
        job.add(Note("left the key with the foreman"))
        store.create(Intake(unit="Trailer 7", complaint="drops out"))
    return tmp_path


@pytest.mark.usefixtures("folder")
def test_list_and_search(capsys):
    assert main(["jobs", "list"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert ["Trailer" in line or "Truck" in line for line in lines] == [True, True]
    assert max(map(len, lines)) <= 80
    main(["jobs", "list", "DARK", "12"])
    assert capsys.readouterr().out.split()[0] == "1"
    main(["jobs", "list", "--json", "trailer"])
    assert json.loads(capsys.readouterr().out)["unit"] == "Trailer 7"
    main(["jobs", "list", "nothing like it"])
    assert capsys.readouterr() == ("", "No such job.\n")


@pytest.mark.usefixtures("folder")
def test_show_tells_what_was_undone_and_corrected_too(capsys):
    assert main(["jobs", "show", "1"]) == 0
    out = capsys.readouterr().out
    assert "-   3" in out
    assert "volts B to A, key off: 12.41 V" in out
    assert "ohms C to D, battery off: OL (second try)" in out
    assert "entry 5 corrected to 118" in out
    assert "left the key" in out


@pytest.mark.usefixtures("folder")
def test_delete_undelete(capsys):
    assert main(["jobs", "delete", "1"]) == 0
    assert "undelete 1" in capsys.readouterr().out
    main(["jobs", "list"])
    assert "Truck 12" not in capsys.readouterr().out
    main(["jobs", "list", "--deleted"])
    assert "Truck 12" in capsys.readouterr().out
    assert main(["jobs", "undelete", "1"]) == 0
    main(["jobs", "list"])
    assert "Truck 12" in capsys.readouterr().out


def test_export_and_import(folder, capsys, monkeypatch):
    file = folder / "job.json"
    assert main(["jobs", "export", "1", "-o", str(file)]) == 0
    main(["jobs", "export", "1"])
    assert capsys.readouterr().out == file.read_text(encoding="utf-8")
    monkeypatch.setenv("LINKCHECK_DATA", str(folder / "other shop"))
    assert main(["jobs", "import", str(file), str(file)]) == 0
    assert [line.rsplit(", ")[-1] for line in capsys.readouterr().out.splitlines()] == ["new", "unchanged"]
    main(["jobs", "export", "1"])
    assert capsys.readouterr().out == file.read_text(encoding="utf-8")


def test_rescue(folder, capsys):
    file = folder / "data" / "jobs.db"
    data = bytearray(file.read_bytes())
    data[:100] = bytes(100)
    file.write_bytes(data)
    assert main(["jobs", "list"]) == 2
    assert "jobs rescue" in capsys.readouterr().err
    assert main(["jobs", "rescue"]) == 0
    assert "2 jobs with 8 entries saved; 0 entries" in capsys.readouterr().out
    main(["jobs", "list"])
    assert "Truck 12" in capsys.readouterr().out


@pytest.mark.usefixtures("folder")
@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["show", "99"], "no such job"),
        (["delete", "x"], "no such job"),
        (["export", "1", "-o", "/nowhere/at/all.json"], "cannot be written"),
        (["import", "/nowhere/at/all.json"], "cannot be read"),
        (["rescue"], "sound"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(capsys, words, says):
    assert main(["jobs", *words]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert says in err
    assert len(err.splitlines()) == 1
