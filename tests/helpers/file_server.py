"""A web server with one file, and the ways in which real ones and their lines go wrong."""

from __future__ import annotations

import contextlib
import re
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

PIECE = 64 * 1024


@dataclass
class Web:
    """What the server has and how it behaves; change it while it runs. ``cuts`` are sizes after which a line is cut,
    one for each answer; ``refusals`` are codes that are answered first; ``most`` bytes are given for one range, which
    begins ``shifted`` bytes too late. ``asked`` and ``held`` are the Range and If-Range headers that came."""

    content: bytes
    etag: str | None = '"first"'
    dated: str | None = None
    url: str = ""
    ranges: bool = True
    minds_if_range: bool = True
    says_length: bool = True
    pause_s: float = 0.0
    cuts: list[int] = field(default_factory=list)
    refusals: list[int] = field(default_factory=list)
    goes_to: str | None = None
    most: int | None = None
    shifted: int = 0
    asked: list[str | None] = field(default_factory=list)
    held: list[str | None] = field(default_factory=list)


def _handler(web: Web) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            web.asked.append(self.headers.get("Range"))
            web.held.append(self.headers.get("If-Range"))
            if web.refusals:
                self._short(web.refusals.pop(0))
            elif web.goes_to:
                self._short(302, ("Location", web.goes_to))
            else:
                self._answer()

        def _short(self, code: int, *headers: tuple[str, str]) -> None:
            self.send_response(code)
            for name, value in (*headers, ("Content-Length", "0")):
                self.send_header(name, value)
            self.end_headers()

        def _answer(self) -> None:
            start, size = self._start(), len(web.content)
            if start > 0 and start >= size:
                self._short(416, ("Content-Range", f"bytes */{size}"))
                return
            self.send_response(206 if start else 200)
            end = min(size, start + (web.most or size)) if start else size
            if start:
                start += web.shifted
                self.send_header("Content-Range", f"bytes {start}-{end - 1}/{size}")
            for name, value in (("ETag", web.etag), ("Last-Modified", web.dated)):
                if value:
                    self.send_header(name, value)
            if web.says_length:
                self.send_header("Content-Length", str(end - start))
            self.end_headers()
            self._send(web.content[start:end])

        def _start(self) -> int:
            wanted = re.fullmatch(r"bytes=(\d+)-", self.headers.get("Range", ""))
            held = self.headers.get("If-Range")
            same = not web.minds_if_range or held in (None, web.etag, web.dated)
            return int(wanted[1]) if wanted and web.ranges and same else 0

        def _send(self, content: bytes) -> None:
            left = web.cuts.pop(0) if web.cuts else len(content)
            for at in range(0, min(left, len(content)), PIECE):
                self.wfile.write(content[at : min(at + PIECE, left)])
                time.sleep(web.pause_s)
            self.close_connection = True

        def log_message(self, *_: object) -> None:
            pass

        def handle(self) -> None:
            with contextlib.suppress(ConnectionError):
                super().handle()

    return Handler


@contextlib.contextmanager
def serving(content: bytes, name: str = "a-model-en.zip") -> Iterator[Web]:
    """A server on a free port of this computer, gone at the end."""
    web = Web(content)
    server = ThreadingHTTPServer(("127.0.0.1", 0), _handler(web))
    web.url = f"http://127.0.0.1:{server.server_address[1]}/{name}"
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
    thread.start()
    try:
        yield web
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
