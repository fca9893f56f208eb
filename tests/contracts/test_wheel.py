"""What a user installs: the wheel with its shipped data, with and without a C compiler."""

import json
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def wheel(folder, **environment):
    """Build a wheel from a clean copy of the tracked files; skip where nothing can be fetched to build with."""
    source = folder / "source"
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode:
        pytest.skip("not a git clone: no list of tracked files to build from")
    for name in filter(None, listed.stdout.split("\0")):
        if (ROOT / name).is_file():
            (source / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(ROOT / name, source / name)
    command = [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "-w", str(folder), str(source)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, env={**os.environ, **environment})
    assert done.returncode == 0, done.stderr
    (path,) = folder.glob("*.whl")
    return path


def replay(folder, path):
    """Unpack a wheel and run it on its own shipped capture, with nothing of the source tree in reach."""
    zipfile.ZipFile(path).extractall(folder / "installed")
    code = (
        "import sys; sys.path.insert(0, sys.argv.pop(1))\n"
        "from linkcheck.pinout.load import shipped_folder\n"
        "from linkcheck.cli.main import main\n"
        "assert 'installed' in str(shipped_folder('captures'))\n"
        "sys.exit(main(['replay', str(shipped_folder('captures') / 'healthy.log'), '--json']))\n"
    )
    command = [sys.executable, "-c", code, str(folder / "installed")]
    return subprocess.run(command, capture_output=True, text=True, check=True, cwd=folder)


def test_with_a_compiler(tmp_path):
    if not (shutil.which("gcc") or shutil.which("cc")):
        pytest.skip("no C compiler here")
    path = wheel(tmp_path)
    names = zipfile.ZipFile(path).namelist()
    assert any(name.endswith("abi3.so") for name in names)
    assert "abi3" in path.name
    for wanted in ("linkcheck/shipped/pinouts/9-pin-type-1.toml", "linkcheck/shipped/captures/healthy.log"):
        assert wanted in names
    assert "linkcheck/py.typed" in names
    done = replay(tmp_path, path)
    assert json.loads(done.stdout)["source"]["kernel"] == "compiled kernel"
    assert "plain Python" not in done.stderr


def test_without_a_compiler_it_works_and_says_so(tmp_path):
    path = wheel(tmp_path, CC="/bin/false", CXX="/bin/false")
    assert not any(name.endswith(".so") for name in zipfile.ZipFile(path).namelist())
    done = replay(tmp_path, path)
    slow = json.loads(done.stdout)
    assert slow["source"]["kernel"] == "pure Python"
    assert "plain Python" in done.stderr
    command = [sys.executable, "-m", "linkcheck", "replay", str(ROOT / "captures" / "healthy.log"), "--json"]
    fast = json.loads(subprocess.run(command, capture_output=True, text=True, check=True).stdout)
    assert slow["channels"] == fast["channels"]
