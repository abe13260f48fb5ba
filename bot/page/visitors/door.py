"""Who is let in: browsers near this computer that ask for it by its own name, and of those the paired phones.

Foreign pages cannot talk through a visitor's browser: a request must name this computer itself (Host), and what changes
anything must come from its own page (Origin). All others get one line.
"""

from __future__ import annotations

from dataclasses import dataclass
from http import HTTPStatus

from tornado.httputil import HTTPServerRequest
from tornado.web import RequestHandler

from bot.page.texts import PageKey, PageTexts
from bot.page.visitors.address import is_named, is_near
from bot.page.visitors.files import SiteFiles
from bot.page.visitors.phones import PairedPhone, PhoneShelf
from engine.errors import RowhandError
from engine.messages import Language

COOKIE = "rowhand"
COOKIE_DAYS = 365
LONGEST_TOKEN = 100
HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; media-src 'self' blob:; "
    "connect-src 'self' ws://{host}; manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)


@dataclass(frozen=True)
class PageDoor:
    """What every request is held against; ``bound`` and ``port`` are where the server listens."""

    shelf: PhoneShelf
    texts: PageTexts
    files: SiteFiles
    bound: str
    port: int
    language: Language

    def is_here(self, request: HTTPServerRequest) -> bool:
        """Whether it comes from near and asks for this computer by its own name."""
        return is_near(request.remote_ip or "") and is_named(request.headers.get("Host", ""), self.port, self.bound)

    def is_own(self, request: HTTPServerRequest) -> bool:
        """Whether it was made by a page that this computer served."""
        origins = request.headers.get_list("Origin")
        return len(origins) == 1 and origins[0].lower() == f"http://{request.headers.get('Host', '').lower()}"

    def phone(self, request: HTTPServerRequest) -> PairedPhone | None:
        """The paired phone that asks; None for anybody else, also while the list of phones cannot be read."""
        try:
            token = request.cookies[COOKIE].value if COOKIE in request.cookies else ""
            return self.shelf.of_token(token) if 0 < len(token) <= LONGEST_TOKEN else None
        except (RowhandError, ValueError):
            return None


class PageHandler(RequestHandler):
    """A request that was looked at before anything is done; ``needs`` a paired phone unless a handler says else."""

    needs_phone = True

    def initialize(self, door: PageDoor) -> None:
        self.door = door
        self.phone: PairedPhone | None = None

    def set_default_headers(self) -> None:
        self.clear_header("Server")
        for name, value in HEADERS.items():
            self.set_header(name, value)
        host = self.request.headers.get("Host", "")
        named = host if is_named(host, self.settings["port"], self.settings["bound"]) else "localhost"
        self.set_header("Content-Security-Policy", POLICY.format(host=named))
        self.set_header("Cache-Control", "no-store")

    def prepare(self) -> None:
        """Refuse at once, before a body is read, what comes from elsewhere."""
        changes = self.request.method not in ("GET", "HEAD")
        if not self.door.is_here(self.request) or (changes and not self.door.is_own(self.request)):
            self.refuse(HTTPStatus.FORBIDDEN)
        else:
            self.phone = self.door.phone(self.request)
            if self.needs_phone and self.phone is None:
                self.refuse(HTTPStatus.FORBIDDEN)

    def refuse(self, status: int) -> None:
        """One line, and nothing else."""
        self.set_status(status)
        self.set_header("Content-Type", "text/plain; charset=utf-8")
        self.finish(self.door.texts.say(PageKey.ONE_LINE, self.door.language) + "\n")

    def write_error(self, status_code: int, **kwargs: object) -> None:  # noqa: ARG002
        self.set_default_headers()
        self.refuse(status_code)

    def data_received(self, chunk: bytes) -> None:
        """Bodies are read whole, within their limit."""


class NothingHere(PageHandler):
    """Every other address."""

    def prepare(self) -> None:
        super().prepare()
        if not self._finished:
            self.refuse(HTTPStatus.NOT_FOUND)
