"""The app in a browser: nothing from elsewhere, nobody from elsewhere, nothing left behind."""

import asyncio
import os
import re
import signal
import socket
import subprocess
import sys
from pathlib import Path

import pytest

aiohttp = pytest.importorskip("aiohttp", reason="the extra serve is not installed")
pytest.importorskip("textual_serve", reason="the extra serve is not installed")


@pytest.fixture
def server(tmp_path):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    process = subprocess.Popen(
        [sys.executable, "-m", "linkcheck", "serve", "--port", str(port)],
        env=os.environ | {"LINKCHECK_DATA": str(tmp_path), "XDG_CONFIG_HOME": str(tmp_path)},
        stderr=subprocess.PIPE,
        text=True,
    )
    yield process, f"http://localhost:{port}"
    if process.poll() is None:
        process.kill()
    process.wait()
    process.stderr.close()


async def page_of(session, base):
    for _ in range(150):
        try:
            async with session.get(base) as answer:
                return await answer.text()
        except aiohttp.ClientError:
            await asyncio.sleep(0.2)
    raise AssertionError(base)


async def drawn(talk):
    """Read until the first screen is there."""
    seen = b""
    while b"No jobs yet" not in seen:
        message = await talk.receive(timeout=30)
        assert message.type in (aiohttp.WSMsgType.BINARY, aiohttp.WSMsgType.TEXT)
        seen += message.data if isinstance(message.data, bytes) else b""


def children(process):
    listing = Path(f"/proc/{process.pid}/task/{process.pid}/children")
    return [int(child) for child in listing.read_text().split()] if listing.exists() else []


def lives(child):
    status = Path(f"/proc/{child}/stat")
    return status.exists() and status.read_text().rsplit(")", 1)[1].split()[0] != "Z"


async def gone(child):
    for _ in range(100):
        if not lives(child):
            return True
        await asyncio.sleep(0.2)
    return False


async def test_the_page_is_ours_and_asks_nobody_else_for_anything(server):
    process, base = server
    async with aiohttp.ClientSession() as session:
        page = await page_of(session, base)
        assert set(re.findall(r"https?://[^\"'/]+", page)) == {base}
        with pytest.raises(aiohttp.WSServerHandshakeError) as refused:
            await session.ws_connect(f"{base}/ws", headers={"Origin": "http://elsewhere.example"})
        assert refused.value.status == 403
        pointed = {
            "Origin": "http://elsewhere.example",
            "Host": "elsewhere.example",
        }  # at this machine, by a name server
        with pytest.raises(aiohttp.WSServerHandshakeError) as refused:
            await session.ws_connect(f"{base}/ws", headers=pointed)
        assert refused.value.status == 403
        async with session.ws_connect(f"{base}/ws?width=80&height=24", headers={"Origin": base}) as talk:
            await drawn(talk)
            process.send_signal(signal.SIGINT)
            assert await asyncio.to_thread(process.wait, 30) == 0
    told = process.stderr.read()
    assert base in told
    assert "Traceback" not in told


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="looks for processes in /proc")
async def test_no_app_stays_behind_when_the_server_is_killed(server):
    process, base = server
    async with aiohttp.ClientSession() as session:
        await page_of(session, base)
        async with session.ws_connect(f"{base}/ws?width=80&height=24", headers={"Origin": base}) as talk:
            await drawn(talk)
            left = children(process)
            assert left
            process.kill()
            for child in left:
                assert await gone(child)


def test_another_address_comes_with_a_warning():
    done = subprocess.run(
        [sys.executable, "-m", "linkcheck", "serve", "--host", "192.0.2.1", "--port", "1"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert "no password" in done.stderr
    assert done.returncode == 2  # nobody has an address of RFC 5737's first block
    assert "Traceback" not in done.stderr


def test_a_port_that_cannot_be_is_one_sentence():
    done = subprocess.run(
        [sys.executable, "-m", "linkcheck", "serve", "--port", "70000"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 2
    assert len(done.stderr.strip().splitlines()) == 1
