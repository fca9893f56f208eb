"""Captures as plain rows, for comparing."""

from linkcheck.readers import open_capture


def rows(batches):
    """(time_ns, channel name, identifier, flags, length, payload) of every frame."""
    return [
        (
            int(batch.time_ns[i]),
            batch.channels[batch.channel[i]],
            int(batch.identifier[i]),
            int(batch.flags[i]),
            int(batch.length[i]),
            batch.payload(i),
        )
        for batch in batches
        for i in range(len(batch))
    ]


def read(path, **options):
    """A file's rows and its tally, which must add up."""
    capture = open_capture(str(path), **options)
    try:
        found = rows(capture.batches())
    finally:
        capture.close()
    assert_adds_up(capture.tally, found)
    return found, capture


def assert_adds_up(tally, found):
    assert tally.frames == len(found)
    assert tally.lines == tally.frames + tally.skipped + tally.comments
    assert len(tally.skipped_lines) == min(1000, tally.skipped)
    assert all(1 <= skip.line <= tally.lines and skip.reason for skip in tally.skipped_lines)
