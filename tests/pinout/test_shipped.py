"""The shipped pinouts against the published assignment, and against the wrong tables that go around.

Reference: SAE J1939-13 as restated at pinoutguide.com (SAE J1708 page): A battery -, B battery +, C CAN high,
D CAN low, E CAN shield, F J1708 +, G J1708 -; pairs A-B, C-D, F-G. SAE J1962: 4 chassis ground, 5 signal ground,
6 CAN high, 14 CAN low, 16 battery +; two rows of eight.
"""

import pytest

from linkcheck.pinout import Pinout, Role, Vehicle, find_pinout, list_pinouts, load_file, load_pinout, load_vehicle

NINE = ("9-pin-type-1", "9-pin-type-2")
CONNECTORS = (*NINE, "6-pin", "16-pin-j1962")


@pytest.fixture(autouse=True)
def _no_files_of_the_user(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))


def roles(name):
    return {cavity.label: cavity.role.value for cavity in load_pinout(find_pinout(name)).cavities}


@pytest.mark.parametrize("path", list_pinouts(), ids=lambda path: path.stem)
def test_every_shipped_file_loads(path):
    assert isinstance(load_file(path), Pinout | Vehicle)


@pytest.mark.parametrize("name", NINE)
def test_nine_pin_is_the_published_assignment(name):
    assert roles(name) == {
        "A": "battery_negative",
        "B": "battery_positive",
        "C": "can_high",
        "D": "can_low",
        "E": "shield",
        "F": "j1708_plus",
        "G": "j1708_minus",
        "H": "maker_specific",
        "J": "maker_specific",
    }


@pytest.mark.parametrize("name", NINE)
@pytest.mark.parametrize(
    "wrong",
    [
        {"A": "can_high", "B": "can_low", "C": "battery_negative", "D": "battery_positive", "F": "battery_positive"},
        {"6": "can_high", "14": "can_low"},
        {"A": "battery_positive", "B": "battery_negative"},
        {"C": "can_low", "D": "can_high"},
        {"F": "j1708_minus", "G": "j1708_plus"},
    ],
    ids=["A is CAN high", "6 and 14", "A and B reversed", "C and D reversed", "F and G reversed"],
)
def test_none_of_the_wrong_tables_has_crept_in(name, wrong):
    assert not wrong.items() & roles(name).items()


@pytest.mark.parametrize(("name", "bit_rate"), [("9-pin-type-1", 250_000), ("9-pin-type-2", 500_000)])
def test_shell_type_and_bit_rate(name, bit_rate):
    # Type I black or grey: J1939-11/-15 at 250 kbit/s; type II green: J1939-14 at 500 kbit/s.
    (network,) = load_pinout(find_pinout(name)).networks
    assert network.bit_rate == bit_rate


def test_battery_positive_of_the_nine_pin_has_the_published_10_ampere_fuse():
    assert load_pinout(find_pinout("9-pin-type-1")).cavity("B").fuse.rating_amps == 10


def test_six_pin_has_j1708_and_no_can():
    # Older engine service texts agree: A data +, B data -, C battery +, E ground; D and F not used.
    assert roles("6-pin") == {
        "A": "j1708_plus",
        "B": "j1708_minus",
        "C": "battery_positive",
        "D": "unused",
        "E": "battery_negative",
        "F": "unused",
    }


def test_sixteen_pin_is_j1962_and_not_a_nine_pin():
    found = roles("16-pin-j1962")
    assert found.keys() == {str(number) for number in range(1, 17)}
    assert [found[label] for label in ("4", "5", "6", "14", "16")] == [
        "battery_negative",
        "signal_ground",
        "can_high",
        "can_low",
        "battery_positive",
    ]


def test_sixteen_pin_face_is_one_to_eight_over_nine_to_sixteen():
    cavities = {int(cavity.label): cavity for cavity in load_pinout(find_pinout("16-pin-j1962")).cavities}
    for left in (*range(1, 8), *range(9, 16)):
        assert cavities[left].x < cavities[left + 1].x
        assert cavities[left].y == cavities[left + 1].y
    assert cavities[1].y > cavities[9].y
    assert all(cavities[number].x == cavities[number + 8].x for number in range(1, 9))


@pytest.mark.parametrize(("name", "middle"), [("9-pin-type-1", "J"), ("9-pin-type-2", "J"), ("6-pin", "F")])
def test_round_faces_have_one_cavity_in_the_middle_and_the_rest_evenly_around(name, middle):
    cavities = load_pinout(find_pinout(name)).cavities
    around = [cavity for cavity in cavities if cavity.label != middle]
    assert all((cavity.x, cavity.y) == (0, 0) for cavity in cavities if cavity.label == middle)
    assert all(0.68 < (cavity.x**2 + cavity.y**2) ** 0.5 < 0.76 for cavity in around)


@pytest.mark.parametrize("name", CONNECTORS)
def test_every_connector_checks_its_battery_on_12_and_24_volts(name):
    pinout = load_pinout(find_pinout(name))
    plus = next(cavity.label for cavity in pinout.cavities if cavity.role == Role.BATTERY_POSITIVE)
    minus = next(cavity.label for cavity in pinout.cavities if cavity.role == Role.BATTERY_NEGATIVE)
    bands = {check.system_volts: check for check in pinout.checks if (check.red, check.black) == (plus, minus)}
    # Lead-acid at rest: 12.6 V is full, 12.2 V half; 24 V is two of them in series.
    assert (bands[12].low, bands[12].typical) == (12.2, 12.6)
    assert (bands[24].low, bands[24].typical) == (24.4, 25.2)


@pytest.mark.parametrize("name", ["9-pin-type-1", "9-pin-type-2", "16-pin-j1962"])
def test_can_pair_reads_what_two_terminators_make(name):
    pinout = load_pinout(find_pinout(name))
    high = next(cavity.label for cavity in pinout.cavities if cavity.role == Role.CAN_HIGH)
    low = next(cavity.label for cavity in pinout.cavities if cavity.role == Role.CAN_LOW)
    (check,) = [check for check in pinout.checks if (check.red, check.black, check.quantity) == (high, low, "ohms")]
    # Two of 110, of 120, and of 130 ohm in parallel.
    assert (check.low, check.typical, check.high) == (110 / 2, 120 / 2, 130 / 2)


@pytest.mark.parametrize("name", CONNECTORS)
def test_ohms_are_never_asked_for_with_the_battery_on(name):
    assert {check.power for check in load_pinout(find_pinout(name)).checks if check.quantity == "ohms"} == {
        "battery_off"
    }


def test_gauges_have_the_copper_of_the_published_table():
    # AWG 16 is 1.309 mm², AWG 18 is 0.823 mm² (ASTM B258 tables).
    pinout = load_pinout(find_pinout("9-pin-type-1"))
    assert pinout.cavity("A").wire.area_mm2 == pytest.approx(1.309, abs=5e-4)
    assert pinout.cavity("F").wire.area_mm2 == pytest.approx(0.823, abs=5e-4)


def test_example_truck_has_the_usual_addresses():
    # SAE J1939 preferred addresses: 0 engine, 3 transmission, 11 brakes, 15 retarder, 33 body, 49 cab controller.
    truck = load_vehicle(find_pinout("example-truck"))
    assert truck.addresses(1) == {0, 3, 11, 15, 33, 49}
    assert (truck.system_volts, truck.networks[0].bit_rate, len(truck.terminators)) == (12, 250_000, 2)
    assert find_pinout(truck.pinout).stem == "9-pin-type-1"
