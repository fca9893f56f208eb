"""The app in a browser, for the shop's tablet.

Listens on this machine only unless --host says otherwise. There is no password: whoever can reach the address can use
the app, see every job and write files as you. Needs the extra "serve": pip install "linkcheck[serve]".
"""

from __future__ import annotations

import argparse
import asyncio
import logging
import os
import re
import shlex
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from linkcheck.cli import exit_codes
from linkcheck.cli.output import say
from linkcheck.errors import UsageError

if TYPE_CHECKING:
    from aiohttp import web
    from textual_serve.server import Server

__all__ = ["HELP", "NAME", "add_arguments", "run"]

NAME = "serve"
HELP = "the app in a browser, for the shop's tablet"

LOOPBACK = ("localhost", "127.0.0.1", "::1")
LAST_WORDS_S = 5.0
# A workshop has no internet, and a page of ours shows nobody's logo: web fonts and pictures of the template go.
LEFT_OUT = re.compile(r'<link[^>]*href="https?://[^>]*>|<svg.*?</svg>|background-image:[^;]*;', re.DOTALL)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("--host", default="localhost", help="address to listen on (default: this machine only)")
    parser.add_argument("--port", type=int, default=8000, help="port to listen on (default 8000)")
    parser.add_argument(
        "--public-url", metavar="URL", help="address that the tablet uses, where it is not http://HOST:PORT"
    )


def run(args: argparse.Namespace) -> int:
    """Serve until ctrl+c.

    Raises:
        UsageError: the extra is not installed, or the address cannot be listened on.

    """
    try:
        from textual_serve import server  # noqa: PLC0415  an extra
    except ImportError as error:
        raise UsageError("The extra for the browser is missing.", todo='Run pip install "linkcheck[serve]".') from error
    if not 1 <= args.port <= 65535:
        raise UsageError("--port has to be from 1 to 65535.")
    say(f"The app is at {args.public_url or f'http://{args.host}:{args.port}'}. ctrl+c ends it.")
    if args.host not in LOOPBACK:
        say("Warning: there is no password. Whoever reaches this address can use the app and see every job.")
    with tempfile.TemporaryDirectory() as folder:
        template = Path(server.__file__).parent / "templates" / "app_index.html"
        (Path(folder) / template.name).write_text(LEFT_OUT.sub("", template.read_text("utf-8")), "utf-8")
        try:
            _server(args, folder).serve()
        except OSError as error:
            raise UsageError(
                f"Nothing can be served there: {error.strerror or error}.",
                where=f"{args.host}:{args.port}",
                todo="Give another --host or --port.",
            ) from error
    return exit_codes.OK


def _server(args: argparse.Namespace, templates: str) -> Server:
    from aiohttp import web  # noqa: PLC0415  an extra
    from textual_serve.server import Server  # noqa: PLC0415

    talks: set[asyncio.Task[Any]] = set()

    class Ours(Server):
        """Answers only pages of its own: without a password, any other page in the browser could drive the app."""

        def initialize_logging(self) -> None:
            """Only what is wrong."""
            logging.basicConfig(level="WARNING", format="%(message)s")

        async def handle_websocket(self, request: web.Request) -> web.WebSocketResponse:
            origin = urlsplit(request.headers.get("Origin", "")).netloc
            if origin not in (request.host, urlsplit(self.public_url).netloc) or not self._known(request.host):
                raise web.HTTPForbidden(text="Only this program's own page may connect.")
            task = asyncio.current_task()
            if task is not None:
                talks.add(task)
                task.add_done_callback(talks.discard)
            return await super().handle_websocket(request)

        def _known(self, host: str) -> bool:
            """A name that was pointed at this machine from outside is not known."""
            names = {args.host, *LOOPBACK, urlsplit(self.public_url).hostname}
            return args.host not in LOOPBACK or urlsplit(f"//{host}").hostname in names

        async def on_startup(self, app: Any) -> None:  # noqa: ANN401  as the base class has it
            """No banner: what has to be said was said."""

        async def on_shutdown(self, app: Any) -> None:  # noqa: ANN401, ARG002
            """Every app that is open in a browser ends before we do."""
            for task in talks:
                task.cancel()
            if talks:
                await asyncio.wait(set(talks), timeout=LAST_WORDS_S)

    # The shell gives way to the program, so that it sees when we are gone.
    program = f"{'exec ' if os.name == 'posix' else ''}{shlex.quote(sys.executable)} -m linkcheck"
    return Ours(
        program,
        host=args.host,
        port=args.port,
        title="linkcheck",
        public_url=args.public_url,
        templates_path=templates,
    )
