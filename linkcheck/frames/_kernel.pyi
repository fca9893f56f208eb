# The compiled kernel; see _kernel.c. Arrays must be contiguous and of the types of the columns they stand for.
from typing_extensions import Buffer

# Parse whole lines of text[begin:end] into rows `frames` to `room`: bytes consumed, frames, wide frames, channels, then
# the lines, comments, skipped and odd lines of this call.
def parse(
    text: Buffer,
    begin: int,
    end: int,
    time_ns: Buffer,
    channel: Buffer,
    identifier: Buffer,
    flags: Buffer,
    length: Buffer,
    data: Buffer,
    wide_rows: Buffer,
    wide_data: Buffer,
    frames: int,
    room: int,
    wide: int,
    names: Buffer,
    channels: int,
    odd: Buffer,
    keep: int,
    /,
) -> tuple[int, int, int, int, int, int, int, int]: ...

# Mark rows `row` to `n`: the first row not marked, the number of keys, whether there are fast bits.
def annotate(row: int, n: int, wide: int, /, *arrays_and_counts: Buffer | int) -> tuple[int, int, int]: ...

# Copy the keys into a larger, empty table.
def move_keys(table: Buffer, larger: Buffer, /) -> None: ...

# Count n marked frames into tables by key.
def count(n: int, keys: int, histograms: int, bins: int, shift: int, lowest: int, /, *arrays: Buffer) -> None: ...
