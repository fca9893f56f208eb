"""Fuzz the kernel's core, built apart from Python, under clang's sanitizers.

Run `python tests/fuzz/fuzz_core.py [--seconds 60]`. Leaves with 0 when nothing was found, 1 when something was, and 77
when clang or its fuzzer is not installed.
"""
# ruff: noqa: T201 - a script that prints

from __future__ import annotations

import argparse
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from lines import LEGAL

HERE = Path(__file__).parent
CORE = HERE.parent.parent / "linkcheck" / "frames"
MISSING = 77


def build(folder: Path) -> Path | str:
    """The fuzzer, or why there is none."""
    clang = shutil.which("clang")
    if clang is None:
        return "clang is not installed"
    program = folder / "core_fuzz"
    sanitizers = ["-fsanitize=fuzzer,address,undefined", "-fno-sanitize-recover=all"]
    command = [clang, "-std=c11", "-g", "-O1", *sanitizers, f"-I{CORE}", str(HERE / "core_fuzz.c"), "-o", str(program)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    return program if done.returncode == 0 else f"clang cannot build it here:\n{done.stderr}"


def fuzz(seconds: int) -> int:
    """Build and run it; the exit code."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        program = build(folder)
        if isinstance(program, str):
            print(program)
            return MISSING
        corpus = folder / "corpus"
        corpus.mkdir()
        for number, line in enumerate(LEGAL):
            (corpus / f"line{number}").write_bytes(b"\x3f\xff\xff" + line + b"\n")
        (corpus / "all").write_bytes(b"\x3f\xff\xff" + b"\n".join(LEGAL[:-1]) + b"\n")
        words = [b"can0", b"##", b"#R", b"_F", b"DROPCOUNT:", b"20000004", b"\r\n", b" T", b") ", b"9223372036"]
        dictionary = folder / "words"
        escaped = ("".join(rf"\x{byte:02x}" for byte in word) for word in words)
        dictionary.write_text("".join(f'"{word}"\n' for word in escaped))
        options = [f"-max_total_time={seconds}", "-max_len=2048", "-print_final_stats=1", f"-dict={dictionary}"]
        done = subprocess.run(
            [program, *options, f"-artifact_prefix={folder}/", corpus], capture_output=True, text=True, check=False
        )
        print("\n".join(done.stderr.splitlines()[-12 if done.returncode == 0 else -80 :]))
        for found in folder.glob("crash-*"):
            print(f"found by: {found.read_bytes()!r}")
        return int(done.returncode != 0)


def main() -> int:
    """Read the options, run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=int, default=60)
    return fuzz(parser.parse_args().seconds)


if __name__ == "__main__":
    sys.exit(main())
