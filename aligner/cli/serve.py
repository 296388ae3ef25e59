"""The archive on the web: `aligner serve`."""

from __future__ import annotations

from typing import Annotated

import typer

from aligner.cli.catalogue import Address
from aligner.cli.terminal import say
from aligner.errors import InputError


def serve(
    address: Address = None,
    host: Annotated[
        str,
        typer.Option("--host", metavar="ADDRESS", help="Where to listen; any other than loopback is open to others."),
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option("--port", metavar="N", min=1, max=65535, help="Port.")] = 8765,
    name: Annotated[
        list[str] | None, typer.Option("--name", metavar="HOST", help="Further names under which it may be called.")
    ] = None,
) -> None:
    """Serve a page to search the catalogue, and its JSON interface; both only read."""
    import uvicorn

    from aligner.catalogue.store import open_catalogue
    from aligner.serve.application import LOOPBACK, application

    with open_catalogue(address) as store:
        shown = f"[{host}]" if ":" in host else host
        app = application(store, tuple(dict.fromkeys((*LOOPBACK, shown, *(name or ())))))
        say(f"http://{shown}:{port}/ shows {store.address}; end with Ctrl+C")
        try:
            uvicorn.run(app, host=host, port=port, log_level="warning", server_header=False)
        except SystemExit:
            raise InputError(f"port {port} of {host} cannot be used; choose another with --port.") from None
