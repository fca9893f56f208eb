"""The arrows between rooms, and what the core may not do. The rules stand in .importlinter and DEVELOPERS.md."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "linkcheck"
# Rooms that compute: no files, no buses, no clocks. `j1939` and `pinout` read shipped data through importlib or a path.
CORE = (
    "frames",
    "j1939",
    "j1708",
    "circuit",
    "physical",
    "diagnosis",
    "faults",
    "traffic",
    "verdict",
    "walk",
)
OUTSIDE = {"open", "input", "print", "exec", "eval", "__import__"}


def test_arrows_point_down():
    done = subprocess.run(
        [Path(sys.executable).parent / "lint-imports", "--no-cache"],
        cwd=PACKAGE.parent,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout


@pytest.mark.parametrize("room", [room for room in CORE if (PACKAGE / room).is_dir()])
def test_core_calls_nothing_that_touches_the_world(room):
    """Static contracts miss built-ins and deferred imports; the syntax tree does not."""
    forbidden_modules = {"time", "socket", "subprocess", "threading", "asyncio", "sqlite3", "can", "textual", "os"}
    for path in (PACKAGE / room).rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                assert node.func.id not in OUTSIDE, f"{path}:{node.lineno} calls {node.func.id}"
            names = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom):
                names = [node.module or ""]
            roots = {name.split(".")[0] for name in names}
            if path.name == "kernel.py":
                roots -= {"os"}  # which kernel runs is asked of the environment there
            assert not roots & forbidden_modules, f"{path}:{node.lineno} imports {roots & forbidden_modules}"


def loaded_after(*arguments):
    code = (
        "import sys, io, contextlib\n"
        "from linkcheck.cli.main import main\n"
        "with contextlib.redirect_stdout(io.StringIO()):\n"
        "    try:\n"
        f"        main({list(arguments)!r})\n"
        "    except SystemExit:\n"
        "        pass\n"
        "print('\\n'.join(sys.modules))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return {name.split(".")[0] for name in done.stdout.split()}


@pytest.mark.parametrize("arguments", [["--help"], ["--version"], ["replay", "--help"], ["completion", "bash"]])
def test_help_and_completion_load_nothing_heavy(arguments):
    assert not loaded_after(*arguments) & {"pint", "numpy", "textual", "matplotlib", "can", "cantools", "msgspec"}


def test_replay_loads_no_screen_and_no_units():
    capture = PACKAGE.parent / "captures" / "healthy.log"
    assert not loaded_after("replay", str(capture)) & {"pint", "textual", "matplotlib"}


@pytest.mark.parametrize("path", sorted(PACKAGE.rglob("*.py")), ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_every_module_opens_with_what_lives_there(path):
    assert ast.get_docstring(ast.parse(path.read_text())), f"{path} has no opening docstring"


def test_modules_are_short_enough_to_hold_in_the_head():
    sizes = {path: len(path.read_text().splitlines()) for path in PACKAGE.rglob("*.py")}
    assert {path.name: size for path, size in sizes.items() if size > 450} == {}  # the longest is a table of faults
