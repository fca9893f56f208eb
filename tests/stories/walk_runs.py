"""Runs `linkcheck walk` as a program of its own, and talks to it line by line."""

import json
import os
import subprocess
import sys

PROGRAM = [sys.executable, "-m", "linkcheck", "walk"]


class Program:
    """A walk driven over its standard input and output."""

    def __init__(self, *options, cache=None):
        environment = os.environ | ({"XDG_CACHE_HOME": str(cache)} if cache else {})
        self.process = subprocess.Popen(
            [*PROGRAM, "--json", *options], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=environment
        )

    def read(self):
        """The next message; None at the end."""
        line = self.process.stdout.readline()
        return json.loads(line) if line else None

    def send(self, message):
        self.process.stdin.write((message if isinstance(message, str) else json.dumps(message)) + "\n")
        self.process.stdin.flush()

    def end(self):
        """Close its input; all that it still says."""
        self.process.stdin.close()
        rest = [json.loads(line) for line in self.process.stdout]
        self.process.wait(60)
        self.process.stdout.close()
        return rest


def conversation(typed, *options):
    """Standard output of a conversation in which these lines are typed."""
    done = subprocess.run(
        [*PROGRAM, *options], input="\n".join(typed) + "\n", capture_output=True, text=True, timeout=120, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout
