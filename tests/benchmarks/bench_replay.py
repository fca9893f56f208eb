"""Whole replay against python-can merely iterating the same file and can-utils' log2asc, side by side in one run.

Prints a table of frames per second, ratios and peak memory; `--readme` writes it into README.md between its markers.
Every measure runs in a process of its own, and the rounds alternate, so that a busy machine slows all of them alike;
the best round counts. `linkcheck replay --json` is timed as a user runs it, from start to exit, reading, analysing and
writing its whole result.

    python tests/benchmarks/bench_replay.py [--frames 4000000] [--rounds 3] [--readme]
"""

import argparse
import platform
import re
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from linkcheck import __version__
from linkcheck.frames.kernel import kernel_name

ROOT = Path(__file__).parents[2]
BEGIN, END = "<!-- benchmark -->", "<!-- /benchmark -->"
PYTHON_CAN = "import can,sys\nn = sum(1 for _ in can.CanutilsLogReader(sys.argv[1]))"


def repeat(lines, frames, path, *, change=lambda line: line):
    """Write a capture over and over, its time going on, until it has `frames` frames."""
    rows = [(float(line[1 : line.index(")")]), line[line.index(")") :]) for line in lines]
    span = rows[-1][0] - rows[0][0] + 0.001
    written = rounds = 0
    with path.open("w", newline="") as out:
        while written < frames:
            for at, rest in rows:
                out.write(change(f"({at + rounds * span:.6f}{rest}"))
                written += 1
            rounds += 1
    return written


def timed(command):
    """Seconds and peak memory (MB) of a command."""
    before = time.perf_counter()
    # RUSAGE_CHILDREN keeps the largest child ever; a fresh interpreter in between tells this child's own.
    probe = (
        "import resource,subprocess,sys\n"
        "done = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)\n"
        "sys.stderr.write(done.stderr.decode())\n"
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)\n"
        "sys.exit(done.returncode)"
    )
    done = subprocess.run([sys.executable, "-c", probe, *command], capture_output=True, text=True, check=False)
    if done.returncode:
        sys.exit(f"{command[0]} failed: {done.stderr}")
    return time.perf_counter() - before, int(done.stdout) / 1024


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--frames", type=int, default=4_000_000)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--readme", action="store_true", help="write the table into README.md")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        table = measure(Path(folder), args.frames, args.rounds)
    print(table)
    if args.readme:
        readme = ROOT / "README.md"
        text = readme.read_text()
        readme.write_text(re.sub(f"{BEGIN}.*{END}", f"{BEGIN}\n{table}\n{END}", text, flags=re.DOTALL))


def measure(folder, frames, rounds):
    lines = (ROOT / "captures" / "healthy.log").read_text().splitlines(keepends=True)
    plain, small = folder / "plain.log", folder / "small.log"
    count = repeat(lines, frames, plain)
    few = repeat(lines, max(frames // 20, 10_000), small)
    layouts = {
        "replay, CRLF line ends": lambda line: line.replace("\n", "\r\n"),
        "replay, lower-case digits": str.lower,
        "replay, three interfaces": lambda line: line.replace(" can0 ", f" can{len(line) * 7 % 3} ", 1),
    }
    linkcheck = [sys.executable, "-m", "linkcheck", "replay", "--json"]
    jobs = {"replay": ([*linkcheck, str(plain)], count)}
    for name, change in layouts.items():
        path = folder / f"{len(jobs)}.log"
        jobs[name] = ([*linkcheck, str(path)], repeat(lines, frames, path, change=change))
    jobs["python-can, only iterating"] = ([sys.executable, "-c", PYTHON_CAN, str(small)], few)
    if shutil.which("log2asc"):
        jobs["can-utils log2asc"] = (["log2asc", "-I", str(plain), "-O", "/dev/null", "can0"], count)
    best = {}
    for _ in range(rounds):
        for name, (command, _count) in jobs.items():
            seconds, megabytes = timed(command)
            if name not in best or seconds < best[name][0]:
                best[name] = (seconds, megabytes)
    rates = {name: jobs[name][1] / seconds for name, (seconds, _) in best.items()}
    iterating = rates["python-can, only iterating"]
    rows = [
        f"| {name} | {rate / 1e6:.2f} | {rate / iterating:.1f} × | {best[name][1]:.0f} |"
        for name, rate in rates.items()
    ]
    where = f"{platform.machine()}, {platform.python_implementation()} {platform.python_version()}"
    size = plain.stat().st_size / 1e6
    head = f"linkcheck {__version__}, {kernel_name()}, {count:,} frames ({size:.0f} MB); {where}."
    return "\n".join([head, "", "| | million frames/s | against python-can | peak MB |", "|---|---|---|---|", *rows])


if __name__ == "__main__":
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    main()
