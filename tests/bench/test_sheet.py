"""The sheet, the record of an adapter, and the command."""

import json

import html5lib
import msgspec
import pytest

from linkcheck.bench.history import add_to_history, changes, earlier_tests, history_path
from linkcheck.bench.result import BenchResult, Conditions, Row
from linkcheck.bench.sheet import as_text
from linkcheck.cli.bench_hands import TerminalHands
from linkcheck.cli.main import main

CONDITIONS = Conditions(
    "shop-3", "version 1001", "b", "version 1002", "a host", "2026-01-02T03:04:05+00:00", 1, "quick"
)


def row(name, verdict="pass", figure="fine", **numbers):
    conditions = "250 kbit/s, B sends"
    return Row(name, f"Title of {name}", verdict, figure, "a limit", "a source", numbers, "", conditions)


def result(*rows):
    return BenchResult(conditions=CONDITIONS, rows=list(rows))


def test_the_verdict_names_what_failed_and_counts_only_what_was_tried():
    text = as_text(result(row("one"), row("two", "fail", "5 lost"), row("three", "not measured", "")))
    assert "VERDICT  FAILED: 1 of 2 tests." in text
    assert text.index("Title of two (250 kbit/s)") < text.index("Title of one")
    assert "5 lost" in text
    assert "ISO 16845-1" in text


@pytest.mark.parametrize("width", [60, 80, 120])
def test_no_line_is_wider_than_asked(width):
    figure = "a figure with many words " * 10
    assert max(map(len, as_text(result(row("one", "fail", figure)), ["x " * 90], width).splitlines())) <= width


def test_what_changed_since_the_last_test():
    before = result(row("a"), row("b", load=0.9), row("c", p99_ms=1.0), row("d"))
    now = result(row("a", "fail", "7 lost"), row("b", load=0.5), row("c", p99_ms=1.2), row("e"))
    assert changes(before, now) == [
        "Title of a (250 kbit/s): pass before (fine), now fail (7 lost)",
        "Title of b (250 kbit/s): load was 0.9, now 0.5",
    ]


def test_a_record_grows_and_survives_a_broken_line(tmp_path):
    path = tmp_path / "bench" / "shop-3.jsonl"
    assert earlier_tests(path) == []
    add_to_history(path, result(row("a")))
    with path.open("ab") as file:
        file.write(b'{"schema":"cut off\n')
    add_to_history(path, result(row("b")))
    assert [test.rows[0].row for test in earlier_tests(path)] == ["a", "b"]


@pytest.mark.parametrize("name", ["shop 3/../x", "../../etc", "", "ä"])
def test_a_record_stays_in_its_folder(name, monkeypatch, tmp_path):
    monkeypatch.setenv("LINKCHECK_DATA", str(tmp_path))
    assert history_path(name).parent == tmp_path / "bench"


def test_the_page_is_sound_html_and_escapes_what_an_adapter_says():
    bench_html = pytest.importorskip("linkcheck.report.bench_sheet").bench_html
    nasty = msgspec.structs.replace(CONDITIONS, identity="<script>alert(1)</script>")
    page = bench_html(BenchResult(conditions=nasty, rows=[row("one", "fail")]), ["a < b"])
    html5lib.HTMLParser(strict=True).parse(page)
    assert "<script" not in page
    assert "a &lt; b" in page
    assert "✗ FAIL" in page


@pytest.fixture
def simulate(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("LINKCHECK_DATA", str(tmp_path / "data"))

    def run(*words):
        code = main(["bench", *words])
        return code, *capsys.readouterr()

    return run


def test_faults_are_listed(simulate):
    code, out, _ = simulate("--simulate", "list")
    assert code == 0
    assert "drops-received       drops 1 of 100 frames received" in out


def test_the_command_prints_json_writes_a_sheet_and_keeps_a_record(simulate, tmp_path):
    sheet, record = tmp_path / "sheet.txt", tmp_path / "record.jsonl"
    words = ("--rates", "250k", "--record", str(record), "--sheet", str(sheet), "--strict")
    code, out, _ = simulate("--simulate", "terminator-inside", "--json", *words)
    told = json.loads(out)
    assert code == 1
    assert told["schema"] == "linkcheck.bench/1"
    assert [item["row"] for item in told["rows"] if item["verdict"] == "fail"] == ["termination"]
    code, out, _ = simulate("--simulate", "none", *words)
    assert code == 0
    assert "fail before (120.0 ohm), now pass (38.0 kohm)" in " ".join(out.split())
    assert "emulated adapters, no hardware" in sheet.read_text()
    assert len(record.read_text().splitlines()) == 2


def test_simulated_tests_are_kept_nowhere_unless_asked(simulate, tmp_path):
    simulate("--simulate", "mute")
    assert not (tmp_path / "data").exists()


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["--simulate", "nonsense"], "There is no fault called 'nonsense'"),
        ([], "needs two interfaces"),
        (["serial:/dev/ttyACM0"], "needs two interfaces"),
        (["virtual:x", "virtual:x"], "no vehicle is connected"),
        (["--simulate", "none", "--soak", "0"], "A long run takes some minutes"),
        (["--simulate", "none", "--resume", "x"], "How long is the long run"),
        (["--simulate", "truck-connected"], "This harness is not silent"),
        (["serial:/dev/none-a", "serial:/dev/none-b", "--no-vehicle"], "cannot be opened"),
    ],
)
def test_what_cannot_be_done_is_a_sentence(simulate, words, sentence, monkeypatch):
    monkeypatch.setattr("sys.stdin.isatty", lambda: False, raising=False)
    code, _, told = simulate(*words)
    assert code == 2
    assert sentence in told


def test_a_broken_state_of_a_long_run_is_a_sentence(simulate, tmp_path):
    path = tmp_path / "state.json"
    path.write_text("{")
    code, _, told = simulate("--simulate", "none", "--soak", "1", "--resume", str(path))
    assert code == 2
    assert "no state of a long run" in told


def test_hands_at_a_terminal(monkeypatch, capsys):
    answers = iter(["truck", "bench", "", "n", "4k7", "250 mA", "0.2", "twelve", ""])
    monkeypatch.setattr("builtins.input", lambda _question: next(answers))
    hands = TerminalHands(bench_confirmed=False, work=True)
    assert not hands.no_vehicle()
    assert hands.no_vehicle()
    assert hands.unplug()
    assert not hands.replug()
    assert hands.ohms() == 4700
    assert hands.amps() == pytest.approx(0.25)
    assert hands.amps() == pytest.approx(0.2)
    assert hands.ohms() is None  # "twelve" is refused with a sentence, then left out
    assert "never run on a vehicle" in " ".join(capsys.readouterr().err.split())
