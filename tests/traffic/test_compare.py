"""Before and after, on invented trucks whose difference is known."""

import pytest

from linkcheck.errors import UsageError
from linkcheck.practice import simulate
from linkcheck.traffic import Analysis, Options
from linkcheck.traffic.compare import compare
from linkcheck.traffic.compare_page import comparison_page


def result(scenario, **words):
    analysis = Analysis(Options())
    analysis.eat(simulate(scenario, **words).batch)
    return analysis.result({"path": scenario})


@pytest.fixture(scope="module")
def healthy():
    return result("healthy", seconds=20)


def told(comparison, kind):
    return [(change.verdict, change.text) for change in comparison.changes if change.kind == kind]


def test_a_capture_against_itself_has_no_difference(healthy):
    assert compare(healthy, healthy).changes == []


def test_a_module_that_went_mute_is_gone_and_its_return_is_better(healthy):
    mute = result("module-mute", seconds=20)
    assert any(verdict == "worse" and text.startswith("11 ") for verdict, text in told(compare(healthy, mute), "who"))
    assert any(verdict == "better" and text.startswith("11 ") for verdict, text in told(compare(mute, healthy), "who"))


def test_errors_and_silences_are_told_both_ways(healthy):
    loose = result("loose-plug", seconds=30)
    there, back = compare(healthy, loose), compare(loose, healthy)
    assert {verdict for verdict, _ in told(there, "errors")} <= {"worse"}
    kinds = {change.kind for change in there.changes if change.verdict == "worse"}
    assert kinds & {"errors", "silence", "period"}
    assert {change.kind for change in back.changes if change.verdict == "better"} & kinds


def test_a_dead_retarder_code_is_a_new_code(healthy):
    mute = result("module-mute", seconds=20)
    assert any("new code" in text for _, text in told(compare(healthy, mute), "code"))
    assert any("code gone" in text for _, text in told(compare(mute, healthy), "code"))


def test_the_same_truck_for_half_as_long_is_not_called_worse():
    long, short = result("healthy", seconds=40), result("healthy", seconds=20)
    assert [change.text for change in compare(long, short).changes if change.verdict == "worse"] == []


def test_which_channel_must_be_clear(healthy):
    two = result("two-channels", seconds=10)
    with pytest.raises(UsageError):
        compare(two, two)
    assert compare(two, two, ("can0", "can0")).changes == []
    assert compare(healthy, two).after.endswith("can0")


def test_the_page_says_it_in_eighty_columns(healthy):
    text = comparison_page(compare(healthy, result("module-mute", seconds=20)), 80)
    assert max(map(len, text.splitlines())) <= 80
    assert "WORSE" in text
