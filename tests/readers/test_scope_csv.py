"""Scopes' tables in many layouts give the same trace; damaged ones give a sentence with file and line."""

import contextlib
import gzip

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linkcheck.errors import DataError
from linkcheck.readers.scope_csv import read_scope
from linkcheck.verdict.waveform import read_waveform

STEP_S = 50e-9
TIMES = np.arange(400) * STEP_S
HIGH = np.where((np.arange(400) // 80) % 2, 3.5, 2.5)
LOW = np.where((np.arange(400) // 80) % 2, 1.5, 2.5)


def rows(pattern, *, unit=1.0, volts=1.0, comma=False):
    lines = [pattern.format(t=t / unit, h=h / volts, x=x / volts) for t, h, x in zip(TIMES, HIGH, LOW, strict=True)]
    return [line.replace(".", ",") for line in lines] if comma else lines


LAYOUTS = {
    "commas, one line of names": ["Time (s),CAN high (V),CAN low (V)", *rows("{t:.9e},{h:.3f},{x:.3f}")],
    "no head at all, seconds": rows("{t:.9f},{h:.3f},{x:.3f}"),
    "spaces after commas": ["time, high, low", *rows("{t:.9f}, {h:.3f}, {x:.3f}")],
    "semicolons and decimal commas": [
        "Zeit;CAN_H;CAN_L",
        "us;V;V",
        *rows("{t:.3f};{h:.3f};{x:.3f}", unit=1e-6, comma=True),
    ],
    "tabs, milliseconds": ["t [ms]\tCANH [V]\tCANL [V]", *rows("{t:.6f}\t{h:.3f}\t{x:.3f}", unit=1e-3)],
    "white space": ["x  high  low", *rows("{t:.9f}   {h:.3f}   {x:.3f}")],
    "millivolts": ["time_us,CAN-H (mV),CAN-L (mV)", *rows("{t:.3f},{h:.0f},{x:.0f}", unit=1e-6, volts=1e-3)],
    "low before high": ["Time,CAN low,CAN high", "(ns),(V),(V)", *rows("{t:.1f},{x:.3f},{h:.3f}", unit=1e-9)],
    "quotes and decimal commas": ['"Time (ms)","high","low"', *rows('"{t:.6f}","{h:.3f}","{x:.3f}"', unit=1e-3)],
    "many lines above": ["Model,none", "Points,400", "", "Note,invented", "s,V,V", *rows("{t:.9f},{h:.3f},{x:.3f}")],
    "interval instead of times": ["Sample interval,5e-8", "high,low", *rows("{h:.3f},{x:.3f}")],
    "a counter before the times": [
        "n,time (us),high,low",
        *(f"{n},{line}" for n, line in enumerate(rows("{t:.3f},{h:.3f},{x:.3f}", unit=1e-6))),
    ],
    "times twice": ["t1 (s),high,t2 (s),low", *rows("{t:.9f},{h:.3f},{t:.9f},{x:.3f}")],
    "text beside the numbers": ["note,time (s),high,low", *(f"a,{line}" for line in rows("{t:.9f},{h:.3f},{x:.3f}"))],
}
LAYOUTS["quotes and decimal commas"][1:] = [line.replace(".", ",") for line in LAYOUTS["quotes and decimal commas"][1:]]


def written(tmp_path, lines, name="trace.csv", ending="\n", encoding="utf-8"):
    path = tmp_path / name
    path.write_bytes(ending.join([*lines, ""]).encode(encoding))
    return str(path)


def same(wave):
    assert wave.step_s == pytest.approx(STEP_S, rel=1e-3)
    assert np.allclose(wave.high_volts, HIGH)
    assert np.allclose(wave.low_volts, LOW)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_layout(tmp_path, layout):
    same(read_scope(written(tmp_path, LAYOUTS[layout])).wave)


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "latin-1"])
def test_encodings_and_line_ends(tmp_path, encoding):
    lines = ["Time (µs),high,low", *rows("{t:.3f},{h:.3f},{x:.3f}", unit=1e-6)]
    same(read_scope(written(tmp_path, lines, ending="\r\n", encoding=encoding)).wave)


def test_packed(tmp_path):
    path = tmp_path / "trace.csv.gz"
    path.write_bytes(gzip.compress("\n".join(LAYOUTS["commas, one line of names"]).encode()))
    same(read_scope(str(path)).wave)


def test_a_last_line_cut_short_is_left_out_and_told(tmp_path):
    found = read_scope(written(tmp_path, [*LAYOUTS["commas, one line of names"], "2.0000e-"]))
    same(found.wave)
    assert "402" in " ".join(found.notes)


def test_times_without_unit_are_guessed_and_told(tmp_path):
    found = read_scope(written(tmp_path, ["time,high,low", *rows("{t:.6f},{h:.3f},{x:.3f}", unit=1e-3)]), "ms")
    same(found.wave)
    guessed = read_scope(written(tmp_path, ["time,high,low", *rows("{t:.9f},{h:.3f},{x:.3f}")]))
    same(guessed.wave)
    assert any("unit of time" in note for note in guessed.notes)


def test_columns_without_names_are_told(tmp_path):
    found = read_scope(written(tmp_path, LAYOUTS["no head at all, seconds"]))
    assert any("taken in that order" in note for note in found.notes)


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        (["nothing", "but", "words"], "No table"),
        (["time,volts", *(f"{t:.9f},2.5" for t in TIMES)], "CAN high and CAN low"),
        (["a,b,c", *(f"{(-1) ** n},2.5,2.5" for n in range(200))], "No column rises"),
        ([*LAYOUTS["commas, one line of names"][:200], "1e-5,OVER,1.5", *rows("{t:.9e},{h:.3f},{x:.3f}")], "line 201"),
        (["time (s),high,low", *rows("{t:.9f},{h:.3f},{x:.3f}"), *rows("{t:.9f},{h:.3f},{x:.3f}")], "backward"),
        (["time,high,low", *(f"{n * 30000},2.5,2.5" for n in range(200))], "--time-unit"),
        (["time (s),high,low", *rows("{t:.9f},{h:.3f},{x:.3f}")[:20]], "20 samples"),
    ],
)
def test_what_cannot_be_used_gets_a_sentence(tmp_path, lines, says):
    path = written(tmp_path, lines)
    with pytest.raises(DataError, match=says) as caught:
        read_scope(path)
    assert "trace.csv" in caught.value.sentence
    assert caught.value.todo


def test_a_file_that_is_no_text(tmp_path):
    path = tmp_path / "trace.csv"
    path.write_bytes(bytes(range(256)) * 50)
    with pytest.raises(DataError):
        read_scope(str(path))


@settings(deadline=None, max_examples=150)
@given(st.data())
def test_damage_gives_a_trace_or_a_sentence(tmp_path_factory, data):
    text = "\n".join(data.draw(st.sampled_from(list(LAYOUTS.values()))))
    place = data.draw(st.integers(0, len(text)))
    broken = text[:place] + data.draw(st.text(max_size=12)) + text[place + data.draw(st.integers(0, 40)) :]
    path = tmp_path_factory.getbasetemp() / "broken.csv"
    path.write_bytes(broken[: data.draw(st.integers(0, len(broken)))].encode("utf-8", "surrogatepass"))
    with contextlib.suppress(DataError):
        read_waveform(read_scope(str(path)).wave)
