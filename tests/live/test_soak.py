"""The short form of the soak: random trouble, no crash, every event in the record."""

from soak import soak


def test_random_trouble_ends_nothing_and_is_all_in_the_record(tmp_path):
    said, missing, capture, result = soak(30.0, 5, tmp_path)
    assert len(said) >= 5
    assert missing == []
    assert set(result.channels) == {"can0", "can1"}
    assert capture.recorder.problem == ""
    assert all(count.ours == 0 for count in capture.counters().values())
