"""A wrong file is refused with all its problems: line, key, value and what is allowed. Nothing else escapes."""

import contextlib
import re
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linkcheck.errors import DataError
from linkcheck.pinout import (
    find_pinout,
    list_pinouts,
    load_file,
    load_pinout,
    load_vehicle,
    shipped_folder,
    user_folder,
)

GOOD = (shipped_folder("pinouts") / "9-pin-type-1.toml").read_text(encoding="utf-8")
TRUCK = (shipped_folder("pinouts") / "example-truck.toml").read_text(encoding="utf-8")


@pytest.fixture
def problems(tmp_path):
    def problems(text):
        path = tmp_path / "mine.toml"
        path.write_text(text, encoding="utf-8")
        with pytest.raises(DataError) as caught:
            load_file(path)
        first, *rest = caught.value.sentence.splitlines()
        assert first.startswith(str(path))
        return [line.strip() for line in rest]

    return problems


def changed(old, new, text=GOOD, count=1):
    assert old in text
    return text.replace(old, new, count)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (
            '"battery_negative"',
            '"batery_negative"',
            ('"batery_negative"', 'did you mean "battery_negative"?', "shield"),
        ),
        ("face_source =", "face_sauce =", ('"face_sauce"', 'did you mean "face_source"?')),
        ('shape = "circle"', 'shape = "round"', ('"round"', "circle, trapezoid, rectangle")),
        ('low = "55 ohm"', 'low = "55 V"', ('"low"', "55 V", "ohm")),
        ('low = "55 ohm"', "low = 55", ('"low"', "55", '"60 ohm"')),
        ('low = "55 ohm"', 'low = "75 ohm"', ('"low"', "ascending")),
        ('bit_rate = "250 kbit/s"', 'bit_rate = "250 bit/s"', ('"bit_rate"', "10 kbit/s to 1000 kbit/s")),
        ('bit_rate = "250 kbit/s"', 'bit_rate = "250 kHz"', ('"bit_rate"', "250 kHz")),
        ('rating = "10 A"', 'rating = "10 V"', ('"fuse"', "rating", "10 V")),
        ('gauge = "16 AWG"', 'gauge = "thick"', ('"wire"', "thick", "18 AWG")),
        ("x = 0.28", "x = 2.8", ('"x"', "2.8", "from -1 to 1")),
        ("x = 0.67\ny = 0.28", "x = 0.28\ny = 0.67", ('"x"', "sits on cavity A")),
        ("x = 0.28", "x = nan", ('"x"', "nan")),
        ("x = 0.28", "x = true", ('"x"', "true", "from -1 to 1")),
        ('label = "B"', 'label = "A"', ('"label"', 'two cavities "A"')),
        ('label = "B"', 'label = "B+"', ('"label"', "one to three letters or digits")),
        ('role = "can_low"', 'role = "can_high"', ('"role"', "already can_high")),
        ("network = 1", "network = 2", ('"network"', "number 2")),
        ('power = "battery_off"\nlow = "55', 'power = "key_on"\nlow = "55', ('"power"', "not safe for ohms")),
        ('red = "B"', 'red = "K"', ('"red"', '"K"', "chassis")),
        ('black = "A"', 'black = "B"', ('"black"', "both leads")),
        ('system_voltage = "12 V"', 'system_voltage = "48 V"', ('"system_voltage"', "48 V", '"12 V", "24 V"')),
        ('source = "common practice, no source"', 'source = ""', ("source", "empty")),
    ],
)
def test_each_mistake_names_its_line_key_value_and_remedy(problems, old, new, words):
    text = changed(old, new)
    found = problems(text)
    assert any(all(word in problem for word in words) for problem in found), found
    line = 1 + GOOD[: GOOD.index(old)].count("\n")
    lines = [int(number) for problem in found for number in re.findall(r"line (\d+)", problem)]
    assert any(line <= number <= line + 1 for number in lines), (line, found)


def test_all_problems_come_at_once(problems):
    text = changed('"battery_negative"', '"minus"')
    text = changed('rating = "10 A"', 'rating = "ten"', text)
    text = changed("y = -0.28", 'y = "low"', text)
    found = problems(text)
    assert len(found) == 3
    assert [problem.split(", ")[1] for problem in found] == ['cavity "A"', 'cavity "B"', 'cavity "C"']


def test_a_missing_key_points_at_its_table(problems):
    text = changed('label = "A"\n', "")
    header = 1 + text[: text.index("[[cavity]]")].count("\n")
    assert f'line {header}, cavity 1, key "label": missing' in problems(text)[0]


def test_a_lone_can_wire_is_no_pair(problems):
    assert any(
        "needs a can_low" in problem
        for problem in problems(changed('role = "can_low"\nnetwork = 1', 'role = "unused"'))
    )


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("address = 3", "address = 0", ('"address"', "used twice")),
        ("address = 3", "address = 254", ('"address"', "254", "0 to 253")),
        ('resistance = "120 ohm"', 'resistance = "0 ohm"', ('"resistance"', "more than 0")),
        ("[[module]]", "[[modul]]", ('"modul"', 'did you mean "module"?')),
    ],
)
def test_mistakes_of_a_vehicle(problems, old, new, words):
    found = problems(changed(old, new, TRUCK))
    assert any(all(word in problem for word in words) for problem in found), found


def test_a_file_that_is_not_toml_says_where(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text("kind = connector\n")
    with pytest.raises(DataError, match=r"not TOML.*line 1"):
        load_file(path)


@pytest.mark.parametrize(
    "content", [b"\xff\xfe", b"a = " + b"[" * 5000, b"a = 0x" + b"f" * 9000, b"a = " + b"9" * 9000, b""]
)
def test_odd_files_are_refused_with_a_sentence(tmp_path, content):
    path = tmp_path / "odd.toml"
    path.write_bytes(content)
    with pytest.raises(DataError):
        load_file(path)


def test_what_is_no_file_is_refused_with_a_sentence(tmp_path):
    for path in (tmp_path, tmp_path / "none.toml", tmp_path / ("long" * 100 + ".toml")):
        with pytest.raises(DataError, match="cannot be read"):
            load_file(find_pinout(str(path)))


def test_the_wrong_kind_of_file_is_named():
    with pytest.raises(DataError, match="not a connector"):
        load_pinout(find_pinout("example-truck"))
    with pytest.raises(DataError, match="not a vehicle"):
        load_vehicle(find_pinout("6-pin"))


def test_a_users_file_is_found_by_name_and_takes_the_place_of_a_shipped_one(monkeypatch, tmp_path):
    monkeypatch.setattr("linkcheck.pinout.load.user_config_dir", lambda _: str(tmp_path))
    own = tmp_path / "pinouts" / "6-pin.toml"
    own.parent.mkdir()
    own.write_text(GOOD, encoding="utf-8")
    assert user_folder() == own.parent
    assert find_pinout("6-pin") == own
    assert [path.stem for path in list_pinouts()].count("6-pin") == 1
    assert find_pinout(str(own)) == own


def test_an_unknown_name_lists_the_names_and_the_nearest():
    with pytest.raises(DataError, match=r'only .*9-pin-type-1.*Did you mean "9-pin-type-1"'):
        find_pinout("9pin-type-1")


def test_the_examples_of_the_readme_load(tmp_path):
    text = (shipped_folder("pinouts") / "README.md").read_text(encoding="utf-8")
    examples = re.findall(r"```toml\n(.*?)```", text, re.DOTALL)
    assert len(examples) == 2
    for example in examples:
        path = tmp_path / "example.toml"
        path.write_text(example, encoding="utf-8")
        assert load_file(path).title == tomllib.loads(example)["title"]


pieces = st.sampled_from(
    ["", '"', "=", "[[cavity]]", "[", "]", "{", "nan", "-1", "9e999", "1979-05-27", '"60 V"', "[1, 2]", "\\", "\0", "é"]
)


@settings(max_examples=150, deadline=None)
@given(st.sampled_from([GOOD, TRUCK]), st.integers(0, 12_000), st.integers(0, 60), pieces)
def test_damaged_files_raise_nothing_but_the_documented_error(tmp_path_factory, text, start, length, piece):
    start %= len(text)
    path = tmp_path_factory.getbasetemp() / "damaged.toml"
    path.write_text(text[:start] + piece + text[start + length :], encoding="utf-8")
    with contextlib.suppress(DataError):
        load_file(path)


values = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=8)).map(
        lambda value: "0" if value is None else str(value).lower() if isinstance(value, bool | float) else value
    ),
    lambda inner: st.lists(inner, max_size=2),
    max_leaves=3,
)


@settings(max_examples=150, deadline=None)
@given(st.sampled_from([GOOD, TRUCK]), st.integers(0), values)
def test_any_value_at_any_key_raises_nothing_but_the_documented_error(tmp_path_factory, text, which, value):
    lines = text.splitlines()
    keys = [number for number, line in enumerate(lines) if " = " in line and not line.startswith("#")]
    number = keys[which % len(keys)]
    shown = repr(value).replace("'", '"') if not isinstance(value, str) else f'"{value}"'
    lines[number] = f"{lines[number].split(' = ')[0]} = {shown}"
    path = tmp_path_factory.getbasetemp() / "odd.toml"
    path.write_text("\n".join(lines), encoding="utf-8", errors="replace")
    with contextlib.suppress(DataError):
        load_file(path)
