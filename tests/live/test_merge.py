"""Several ports as one stream."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.frames.records import RECORD_FORMAT
from linkcheck.live.merge import Merge

NAMES = ("can0", "can1", "can2")


@given(st.lists(st.lists(st.integers(0, 50), max_size=30), min_size=3, max_size=3), st.integers(1, 7))
def test_time_never_goes_back_and_nothing_is_lost_or_doubled(gaps, size):
    """However the ports' blocks come, as long as each port's own records are in order and it says how far it is."""
    times = [np.cumsum(port).tolist() for port in gaps]
    merge, now, got = Merge(NAMES), [0, 0, 0], []
    for block in range(0, 30, size):
        for number, mine in enumerate(times):
            part = mine[block : block + size]
            merge.add(number, b"".join(RECORD_FORMAT.pack(t, t, 0, 0, 0, b"") for t in part))
            now[number] = part[-1] - 1 if part else 10**6
            batch = merge.take(min(now))
            got += list(zip(batch.time_ns.tolist(), batch.channel.tolist(), strict=True))
    batch = merge.take(None)
    got += list(zip(batch.time_ns.tolist(), batch.channel.tolist(), strict=True))
    assert [t for t, _ in got] == sorted(t for t, _ in got)
    assert sorted(got) == sorted((t, number) for number, mine in enumerate(times) for t in mine)
