"""The command line as a stranger meets it: help, versions, bad words, exit codes, pipes, interrupts."""

import gzip
import json
import os
import signal
import subprocess
import sys
import time
import tomllib
from pathlib import Path

import pytest

from linkcheck import __version__
from linkcheck.cli.main import COMMANDS, build_parser

ROOT = Path(__file__).parents[2]
HEALTHY = ROOT / "captures" / "healthy.log"


def run(*words, **options):
    return subprocess.run(
        [sys.executable, "-m", "linkcheck", *map(str, words)], capture_output=True, text=True, check=False, **options
    )


def test_version_is_the_package_version():
    assert run("--version").stdout.split() == ["linkcheck", __version__]
    assert tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["version"] == __version__


def test_every_command_has_help_and_stands_in_the_readme():
    readme = (ROOT / "README.md").read_text()
    help_text = run("--help").stdout
    for module in COMMANDS:
        assert module.NAME in help_text
        assert len(module.__doc__.split()) > 8
        assert f"linkcheck {module.NAME}" in readme, f"README.md does not mention linkcheck {module.NAME}"


def test_every_option_says_what_it_does():
    for action in build_parser()._subparsers._group_actions[0].choices.values():
        for option in action._actions:
            assert option.help, f"{action.prog}: {option.option_strings or option.dest} has no help"


@pytest.mark.parametrize("shell", ["bash", "zsh", "tcsh"])
def test_completion_scripts(shell):
    assert "replay" in run("completion", shell).stdout


def test_bash_accepts_the_completion_script(tmp_path):
    script = tmp_path / "completion.bash"
    script.write_text(run("completion", "bash").stdout)
    assert subprocess.run(["bash", "-n", str(script)], check=False).returncode == 0


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["replay", "no-such-file.log"], "no-such-file.log"),
        (["replay", "."], "folder"),
        (["replay", HEALTHY, "--bit-rate", "fast"], "--bit-rate"),
        (["replay", HEALTHY, "--bit-rate", "0"], "--bit-rate"),
        (["replay", HEALTHY, "--expect", "0,300"], "--expect"),
        (["replay", HEALTHY, "--expect", "no-such-vehicle.toml"], "no-such-vehicle"),
        (["replay", HEALTHY, "--format", "smoke-signals"], "smoke-signals"),
        (["replay", ROOT / "LICENSE"], "LICENSE"),
        (["pinouts", "no-such-pinout"], "no-such-pinout"),
        (["simulate", "no-such-scenario"], "no-such-scenario"),
    ],
)
def test_bad_input_gets_one_sentence_and_exit_code_2(words, says):
    done = run(*words)
    assert done.returncode == 2
    assert done.stdout == ""
    assert says in done.stderr
    assert "Traceback" not in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1


def test_strict_tells_a_sick_bus_by_its_exit_code():
    assert run("replay", HEALTHY, "--strict").returncode == 0
    assert run("replay", ROOT / "captures" / "drops-over-bumps.log", "--strict").returncode == 1
    assert run("replay", ROOT / "captures" / "drops-over-bumps.log").returncode == 0


def test_standard_input_and_gz_give_what_the_file_gives(tmp_path):
    plain = json.loads(run("replay", HEALTHY, "--json").stdout)["channels"]
    with HEALTHY.open() as stream:
        assert json.loads(run("replay", "-", "--json", stdin=stream).stdout)["channels"] == plain
    packed = tmp_path / "packed.bin"
    packed.write_bytes(gzip.compress(HEALTHY.read_bytes()))
    assert json.loads(run("replay", packed, "--json").stdout)["channels"] == plain


def test_from_to_and_channel_pick_a_part():
    channel = json.loads(run("replay", HEALTHY, "--json", "--from", "5", "--to", "7.5").stdout)["channels"]["can0"]
    whole = json.loads(run("replay", HEALTHY, "--json").stdout)["channels"]["can0"]
    assert channel["first_s"] - whole["first_s"] == pytest.approx(5, abs=0.05)
    assert channel["last_s"] - whole["first_s"] == pytest.approx(7.5, abs=0.05)
    two = ROOT / "captures" / "two-channels.log.gz"
    assert set(json.loads(run("replay", two, "--json").stdout)["channels"]) == {"can0", "can1"}
    assert set(json.loads(run("replay", two, "--json", "--channel", "can1").stdout)["channels"]) == {"can1"}


def test_expected_addresses_from_a_list_and_from_the_vehicle_file():
    mute = ROOT / "captures" / "module-mute.log.gz"
    for expect in ("example-truck", "0,3,11,15,33,49", "0x00,0x03,0x0B,0x0F,0x21,0x31"):
        findings = json.loads(run("replay", mute, "--json", "--expect", expect).stdout)["channels"]["can0"]["findings"]
        (missing,) = [f for f in findings if f["finding"] == "address_missing"]
        assert missing["evidence"]["missing"] == [11]


def test_a_reader_that_stops_reading_is_no_error():
    command = f"{sys.executable} -m linkcheck replay {HEALTHY} --all | head -3"
    done = subprocess.run(["bash", "-c", command], capture_output=True, text=True, check=False)
    assert len(done.stdout.splitlines()) == 3
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("through", ["fifo", "standard input"])
def test_ctrl_c_ends_with_what_is_known_so_far(tmp_path, through):
    fifo = tmp_path / "endless"
    os.mkfifo(fifo)
    file = str(fifo) if through == "fifo" else "-"
    command = [sys.executable, "-m", "linkcheck", "replay", file, "--json"]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as child:
        with fifo.open("w") if through == "fifo" else child.stdin as pipe:
            pipe.write(HEALTHY.read_text())
            pipe.flush()
            time.sleep(3)
            child.send_signal(signal.SIGINT)
            out, err = child.stdout.read(), child.stderr.read()
        assert child.wait(30) == 0
    result = json.loads(out)
    assert result["partial"] is True
    assert result["channels"]["can0"]["frames"] > 0
    assert "so far" in err
    assert "Traceback" not in err
    assert "Fatal" not in err


def test_the_page_fits_eighty_columns():
    for capture in sorted((ROOT / "captures").glob("*.log*")):
        done = run("replay", capture, env={**os.environ, "COLUMNS": "80"})
        assert done.returncode == 0
        assert max(len(line) for line in done.stdout.splitlines()[1:]) <= 80, capture.name
        assert "VERDICT" in done.stdout


def test_an_old_console_does_not_stop_us():
    done = run("replay", HEALTHY, env={**os.environ, "PYTHONIOENCODING": "ascii", "COLUMNS": "80"})
    assert done.returncode == 0
    assert "VERDICT" in done.stdout


@pytest.mark.parametrize("term", ["xterm-256color", "dumb"])
def test_no_words_and_no_terminal_print_a_short_tour_of_real_commands(term):
    done = run(env={**os.environ, "TERM": term})
    assert done.returncode == 0
    lines = done.stdout.splitlines()
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 120
    told = {line.split()[1] for line in lines if line.startswith("  linkcheck ")} - {"--help"}
    assert told <= {module.NAME for module in COMMANDS}
    assert "walk" in told
