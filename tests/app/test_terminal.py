"""The app in a real terminal: what it loads first, how it leaves, what it does with odd bytes, without colour."""

import fcntl
import os
import pty
import re
import select
import signal
import struct
import subprocess
import sys
import termios
import time

import pytest

PROGRAM = [sys.executable, "-m", "linkcheck"]


class Terminal:
    """The app on a pseudo terminal of 80x24."""

    def __init__(self, tmp_path, *options, program=PROGRAM, **environment):
        self.master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        self.before = termios.tcgetattr(slave)
        self.slave = slave
        kept = {name: value for name, value in os.environ.items() if name not in ("NO_COLOR", "COLUMNS", "LINES")}
        own = {"TERM": "xterm-256color", "LINKCHECK_DATA": str(tmp_path / "data"), "XDG_CONFIG_HOME": str(tmp_path)}
        self.process = subprocess.Popen(
            [*program, *options],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            env=kept | own | environment,
            start_new_session=True,
        )
        self.seen = b""

    def read_until(self, words, seconds=30):
        """Read what is drawn until these words are there."""
        end = time.monotonic() + seconds
        while words not in self.seen:
            assert time.monotonic() < end, self.seen[-2000:]
            if select.select([self.master], [], [], 0.1)[0]:
                try:
                    self.seen += os.read(self.master, 65536)
                except OSError:  # Linux says so when the other end is closed
                    break
        return self.seen

    def write(self, data):
        os.write(self.master, data)

    def leave(self, seconds=30):
        """Its exit code; all that it still draws is read, so that it never waits for us."""
        end = time.monotonic() + seconds
        while self.process.poll() is None:
            assert time.monotonic() < end
            if select.select([self.master], [], [], 0.1)[0]:
                self.seen += os.read(self.master, 65536)
        while select.select([self.master], [], [], 0.1)[0]:
            self.seen += os.read(self.master, 65536)
        return self.process.returncode


@pytest.fixture
def terminal(tmp_path):
    opened = []

    def start(*options, **environment):
        opened.append(Terminal(tmp_path, *options, **environment))
        return opened[-1]

    yield start
    for each in opened:
        if each.process.poll() is None:
            each.process.kill()
            each.process.wait()
        os.close(each.master)
        os.close(each.slave)


def test_a_dumb_terminal_gets_the_tour(terminal):
    app = terminal(TERM="dumb")
    assert app.leave() == 0
    assert b"linkcheck walk" in app.seen


def test_q_leaves_and_puts_the_terminal_right(terminal):
    app = terminal()
    app.read_until(b"No jobs yet")
    app.write(b"q")
    assert app.leave() == 0
    assert b"\x1b[?1049l" in app.seen  # leaves the alternate screen (xterm control sequences, "DEC private mode")
    assert termios.tcgetattr(app.slave)[3] == app.before[3]


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_a_signal_leaves_the_terminal_as_it_was(terminal, number):
    app = terminal()
    app.read_until(b"No jobs yet")
    app.process.send_signal(number)
    assert app.leave() == 128 + number
    assert b"\x1b[?1049l" in app.seen
    assert termios.tcgetattr(app.slave)[3] == app.before[3]


def test_a_mouse_report_that_is_no_utf8_does_not_end_it(terminal):
    """A report in the oldest encoding at column 200: ESC [ M, then three bytes of value + 32."""
    app = terminal()
    app.read_until(b"No jobs yet")
    app.write(b"\x1b[M" + bytes([32, 200 + 32, 10 + 32]))
    time.sleep(0.3)
    app.write(b"?")
    app.read_until(b"Every truck")
    assert app.process.poll() is None


@pytest.mark.parametrize(("option", "asked"), [([], True), (["--no-mouse"], False)])
def test_the_mouse_is_left_to_the_terminal_where_that_is_wanted(terminal, option, asked):
    app = terminal(*option)
    app.read_until(b"No jobs yet")
    assert (b"\x1b[?1000h" in app.seen) is asked


COLOURS = re.compile(rb"\x1b\[[0-9;:]*m")


def coloured(seen):
    """Whether any colour was set: SGR 30-38, 40-48, 90-97, 100-107 (ECMA-48, 8.3.117)."""
    for sequence in COLOURS.findall(seen):
        for code in sequence[2:-1].split(b";"):
            if code and (30 <= int(code) <= 38 or 40 <= int(code) <= 48 or 90 <= int(code) <= 107):
                return True
    return False


@pytest.mark.parametrize(("value", "wanted"), [("1", False), ("", True)])
def test_no_color_draws_without_colour_unless_it_is_empty(terminal, value, wanted):
    """https://no-color.org: "when present and not an empty string"."""
    app = terminal(NO_COLOR=value)
    app.read_until(b"No jobs yet")
    app.write(b"q")
    app.leave()
    assert coloured(app.seen) is wanted


def test_the_settings_rename_a_key_and_choose_a_theme(terminal, tmp_path):
    folder = tmp_path / "linkcheck"
    folder.mkdir()
    (folder / "settings.toml").write_text('theme = "contrast"\n[keys]\n"app.quit" = "z"\n')
    app = terminal()
    app.read_until(b"No jobs yet")
    app.write(b"q")
    time.sleep(0.5)
    assert app.process.poll() is None
    app.write(b"z")
    assert app.leave() == 0


def test_wrong_settings_are_one_sentence_and_exit_code_2(terminal, tmp_path):
    folder = tmp_path / "linkcheck"
    folder.mkdir()
    (folder / "settings.toml").write_text('theme = "none"\n[keys]\n"walk.skp" = "x"\n')
    app = terminal()
    assert app.leave() == 2
    assert b"there is no theme" in app.seen
    assert b"walk.skp" in app.seen
    assert b"Traceback" not in app.seen


def test_the_first_screen_needs_nothing_heavy(terminal, tmp_path):
    """What is in sys.modules once the list of jobs is drawn."""
    listing = tmp_path / "modules.txt"
    code = (
        "import sys\n"
        "from linkcheck.app.screens.jobs.screen import JobsPage\n"
        "shown = JobsPage._show_remark\n"
        "def note(self, text, *, alone):\n"
        "    shown(self, text, alone=alone)\n"
        f"    open({str(listing)!r}, 'w').write('\\n'.join(sys.modules))\n"
        "JobsPage._show_remark = note\n"
        "from linkcheck.cli.main import main\n"
        "sys.exit(main([]))\n"
    )
    app = terminal(program=[sys.executable, "-c", code])
    app.read_until(b"No jobs yet")
    app.write(b"q")
    app.leave()
    loaded = {name.split(".")[0] for name in listing.read_text().split()}
    assert "textual" in loaded
    assert not loaded & {"numpy", "pint", "matplotlib", "can", "cantools", "jinja2", "textual_plot"}
