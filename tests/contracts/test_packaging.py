"""What pyproject.toml says about the package, against what is there."""

import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())


def test_every_room_is_packed():
    rooms = {
        path.parent.relative_to(ROOT).as_posix().replace("/", ".") for path in (ROOT / "linkcheck").rglob("__init__.py")
    }
    packed = {name for name in PROJECT["tool"]["setuptools"]["packages"] if ".shipped" not in name}
    assert packed == rooms


def test_locks_pin_every_dependency():
    def pinned(name):
        lines = (ROOT / name).read_text().splitlines()
        return {line.split("==")[0].lower() for line in lines if "==" in line and not line.startswith("#")}

    def names(requirements):
        return {line.split(">")[0].split("[")[0].strip().lower() for line in requirements}

    assert names(PROJECT["project"]["dependencies"]) <= pinned("requirements.lock")
    assert names(PROJECT["project"]["optional-dependencies"]["test"]) <= pinned("requirements-test.lock")
