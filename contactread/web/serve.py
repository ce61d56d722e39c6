"""Starting and stopping the page."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import socket
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import uvicorn

from contactread.errors import ContactreadError
from contactread.records.book import Book
from contactread.records.place import default_place
from contactread.web.addresses import LOOPBACK, ranked_addresses
from contactread.web.app import make_app
from contactread.web.connection import PatientConnection
from contactread.web.pairing import Pairing
from contactread.web.shop import Shop
from contactread.web.site import Site
from contactread.web.workers import Workers

PORT = 8377
MOST_CONNECTIONS = 200


@dataclass(frozen=True)
class Place:
    """Where the page listens. addresses: (address to open, why), best first."""

    listener: socket.socket
    addresses: list[tuple[str, str]]
    hosts: list[str]
    port: int


def listen(lan: bool, port: int | None, address: str | None = None) -> Place:
    """Take the port. lan: be reachable from the network. port: None takes the usual one, else any free one.
    address: put this one first.

    Raises ContactreadError port-taken, address-unknown, no-network.
    """
    found = ranked_addresses() if lan else []
    if lan and not found:
        raise ContactreadError(
            "no-network", "This computer has no network address that a phone could reach.",
            "Connect it to the shop's network, or leave out --lan.")  # fmt: skip
    if address is not None:
        chosen = [a for a in found if a.ip == address]
        if not chosen:
            raise ContactreadError(
                "address-unknown", f"This computer hasn't the address {address!r}.",
                f"It has: {', '.join(a.ip for a in found) or LOOPBACK + ' alone; give --lan'}.")  # fmt: skip
        found = [*chosen, *(a for a in found if a.ip != address)]
    listener = _bound("0.0.0.0" if lan else LOOPBACK, port)
    taken = int(listener.getsockname()[1])
    addresses = [(f"http://{a.ip}:{taken}", f"{a.interface}: {a.why}") for a in found]
    if not lan:
        addresses = [(f"http://{LOOPBACK}:{taken}", "this computer alone")]
    names = [LOOPBACK, "localhost", *(a.ip for a in found)]
    return Place(listener, addresses, [f"{name}:{taken}" for name in names], taken)


def _bound(host: str, port: int | None) -> socket.socket:
    for each in (PORT, 0) if port is None else (port,):
        # Named as TCP, so that asyncio sends small answers at once (TCP_NODELAY).
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        try:
            if sys.platform != "win32":
                listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            listener.bind((host, each))
            return listener
        except OSError as error:
            listener.close()
            if each == 0 or port is not None:
                raise ContactreadError(
                    "port-taken", f"The port {each} can't be taken: {error.strerror}.",
                    "Stop what uses it, or give another with --port.") from error  # fmt: skip
    raise AssertionError


class Running:
    """The page as it runs. `serve_until_stopped` blocks; `stop` may be called from any thread."""

    def __init__(
        self, place: Place, book: Path | None = None, axle_text: str | None = None, workers: int | None = None
    ) -> None:
        path = (book or default_place()).absolute()
        with Book(path, write=True):  # begun, or brought up to date, before anybody asks
            pass
        self.place, self.pairing = place, Pairing()
        self._workers = Workers(workers)
        self._greet: Callable[[], None] = lambda: None
        self.site = Site(
            Shop(path), self._workers, self.pairing, f"contactread-{place.port}", place.addresses, axle_text
        )
        config = uvicorn.Config(
            make_app(self.site, place.hosts), http=PatientConnection, ws="none", lifespan="off",
            log_config=None,
            log_level="critical", access_log=False, server_header=False, date_header=True,
            timeout_keep_alive=20, limit_concurrency=MOST_CONNECTIONS, timeout_graceful_shutdown=5,
            proxy_headers=False, h11_max_incomplete_event_size=32_768,
        )  # fmt: skip
        logging.getLogger("uvicorn").setLevel(logging.CRITICAL)
        self.server = uvicorn.Server(config)

    def new_address(self) -> str:
        """The best address, with a fresh token in it."""
        return f"{self.place.addresses[0][0]}/pair/{self.pairing.new_token()}"

    def worker_ids(self) -> list[int]:
        """Process ids of the workers."""
        return self._workers.process_ids()

    def on_enter(self, greet: Callable[[], None]) -> None:
        """What to do when the person at the terminal presses Enter."""
        self._greet = greet

    def serve_until_stopped(self) -> None:
        """Serve until `stop` or Ctrl-C; then end what runs and leave nothing half-written."""
        try:
            with asyncio.Runner() as runner:
                runner.run(self._serve())
        finally:
            self._workers.close()
            self.place.listener.close()

    async def _serve(self) -> None:
        warm = [
            asyncio.create_task(self._workers.run("warm", self.site.axle_text))
            for _ in range(self._workers.count)
        ]
        with _enter(self._greet):
            await self.server.serve(sockets=[self.place.listener])
        for task in warm:
            task.cancel()
        await asyncio.gather(*warm, return_exceptions=True)

    def stop(self) -> None:
        self.server.should_exit = True


@contextlib.contextmanager
def _enter(greet: Callable[[], None]) -> Iterator[None]:
    """Call `greet` whenever a line comes at the terminal."""
    if sys.stdin is None or sys.stdin.closed or not sys.stdin.isatty() or sys.platform == "win32":
        yield
        return
    loop = asyncio.get_running_loop()

    def line() -> None:
        if sys.stdin.readline():
            greet()
        else:
            loop.remove_reader(sys.stdin)

    loop.add_reader(sys.stdin, line)
    try:
        yield
    finally:
        loop.remove_reader(sys.stdin)
