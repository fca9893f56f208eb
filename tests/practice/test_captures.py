"""The shipped captures are the generator's output, byte for byte, and their page says how each was made."""

import gzip
import re
from pathlib import Path

import pytest
from practice_recordings import NAMES, recording

from linkcheck.readers.candump import format_candump

FOLDER = Path(__file__).parents[2] / "captures"
PAGE = (FOLDER / "README.md").read_text(encoding="utf-8")


def shipped(name):
    plain, zipped = FOLDER / f"{name}.log", FOLDER / f"{name}.log.gz"
    return plain.read_bytes() if plain.exists() else gzip.decompress(zipped.read_bytes())


@pytest.mark.parametrize("name", NAMES)
def test_capture_is_what_the_generator_makes(name):
    assert shipped(name) == format_candump(recording(name).batch)


def test_every_file_has_a_command_on_the_page_and_the_other_way_round():
    commands = re.findall(r"^linkcheck simulate ([\w-]+) -o captures/([\w.-]+)$", PAGE, re.MULTILINE)
    assert all(path.removesuffix(".gz") == f"{name}.log" for name, path in commands)
    assert sorted(path for _, path in commands) == sorted(path.name for path in FOLDER.glob("*.log*"))
    assert sorted(name for name, _ in commands) == sorted(NAMES)


def test_the_two_first_ones_are_plain_text_and_all_together_small():
    assert (FOLDER / "healthy.log").exists()
    assert (FOLDER / "drops-over-bumps.log").exists()
    assert sum(path.stat().st_size for path in FOLDER.iterdir()) < 3_000_000
