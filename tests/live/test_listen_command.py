"""`linkcheck listen` and `linkcheck compare` as a user meets them: processes, exit codes, words, keys, the bell."""

import json
import os
import pty
import select
import signal
import subprocess
import sys
import time

import pytest

from linkcheck.live.emulated_adapter import Faults
from linkcheck.live.emulated_bus import traffic_of
from linkcheck.live.emulation import Emulation


def run(*words, **options):
    return subprocess.run(
        [sys.executable, "-m", "linkcheck", *map(str, words)], capture_output=True, text=True, check=False, **options
    )


@pytest.fixture
def truck(healthy):
    with Emulation(Faults(), traffic=traffic_of(healthy)) as emulation:
        yield emulation


def test_a_few_seconds_give_the_page_of_replay(truck):
    done = run("listen", f"serial:{truck.paths[0]}", "--seconds", 3, "--wiggle")
    assert done.returncode == 0, done.stderr
    assert "silent, proven" in done.stderr
    assert "Who talks" in done.stdout
    assert "wiggle watch" in done.stdout
    assert "dropped here 0" in done.stderr
    assert "Traceback" not in done.stderr
    assert truck.bus.disturbed == 0


def test_json_has_replays_schema_and_the_account_of_what_was_lost(truck, tmp_path):
    log = tmp_path / "drive.log"
    done = run("listen", f"serial:{truck.paths[0]}", "--seconds", 3, "--json", "--record", log)
    result = json.loads(done.stdout)
    assert result["schema"] == "linkcheck.traffic/1"
    assert result["source"]["ports"]["can0"]["silence"] == "proven"
    assert result["source"]["lost"]["can0"]["ours"] == 0
    replay = json.loads(run("replay", log, "--json", "--bit-rate", "250k").stdout)
    assert replay["channels"] == result["channels"]


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_every_way_to_stop_ends_in_order(truck, tmp_path, number):
    log = tmp_path / "drive.log"
    words = [sys.executable, "-m", "linkcheck", "listen", f"serial:{truck.paths[0]}", "--record", str(log), "--json"]
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as child:
        give_up = time.monotonic() + 20
        while not (log.exists() and log.stat().st_size > 5000) and time.monotonic() < give_up:
            time.sleep(0.05)
        child.send_signal(number)
        out, err = child.communicate(timeout=30)
    assert child.returncode == 0, err
    assert json.loads(out)["channels"]["can0"]["frames"] == len(log.read_text().splitlines())
    assert "Traceback" not in err
    give_up = time.monotonic() + 10
    while truck.adapters[0].bit_rate is not None and time.monotonic() < give_up:
        time.sleep(0.01)
    assert truck.adapters[0].bit_rate is None, "the adapter was left on the bus"


def test_a_killed_parent_leaves_no_process_on_the_bus(truck):
    words = [sys.executable, "-m", "linkcheck", "listen", f"serial:{truck.paths[0]}"]
    child = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    give_up = time.monotonic() + 20
    while truck.adapters[0].bit_rate is None and time.monotonic() < give_up:
        time.sleep(0.01)
    child.kill()
    child.wait()
    while truck.adapters[0].bit_rate is not None and time.monotonic() < give_up:
        time.sleep(0.01)
    assert truck.adapters[0].bit_rate is None


def test_an_adapter_that_refuses_silence_is_not_used_without_a_yes(healthy):
    with Emulation(Faults(refuse_listen_only=True), traffic=traffic_of(healthy)) as emulation:
        refused = run("listen", f"serial:{emulation.paths[0]}", "--seconds", 1, stdin=subprocess.DEVNULL)
        assert refused.returncode == 2
        assert len(refused.stderr.strip().splitlines()) == 1
        assert "listen only" in refused.stderr
        accepted = run("listen", f"serial:{emulation.paths[0]}", "--seconds", 1, "--take-part", "--bit-rate", "250k")
        assert accepted.returncode == 0
        assert "takes part in the bus" in accepted.stderr


def test_a_silent_bus_says_so_and_what_to_try():
    with Emulation(Faults()) as emulation:
        done = run("listen", f"serial:{emulation.paths[0]}", "--seconds", 1, "--strict")
    assert done.returncode == 1
    assert "silent: nothing was heard" in done.stderr
    assert "--search" in done.stderr


def test_the_bit_rate_is_found(truck):
    done = run("listen", f"serial:{truck.paths[0]}", "--search", "--rates", "500k,250k", "--seconds", 1)
    assert done.returncode == 0
    assert [line.split()[0] for line in done.stdout.splitlines()] == ["500k", "250k"]
    assert "errors only" in done.stdout
    assert "traffic" in done.stdout


@pytest.mark.parametrize(
    "words",
    [
        ["listen"],
        ["listen", "nonsense"],
        ["listen", "serial:"],
        ["listen", "no-such-interface:x"],
        ["listen", "serial:/dev/no-such-port"],
        ["listen", "serial:/dev/null", "--take-part"],
        ["listen", "virtual:x", "--trigger", "errors"],
        ["listen", "virtual:x", "--trigger", "smoke", "--record", "never.log"],
        ["listen", "virtual:x", "--record", "/no/such/folder/a.log"],
        ["listen", "virtual:x", "--keep", "3", "--record", "never.log"],
        ["listen", "virtual:x", "--rotate", "huge", "--record", "never.log"],
        ["listen", "virtual:x", "--meter", "one"],
        ["listen", "virtual:x", "--compare", "/no/such.log"],
        ["compare", "/no/such.log", "/no/such.log"],
    ],
)
def test_bad_words_get_one_sentence(words, tmp_path):
    done = run(*words, stdin=subprocess.DEVNULL, cwd=tmp_path)
    assert list(tmp_path.iterdir()) == []
    assert done.returncode == 2, done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    assert "Traceback" not in done.stderr


def test_interfaces_are_shown_in_eighty_columns_and_unknown_is_unknown():
    done = run("listen", "--interfaces", env={**os.environ, "COLUMNS": "80"})
    assert done.returncode == 0
    assert max(map(len, done.stdout.splitlines())) <= 80
    assert "socketcan" in done.stdout
    assert "unknown" in done.stdout


def test_live_against_a_capture(truck, tmp_path):
    before = tmp_path / "before.log"
    run("simulate", "healthy", "--seconds", 10, "-o", before)
    truck.call(lambda bus: bus.silenced.add(11))
    done = run("listen", f"serial:{truck.paths[0]}", "--seconds", 4, "--compare", before)
    assert "11 (brake system controller) is gone" in done.stdout


class Terminal:
    """A program on a pseudo-terminal."""

    def __init__(self, *words):
        self.end, inside = pty.openpty()
        ends = {"stdin": inside, "stdout": inside, "stderr": inside}
        self.child = subprocess.Popen([sys.executable, "-m", "linkcheck", *words], start_new_session=True, **ends)
        os.close(inside)
        self.text = ""

    def until(self, wanted, patience_s=30.0):
        give_up = time.monotonic() + patience_s
        while wanted not in self.text and time.monotonic() < give_up:
            if select.select([self.end], [], [], 0.2)[0]:
                try:
                    self.text += os.read(self.end, 65536).decode("utf-8", "replace")
                except OSError:
                    break
        assert wanted in self.text, self.text[-2000:]

    def press(self, keys):
        os.write(self.end, keys.encode())

    def ended(self):
        code = self.child.wait(30)
        os.close(self.end)
        return code


def test_keys_marks_bell_and_the_meters_readings(truck):
    terminal = Terminal("listen", f"serial:{truck.paths[0]}", "--wiggle")
    terminal.until("q end")
    terminal.press("m")
    terminal.until("mark 1")
    truck.call(lambda bus: bus.break_frames(1))
    terminal.until("\a")
    terminal.until("error frame")
    terminal.press("q")
    terminal.until("min/max")
    terminal.press("nonsense\n")
    terminal.until("two readings")
    terminal.press("11,9 12.6\n")
    terminal.until("11.9 to 12.6 V")
    terminal.until("lost:")
    assert terminal.ended() == 0
