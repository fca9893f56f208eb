"""gzip and zstd: whole, in members, cut short anywhere, damaged."""

import gzip
import io

import pytest
import zstandard
from reading import read

from linkcheck.errors import DataError
from linkcheck.readers.compression import compression_of, decompressed
from linkcheck.readers.source import open_source

LINES = [f"({1436509052 + i * 0.001:.6f}) can0 18FEF1{i % 256:02X}#{i:016X}\n" for i in range(3000)]
TEXT = "".join(LINES).encode()
PACK = {"gzip": gzip.compress, "zstd": zstandard.compress}


def plain(data, name):
    notes = []
    stream = decompressed(io.BytesIO(data), name, notes)
    try:
        return stream.readall(), notes
    finally:
        stream.close()


@pytest.mark.parametrize("name", PACK)
def test_members_follow_each_other(name):
    pack = PACK[name]
    data = pack(TEXT) + pack(b"") + pack(TEXT[:100]) + b"\0" * 512
    assert compression_of(data) == name
    assert plain(data, name) == (TEXT + TEXT[:100], [])


@pytest.mark.parametrize("name", PACK)
def test_cut_at_every_byte_of_the_last_kilobyte(name):
    data = PACK[name](TEXT)
    for end in range(len(data) - 1024, len(data)):
        content, notes = plain(data[:end], name)
        assert TEXT.startswith(content)
        assert notes == [f"the {name} file is cut short; what could be read is used"]


@pytest.mark.parametrize("name", PACK)
def test_most_of_a_file_cut_short_is_used(name):
    data = PACK[name](TEXT * 50)
    content, _ = plain(data[:-8], name)
    assert len(content) > 0.9 * len(TEXT * 50)


@pytest.mark.parametrize("name", PACK)
def test_damage_in_the_middle(name):
    data = bytearray(PACK[name](TEXT))
    data[len(data) // 2] ^= 0xFF
    _, notes = plain(bytes(data), name)
    assert len(notes) == 1
    assert notes[0].startswith(f"the {name} file is damaged")


@pytest.mark.parametrize("name", PACK)
def test_rubbish_behind_the_end_is_noted(name):
    content, notes = plain(PACK[name](TEXT) + b"rubbish", name)
    assert content == TEXT
    assert len(notes) == 1


@pytest.mark.parametrize("name", PACK)
def test_content_that_packs_extremely_well_comes_in_bounded_pieces(name):
    size = 200 << 20
    stream = decompressed(io.BytesIO(PACK[name](bytes(size))), name, [])
    largest = total = 0
    buffer = bytearray(size)
    while n := stream.readinto(buffer):
        largest, total = max(largest, n), total + n
    stream.close()
    assert total == size
    assert largest <= 34 << 20


@pytest.mark.parametrize("name", PACK)
def test_the_suffix_does_not_matter(name, tmp_path):
    (tmp_path / "drive.log").write_bytes(PACK[name](TEXT))
    found, capture = read(tmp_path / "drive.log")
    assert len(found) == len(LINES)
    assert capture.format == f"candump log, {name}"
    assert capture.progress == 1.0


@pytest.mark.parametrize("name", PACK)
def test_a_capture_cut_short_says_so(name, tmp_path):
    (tmp_path / "drive").write_bytes(PACK[name](TEXT * 20)[:-100])
    found, capture = read(tmp_path / "drive")
    assert found
    assert f"the {name} file is cut short; what could be read is used" in capture.tally.notes


@pytest.mark.parametrize("name", PACK)
def test_nothing_readable_is_an_error(name, tmp_path):
    (tmp_path / "drive").write_bytes(PACK[name](TEXT)[:12])
    with pytest.raises(DataError, match=f"{name} file holds nothing"):
        open_source(str(tmp_path / "drive"))


def test_progress_is_that_of_the_packed_file(tmp_path):
    text = b"".join(
        b"(%d.%06d) can0 123#%016X\n" % (i, i * 7919 % 10**6, i * i * 2654435761 % 2**64) for i in range(10**5)
    )
    (tmp_path / "drive").write_bytes(gzip.compress(text))
    source = open_source(str(tmp_path / "drive"))
    seen = []
    while source.stream.read(1 << 19):
        seen.append(source.progress)
    source.close()
    assert seen == sorted(seen)
    assert 0 < seen[0] < 1
    assert seen[-1] == 1
