"""The server as somebody who means harm would try it: raw requests over a socket, nothing between."""

from __future__ import annotations

import json
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from sweeper.audition.notebook import Notebook
from sweeper.audition.server import MOST_BYTES, Offered, Served

AUDIO = bytes(range(256)) * 40
RUN = "tin-boats#0123456789ab"


@dataclass
class Answer:
    code: int
    headers: dict[str, str]
    body: bytes

    @property
    def data(self) -> dict[str, object]:
        return json.loads(self.body)


@dataclass
class Running:
    served: Served
    token: str
    place: Path
    host: str = field(init=False)

    def __post_init__(self) -> None:
        self.host = f"127.0.0.1:{self.served.port}"

    def ask(self, path: str, method: str = "GET", body: bytes = b"", host: str | None = None, **headers: str) -> Answer:
        """path: as it goes over the wire; {} in it becomes the token."""
        more = {name.replace("_", "-"): value for name, value in headers.items()}
        sent = {"Host": host or self.host, "Connection": "close", **more}
        if body and "Content-Length" not in sent:
            sent["Content-Length"] = str(len(body))
        sent = {name: value for name, value in sent.items() if value}
        lines = [f"{method} {path.replace('{}', self.token)} HTTP/1.1", *(f"{k}: {v}" for k, v in sent.items()), "", ""]
        with socket.create_connection(("127.0.0.1", self.served.port), 10) as wire:
            wire.sendall("\r\n".join(lines).encode("latin-1"))
            with suppress(BrokenPipeError, ConnectionResetError):  # refused before all of it was read
                wire.sendall(body)
            return _answer(wire)

    def put(self, document: object, **headers: str) -> Answer:
        body = document if isinstance(document, bytes) else json.dumps(document).encode()
        sent = {"Content_Type": "application/json", "Origin": f"http://{self.host}", **headers}
        return self.ask("/{}/notes", "PUT", body, **{k: v for k, v in sent.items() if v})


def _answer(wire: socket.socket) -> Answer:
    got = b""
    with suppress(ConnectionResetError):  # the answer came before the end of what was sent
        while part := wire.recv(65536):
            got += part
    head, _, body = got.partition(b"\r\n\r\n")
    first, *rest = head.decode("latin-1").split("\r\n")
    return Answer(int(first.split()[1]), {k.lower(): v for k, v in (line.split(": ", 1) for line in rest)}, body)


@contextmanager
def running(place: Path, run: str = RUN) -> Iterator[Running]:
    place.mkdir(exist_ok=True)
    (place / "002.wav").write_bytes(AUDIO)
    (place / "secret.txt").write_text("nobody may read this")
    offered = Offered("<p>the page</p>", {"002": place / "002.wav"}, Notebook(place, run))
    with Served(offered) as served:
        thread = threading.Thread(target=served.run)
        thread.start()
        try:
            yield Running(served, offered.token, place)
        finally:
            served.stop()
            thread.join(10)


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with running(tmp_path_factory.mktemp("served") / "audition") as one:
        yield one


def document(revision: int = 0, **more: object) -> dict[str, object]:
    return {"schema": 1, "run": RUN, "picks": {"002": {"verdict": "keep", "notes": []}}, "revision": revision, **more}


def test_the_page_its_sound_and_its_notes_are_served_with_what_keeps_them_in(server):
    page = server.ask("/{}/")
    assert (page.code, page.body, page.headers["content-type"]) == (200, b"<p>the page</p>", "text/html; charset=utf-8")
    assert server.ask("/{}/audio/002").body == AUDIO
    assert server.ask("/{}/notes").data["run"] == RUN
    assert "default-src 'none'" in page.headers["content-security-policy"]
    assert page.headers["referrer-policy"] == "no-referrer", "the token must not be told to other sites"
    assert page.headers["cache-control"] == "no-store"
    assert "server" not in page.headers
    assert "access-control-allow-origin" not in page.headers


def test_it_listens_on_the_loopback_interface_only(server):
    assert server.served._socket.getsockname()[0] == "127.0.0.1"
    own = socket.gethostbyname_ex(socket.gethostname())[2]
    for address in (one for one in own if not one.startswith("127.")):
        with pytest.raises(OSError):
            socket.create_connection((address, server.served.port), 2).close()


@pytest.mark.parametrize("path", [
    "/", "/{}", "/{}/audio", "/{}/audio/", "/{}/audio/009", "/{}/notes.json", "/{}/secret.txt", "/notes", "//{}/",
    "/{}/audio/../secret.txt", "/{}/../{}/notes", "/{}/audio/..%2Fsecret.txt", "/{}/audio/%2e%2e/secret.txt",
    "/{}/audio/%2e%2e%2fsecret.txt", "/{}/audio/..%5csecret.txt", "/{}/audio/%252e%252e%252fsecret.txt",
    "/{}/audio/%c0%ae%c0%ae/secret.txt", "/{}/%61udio/002", "/{}/audio/002%00", "/{}/audio/002/",
    "/{}/audio//etc/passwd", "/{}/audio/..;/secret.txt", "/x{}/", "/{}x/", "http://127.0.0.1/{}/secret.txt",
], ids=str)  # fmt: skip
def test_nothing_else_is_there_whatever_way_it_is_written(server, path):
    answer = server.ask(path)
    assert answer.code in (400, 404)
    assert b"nobody may read this" not in answer.body
    assert b"002" not in answer.body, "no listing"
    assert server.token.encode() not in answer.body


@pytest.mark.parametrize("host", ["evil.example", "evil.example:{port}", "127.0.0.1", "127.0.0.1:1", "0.0.0.0:{port}",
                                  "127.0.0.1:{port}.evil.example", "[::1]:{port}"])  # fmt: skip
def test_another_host_name_is_refused_also_where_it_leads_here(server, host):
    answer = server.ask("/{}/notes", host=host.format(port=server.served.port))
    assert answer.code == 403
    assert b"picks" not in answer.body


def test_localhost_is_this_machine_too(server):
    assert server.ask("/{}/", host=f"localhost:{server.served.port}").code == 200


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "https://127.0.0.1:{port}", "http://127.0.0.1",
                                    "http://127.0.0.1:1", "http://localhost:{port}"])  # fmt: skip
def test_another_origin_neither_reads_nor_writes(server, origin):
    origin = origin.format(port=server.served.port)
    assert server.put(document(), Origin=origin).code == 403
    assert server.ask("/{}/notes", Origin=origin).code == 403
    assert server.ask("/{}/audio/002", Origin=origin).code == 403


def test_a_write_without_an_origin_is_refused(server):
    assert server.put(document(), Origin="").code == 403


@pytest.mark.parametrize("method", ["POST", "DELETE", "PATCH", "OPTIONS", "PUT"])
def test_sound_and_page_can_only_be_read(server, method):
    for path in ("/{}/", "/{}/audio/002"):
        assert server.ask(path, method, Origin=f"http://{server.host}").code == 405
    if method != "PUT":
        assert server.ask("/{}/notes", method, Origin=f"http://{server.host}").code == 405


@pytest.mark.parametrize(("asked", "code", "body"), [
    ("bytes=0-3", 206, AUDIO[:4]), ("bytes=100-199", 206, AUDIO[100:200]), ("bytes=10200-", 206, AUDIO[10200:]),
    ("bytes=-5", 206, AUDIO[-5:]), ("bytes=10000-99999", 206, AUDIO[10000:]), ("bytes=-99999", 206, AUDIO),
    ("bytes=10240-", 416, None), ("bytes=20000-20001", 416, None),
    ("bytes=5-2", None, None), ("bytes=x-y", None, None), ("bytes=--3", None, None), ("bytes=", None, None),
    ("frames=0-3", None, None), ("bytes=0x0-3", None, None), ("bytes=1e1-20", None, None),
    ("bytes=\u00b2-3", None, None),
    ("bytes=" + "9" * 400 + "-", None, None),
])  # fmt: skip
def test_ranges_are_as_rfc_9110_has_them(server, asked, code, body):
    answer = server.ask("/{}/audio/002", Range=asked)
    if code is None:  # no range by the grammar: told so, or the whole is sent (RFC 9110, 14.2)
        assert answer.code in (200, 400, 416)
        assert answer.code != 200 or answer.body == AUDIO
        return
    assert answer.code == code
    if body is not None:
        assert answer.body == body
        first = len(AUDIO) - len(body) if asked.startswith("bytes=-") else int(asked[6:].split("-")[0])
        assert answer.headers["content-range"] == f"bytes {first}-{first + len(body) - 1}/{len(AUDIO)}"
    assert server.ask("/{}/audio/002").headers["accept-ranges"] == "bytes"


def test_a_thousand_ranges_are_no_more_work_than_the_file(server):
    answer = server.ask("/{}/audio/002", Range="bytes=" + ",".join("0-" for _ in range(1000)))
    assert len(answer.body) < 4 * len(AUDIO)


def test_notes_are_saved_and_read_back_and_an_older_revision_is_told_the_newer(tmp_path):
    with running(tmp_path / "audition") as server:
        assert server.ask("/{}/notes").data["revision"] == 0
        assert server.put(document()).data == {"revision": 1}
        late = server.put(document(0, picks={}))
        assert late.code == 409
        assert late.data["revision"] == 1
        assert late.data["picks"] == {"002": {"verdict": "keep", "notes": []}}
        assert server.put(document(1, mood="late night")).data == {"revision": 2}
        saved = json.loads((server.place / "notes.json").read_text())
        assert (saved["revision"], saved["mood"]) == (2, "late night"), "what this version does not know is kept"
        assert json.loads((server.place / "notes.before.json").read_text())["revision"] == 1


@pytest.mark.parametrize("sent", [
    b"", b"{", b"[]", b"\xff\xfe", b"null", b"[" * 100_000, b'{"schema": 1}', b'{"schema": 2, "run": "x"}',
    json.dumps(document(run="other#aaaaaaaaaaaa")).encode(), json.dumps(document(revision=-1)).encode(),
    json.dumps(document(picks={"002": {"verdict": "love"}})).encode(),
    json.dumps(document(trials=[{"a": "1", "b": "2", "right": 5, "of": 3}])).encode(),
    b'{"schema": 1, "run": "' + RUN.encode() + b'", "revision": 0, "mood": NaN}',
], ids=lambda sent: sent[:30].decode("latin-1"))  # fmt: skip
def test_what_is_no_document_is_refused_and_nothing_is_written(server, sent):
    answer = server.put(sent)
    assert answer.code == 400
    assert answer.data["error"]
    assert not (server.place / "notes.json").exists()


def test_too_much_is_refused_before_it_is_read(server):
    assert server.put(b" " * (MOST_BYTES + 1)).code == 413
    assert server.ask("/{}/notes", "PUT", Content_Length=str(10**12), Content_Type="application/json",
                      Origin=f"http://{server.host}").code == 413  # fmt: skip


def test_too_much_in_chunks_of_no_announced_length_is_refused(server):
    chunk = b"10000\r\n" + b" " * 0x10000 + b"\r\n"
    body = chunk * (MOST_BYTES // 0x10000 + 2) + b"0\r\n\r\n"
    answer = server.ask("/{}/notes", "PUT", body, Content_Length="", Transfer_Encoding="chunked",
                        Content_Type="application/json", Origin=f"http://{server.host}")  # fmt: skip
    assert answer.code == 413
    assert not (server.place / "notes.json").exists()


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x"])
def test_what_a_form_could_send_is_refused(server, kind):
    assert server.put(document(), Content_Type=kind).code == 415


def test_a_browser_that_closes_in_the_middle_of_a_save_loses_nothing(tmp_path):
    with running(tmp_path / "audition") as server:
        server.put(document())
        whole = json.dumps(document(1, picks={"002": {"verdict": "drop"}})).encode()
        head = (f"PUT /{server.token}/notes HTTP/1.1\r\nHost: {server.host}\r\nOrigin: http://{server.host}\r\n"
                f"Content-Type: application/json\r\nContent-Length: {len(whole)}\r\n\r\n").encode()  # fmt: skip
        for cut in (0, 1, len(whole) // 2, len(whole) - 1):
            with socket.create_connection(("127.0.0.1", server.served.port), 10) as wire:
                wire.sendall(head + whole[:cut])
        now = server.ask("/{}/notes").data
        assert (now["revision"], now["picks"]["002"]["verdict"]) == (1, "keep")
        assert server.put(json.loads(whole)).data == {"revision": 2}


def test_two_servers_at_once_have_ports_and_tokens_of_their_own_and_do_not_overwrite_each_other(tmp_path):
    with running(tmp_path / "audition") as one, running(tmp_path / "audition") as other:
        assert one.served.port != other.served.port
        assert one.token != other.token
        assert other.ask(f"/{one.token}/").code == 404
        assert one.put(document()).code == 200
        assert other.put(document()).code == 409, "the other's page has not seen it"
        assert other.put(document(1)).data == {"revision": 2}


def test_a_file_that_has_gone_is_told(tmp_path):
    with running(tmp_path / "audition") as server:
        (server.place / "002.wav").unlink()
        assert server.ask("/{}/audio/002").code == 404
        assert server.ask("/{}/").code == 200


def test_notes_that_were_damaged_meanwhile_are_not_overwritten(tmp_path):
    with running(tmp_path / "audition") as server:
        (server.place / "notes.json").write_text("{ half")
        assert server.ask("/{}/notes").code == 500
        assert server.put(document()).code == 507
        assert (server.place / "notes.json").read_text() == "{ half"


def test_a_run_is_served_on_its_own_port_again_so_that_what_the_browser_kept_is_found(tmp_path):
    ports = []
    for _ in range(2):
        with running(tmp_path / "audition", f"own#{tmp_path}") as server:
            assert server.ask("/{}/").code == 200
            ports.append(server.served.port)
    assert ports[0] == ports[1] >= 49152
