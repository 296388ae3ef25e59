"""The desk's server: on this machine's own address only, ended by its page or by an interrupt."""

from __future__ import annotations

import socket
from collections.abc import Callable
from pathlib import Path

import uvicorn

from aligner.desk.guard import Guard, new_token
from aligner.desk.site import Site
from aligner.desk.talk import Talk
from aligner.desk.worker import Worker
from aligner.errors import InputError

LOOPBACK = "127.0.0.1"
_MOST_AT_ONCE = 64


def serve(
    talk: Talk, media: Path | None, port: int, finish: Callable[[Talk], str], opened: Callable[[str], None]
) -> None:
    """Serve the desk until it is stopped.

    Args:
        talk: to settle.
        media: the recording, or None.
        port: 0 for any that is free.
        finish: writes the outputs and tells in one sentence what was written.
        opened: told the desk's address once it can be opened.

    Raises:
        InputError: the port cannot be used.
    """
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((LOOPBACK, port))
    except OSError as error:
        listener.close()
        raise InputError(f"port {port} cannot be used ({error.strerror}); leave out --port, or name another.") from None
    number = listener.getsockname()[1]
    token = new_token()
    worker = Worker(talk)
    servers: list[uvicorn.Server] = []

    def stop() -> None:
        for server in servers:
            server.should_exit = True

    site = Site(talk, worker, media, finish, stop)
    config = uvicorn.Config(
        Guard(site.app(), token, number),
        log_level="error",
        access_log=False,
        lifespan="off",
        ws="none",
        server_header=False,
        proxy_headers=False,
        limit_concurrency=_MOST_AT_ONCE,
        timeout_keep_alive=30,
        timeout_graceful_shutdown=3,
    )
    server = uvicorn.Server(config)
    servers.append(server)
    listener.listen(_MOST_AT_ONCE)
    worker.start()
    opened(f"http://{LOOPBACK}:{number}/{token}/")
    try:
        server.run(sockets=[listener])
    finally:
        worker.stop()
        listener.close()
