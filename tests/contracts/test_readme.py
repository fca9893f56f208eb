"""What the README shows is what the program prints, and its cautions are there."""

import re
import shlex
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from readme_examples import README, example, in_readme

from linkcheck.cli.main import build_parser


def test_the_picture_of_output_is_real():
    assert in_readme() == example()


def test_every_command_in_a_block_is_one_the_program_accepts():
    words = [shlex.split(found) for found in re.findall(r"\.venv/bin/linkcheck ([^\n&|]+)", README.read_text())]
    assert words
    for arguments in words:
        build_parser().parse_args(arguments)


def test_cautions():
    text = README.read_text()
    for caution in ("chocked", "disconnected", "larger fuse", "orange", "airbag", "service information"):
        assert caution in text
