"""The page served to this machine's own browser, and to nothing else.

It listens on the loopback interface only, under a path that begins with a random token. Names of hosts and origins are
checked, so that no page from elsewhere can reach it through the browser (DNS rebinding, cross-site requests). What is
served is a fixed list: a path is looked up, never joined to a folder.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import secrets
import socket
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, PlainTextResponse, Response
from starlette.routing import Route

from sweeper.audition.notebook import Notebook, Outdated
from sweeper.errors import RunFolderError

LOOPBACK = "127.0.0.1"
#: Of a posted document; a thousand long notes come to a tenth of it.
MOST_BYTES = 1_000_000
#: Requests at a time; a page has six connections.
MOST_AT_ONCE = 40
HEADERS = {
    "Content-Security-Policy": "default-src 'none'; script-src 'self' 'unsafe-inline' blob:; "
    "style-src 'unsafe-inline'; img-src data: blob:; media-src 'self' blob:; connect-src 'self'; worker-src blob:; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    "Cache-Control": "no-store", "Referrer-Policy": "no-referrer", "X-Content-Type-Options": "nosniff",
    "Cross-Origin-Opener-Policy": "same-origin", "Cross-Origin-Resource-Policy": "same-origin",
}  # fmt: skip


@dataclass(frozen=True)
class Offered:
    """What is served. page: HTML. audio: id -> WAV file. token: what its path begins with."""

    page: str
    audio: Mapping[str, Path]
    notebook: Notebook
    token: str = field(default_factory=lambda: secrets.token_urlsafe(24))


def application(offered: Offered, port: int) -> Starlette:
    """The web application as it is reached on that port."""
    hosts = {f"{LOOPBACK}:{port}", f"localhost:{port}"}
    places = {f"/{offered.token}/": "page", f"/{offered.token}/notes": "notes"}
    places |= {f"/{offered.token}/audio/{id}": id for id in offered.audio}

    async def answer(request: Request) -> Response:
        path = request.scope.get("raw_path", b"").decode("latin-1").partition("?")[0]
        response = await _answered(offered, request, hosts, places, path)
        for name, value in HEADERS.items():
            response.headers[name] = value
        return response

    return Starlette(routes=[Route("/{path:path}", answer, methods=["GET", "HEAD", "PUT", "POST", "DELETE", "PATCH",
                                                                    "OPTIONS"])])  # fmt: skip


async def _answered(offered: Offered, request: Request, hosts: set[str], places: Mapping[str, str],
                    path: str) -> Response:  # fmt: skip
    """path: as it was sent, with nothing decoded: what is percent-encoded is not on the list."""
    if not _is_ours(request, hosts):
        return PlainTextResponse("this address is for the page that opened it", 403)
    known = next((place for place in places if secrets.compare_digest(place.encode(), path.encode())), None)
    if known is None:
        return PlainTextResponse("nothing is here", 404)
    if known.endswith("/notes"):
        return await _notes(offered.notebook, request)
    if request.method not in ("GET", "HEAD"):
        return PlainTextResponse("only to be read", 405, {"Allow": "GET, HEAD"})
    if places[known] == "page" and known.endswith("/"):
        return Response(offered.page, media_type="text/html")
    file = offered.audio[places[known]]
    if not file.is_file():
        return PlainTextResponse("the file has gone", 404)
    return FileResponse(file, media_type="audio/wav")


def _is_ours(request: Request, hosts: set[str]) -> bool:
    """Whether the browser asks for the host that is served, and for a page from there.

    A write has to say its origin; a read says one only where another page made it, or the page's own script.
    """
    host, origin = request.headers.getlist("host"), request.headers.getlist("origin")
    if len(host) != 1 or host[0] not in hosts or len(origin) > 1:
        return False
    if not origin:
        return request.method in ("GET", "HEAD")
    return origin[0] == f"http://{host[0]}"


async def _notes(notebook: Notebook, request: Request) -> Response:
    """Read, or save. 400 for what is no such document, 409 with what is there for one that goes by an older revision,
    413 for too much, 415 for another type, 507 where the disk refuses."""
    if request.method in ("GET", "HEAD"):
        try:
            return JSONResponse(notebook.read())
        except RunFolderError as exc:
            return JSONResponse({"error": str(exc)}, 500)
    if request.method != "PUT":
        return PlainTextResponse("only to be read and put", 405, {"Allow": "GET, HEAD, PUT"})
    if request.headers.get("content-type", "").partition(";")[0].strip().lower() != "application/json":
        return PlainTextResponse("notes are application/json", 415)
    body = await _body(request)
    if body is None:
        return PlainTextResponse(f"more than {MOST_BYTES} bytes", 413, {"Connection": "close"})
    try:
        return JSONResponse({"revision": notebook.save(json.loads(body.decode("utf-8")))})
    except Outdated as exc:
        return JSONResponse(exc.document, 409)
    except (ValueError, RecursionError) as exc:  # no JSON, or no such document
        return JSONResponse({"error": str(exc) or type(exc).__name__}, 400)
    except RunFolderError as exc:
        return JSONResponse({"error": str(exc)}, 507)


async def _body(request: Request) -> bytes | None:
    """What was sent; None for more than is taken, of which no more is read."""
    length = request.headers.get("content-length", "0")
    if not length.isdecimal() or int(length) > MOST_BYTES:
        return None
    body = bytearray()
    async for part in request.stream():
        body += part
        if len(body) > MOST_BYTES:
            return None
    return bytes(body)


def own_port(identity: str) -> int:
    """A run's own port, of those that are nobody's (RFC 6335): what a browser keeps goes by the address, port included,
    and what could not be saved is found again where the run is served on the same one."""
    first, count = 49152, 16384
    return first + int(hashlib.sha256(identity.rpartition("#")[2].encode("utf-8")).hexdigest(), 16) % count


def _listening(ports: Sequence[int]) -> socket.socket:
    """A socket on the first of the ports that can be had, 0 = any. Raises RunFolderError."""
    for port in ports:
        opened = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if os.name == "posix":  # what is left of an earlier server's connections does not keep the port for a minute
            opened.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            opened.bind((LOOPBACK, port))
            opened.listen(MOST_AT_ONCE)  # a browser that is quicker than `run` waits for it
            return opened
        except OSError as exc:
            opened.close()
            if port == ports[-1]:
                raise RunFolderError(f"port {port} cannot be used: {exc.strerror or exc}",
                                     "leave --port out: a free one is taken") from exc  # fmt: skip
    raise ValueError("no port was named")


class Served:
    """A server that is about to run. A context manager; leaving it gives back its port.

    address: what to open. port: 0 = the run's own where it is free, else any.
    """

    def __init__(self, offered: Offered, port: int = 0) -> None:
        self._socket = _listening((port,) if port else (own_port(offered.notebook.identity), 0))
        self.port = int(self._socket.getsockname()[1])
        self.address = f"http://{LOOPBACK}:{self.port}/{offered.token}/"
        config = uvicorn.Config(
            application(offered, self.port), log_config=None, access_log=False, server_header=False, lifespan="off",
            limit_concurrency=MOST_AT_ONCE, timeout_keep_alive=30, timeout_graceful_shutdown=2, ws="none",
        )  # fmt: skip
        self._server = uvicorn.Server(config)

    def __enter__(self) -> Served:
        return self

    def __exit__(self, *_: object) -> None:
        self._socket.close()

    def run(self) -> None:
        """Serve until Ctrl-C, or `stop` from another thread."""
        with contextlib.suppress(KeyboardInterrupt):  # the way to end it: uvicorn has closed everything by then
            self._server.run(sockets=[self._socket])

    def stop(self) -> None:
        """End `run` soon."""
        self._server.should_exit = True
