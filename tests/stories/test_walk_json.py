"""`linkcheck walk --json` as outside programs know it, driven by a technician who reads ngspice's trucks."""

import dataclasses

import numpy as np
import pytest
from against.spice_truck import NGSPICE, Ask, Plain, Untidy, read
from benchmarks.technician import Technician
from stories.walk_runs import Program

from linkcheck.circuit import KNOBS, Equipment, State, sample_trucks, turn
from linkcheck.walk.checks import CHECKS

FAULTS = (
    "feed_fuse_open", "ground_open", "cavity_open:B", "terminator_missing", "terminators_missing",
    "backbone_open:both", "short:can_high-ground", "short:can_low-battery", "short:can_high-can_low", "bit_rate",
    "adapter_data", "j1708_short",
)  # fmt: skip
CHECK_KEYS = {"type", "n", "id", "quantity", "red", "black", "state", "do", "expect", "minutes", "why"}
FINDING_KEYS = {"type", "faults", "confirmed", "readings", "minutes", "repair", "root_cause", "then"}


def test_a_check_has_the_keys_of_the_contract():
    program = Program("--pinout", "9-pin-type-2", "--system", "24")
    check = program.read()
    [finding] = program.end()
    assert set(check) >= CHECK_KEYS
    assert set(check["state"]) == {"key", "battery", "adapter", "fuse", "unplugged"}
    assert set(finding) >= FINDING_KEYS
    assert finding["confirmed"] is False


def test_bad_lines_get_an_error_and_the_same_check_again():
    program = Program()
    first = program.read()
    for bad in (
        "",
        "{",
        "[]",
        "{}",
        '{"reading":null}',
        '{"reading":"purple"}',
        '{"reading":true}',
        "\x00",
        "9" * 20000,
    ):
        program.send(bad)
        assert program.read()["type"] == "error"
        assert program.read() == first
    program.send({"reading": "frames", "comment": "keys that nobody knows"})
    assert program.read()["type"] == "belief"
    assert program.read()["n"] == 2
    assert program.end()[-1]["readings"] == 1


def test_a_skip_goes_to_another_check_with_the_same_belief():
    program = Program()
    first = program.read()
    program.send({"skip": True})
    belief, second = program.read(), program.read()
    assert belief["type"] == "belief"
    assert second["id"] != first["id"]
    program.end()


def test_a_recorded_walk_replays_and_resumes(tmp_path):
    path = tmp_path / "walk.jsonl"
    program = Program("--record", str(path))
    said = [program.read()]
    for answer in ({"reading": "frames"}, {"reading": "120.4"}, {"skip": True}):
        program.send(answer)
        said += [program.read(), program.read()]
    said += program.end()
    assert Program("--script", str(path)).end() == said
    with path.open("a") as record:
        record.write('{"type":"answ')  # the power went
    resumed = Program("--resume", str(path))
    assert resumed.read()["id"] == said[-2]["id"]
    assert resumed.end()[-1]["readings"] == 2


def test_the_first_check_is_the_same_with_and_without_a_table_in_the_cache(tmp_path):
    first = Program("--max-checks", "1", cache=tmp_path)
    cold = first.read()
    first.end()
    second = Program("--max-checks", "1", cache=tmp_path)
    assert second.read() == cold
    second.end()
    [table] = (tmp_path / "linkcheck" / "walk").glob("*.npz")
    table.write_bytes(table.read_bytes()[:1000])
    third = Program("--max-checks", "1", cache=tmp_path)
    assert third.read() == cold
    third.end()


@dataclasses.dataclass
class Lazy:
    """A truck whose checks ngspice reads when they are asked for."""

    plain: Plain
    bit_rate: float

    def get(self, name, _default):
        check = CHECKS[name]
        rate = 750e3 - self.bit_rate if check.other_rate else self.bit_rate
        [value] = read([(self.plain, Ask(check.state, check.red, check.black, check.quantity, rate))])
        return value[0] if check.quantity == "listen" else value

    def items(self):
        return [("volts:B-A:key_off", 12.4), ("ohms:C-D:dead", 60.2)]


@dataclasses.dataclass
class Subject:
    values: Lazy


@pytest.mark.skipif(NGSPICE is None, reason="ngspice is not installed (Debian: apt-get install ngspice)")
@pytest.mark.parametrize("fault", FAULTS)
def test_a_technician_finds_the_fault_of_an_ngspice_truck(fault):
    rng = np.random.default_rng(list(FAULTS).index(fault) + 5)
    truck = turn(sample_trucks(rng, 1, Equipment(shield=False)), KNOBS[fault], rng).trucks
    technician = Technician(Subject(Lazy(Plain.of(truck, 0, Untidy.draw(rng)), 250e3)), seed=3, slip=0.0)
    program = Program("--no-shield")
    while (message := program.read())["type"] != "finding":
        if message["type"] == "check":
            check = CHECKS[message["id"]]
            assert State(**message["state"] | {"adapter": message.get("adapter", "unplugged")}) == check.state
            program.send({"reading": technician.answer(check)})
    program.end()
    assert message["faults"][0]["fault"] == fault
    assert message["readings"] <= 15
