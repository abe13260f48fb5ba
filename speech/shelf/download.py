"""A file from the web over a line that may be cut: what was fetched stays, the next try goes on from there.

The server's word for the version of the file (a strong ETag, else its date) is kept beside the unfinished part and sent
along (``If-Range``): a file that has changed meanwhile begins again, so that two versions are never joined.
"""

from __future__ import annotations

import hashlib
import json
import re
import shutil
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from http import HTTPStatus
from pathlib import Path

import httpx

from speech.errors import FetchFailed, ModelRefused
from speech.shelf.model_store import failing, write

PAUSES_S = (1.0, 2.0, 4.0)
"""How long to wait after a try that brought nothing; after the last one it gives up."""
TIMEOUT = httpx.Timeout(30.0, connect=15.0)
LARGEST_BYTES = 8 * 2**30
SPARE_BYTES = 50 * 2**20
"""What a download leaves free on the disk."""
PASSING = {HTTPStatus.REQUEST_TIMEOUT, HTTPStatus.TOO_MANY_REQUESTS, *(code for code in HTTPStatus if code >= 500)}

Progress = Callable[[int, int | None], None]
"""Called with the bytes that are there and those there will be, where the server says."""


class Cut(Exception):
    """One try ended early; another may go on."""


@dataclass(frozen=True, slots=True)
class Version:
    """What the server said of the file: its length, and a word that changes when the file does."""

    total: int | None
    validator: str | None


class Partial:
    """The unfinished part of one address in a folder, and the version it is a part of."""

    def __init__(self, folder: Path, url: str) -> None:
        name = hashlib.sha256(url.encode(errors="surrogateescape")).hexdigest()[:16]
        self.path = folder / f"{name}.part"
        self.note = folder / f"{name}.json"

    @property
    def size(self) -> int:
        return self.path.stat().st_size if self.path.exists() else 0

    @property
    def version(self) -> Version | None:
        try:
            return Version(**json.loads(self.note.read_text(encoding="utf-8")))
        except (OSError, ValueError, TypeError):
            return None

    @property
    def complete(self) -> bool:
        version = self.version
        return version is not None and version.total is not None and self.size == version.total

    def begin(self, version: Version) -> None:
        """Start over with a version; a part never stands beside the note of another version."""
        self.drop()
        self.path.parent.mkdir(parents=True, exist_ok=True)
        write(self.note, json.dumps(asdict(version)).encode())

    def drop(self) -> None:
        self.path.unlink(missing_ok=True)
        self.note.unlink(missing_ok=True)


def fetch(
    url: str, folder: Path, progress: Progress = lambda _done, _total: None, pauses_s: Sequence[float] | None = None
) -> Partial:
    """The whole file of an address, in ``folder`` until it is dropped; one that is complete is not asked for again.

    Raises FetchFailed when the line or the server failed (what came is kept), ModelRefused for an address that can
    never give a file, ShelfFailed.
    """
    partial = Partial(folder, url)
    pauses = PAUSES_S if pauses_s is None else pauses_s
    waits = iter(pauses)
    with failing(folder), httpx.Client(follow_redirects=True, timeout=TIMEOUT) as client:
        while not partial.complete:
            before = partial.size
            try:
                _try(client, url, partial, progress)
                break
            except (httpx.UnsupportedProtocol, httpx.TooManyRedirects, httpx.InvalidURL) as error:
                raise ModelRefused(url, f"this address gives no file ({error})") from error
            except (Cut, httpx.HTTPError) as error:
                waits = iter(pauses) if partial.size > before else waits
                pause = next(waits, None)
                if pause is None:
                    raise FetchFailed(_why(error), partial.size) from error
                time.sleep(pause)
    return partial


def _try(client: httpx.Client, url: str, partial: Partial, progress: Progress) -> None:
    """One request, to the end of the file. Raises Cut, httpx.HTTPError, FetchFailed or ModelRefused."""
    with client.stream("GET", url, headers=_asking(partial)) as response:
        _check_way(url, response)
        match response.status_code:
            case HTTPStatus.PARTIAL_CONTENT if _goes_on(response, partial):
                pass
            case HTTPStatus.OK:
                partial.begin(_version(response))
            case HTTPStatus.PARTIAL_CONTENT | HTTPStatus.REQUESTED_RANGE_NOT_SATISFIABLE:
                partial.drop()
                raise Cut("the file on the server has changed")
            case code if code in PASSING:
                raise Cut(f"the server answers {code} {response.reason_phrase}")
            case code:
                raise ModelRefused(url, f"the server answers {code} {response.reason_phrase}")
        _take(response, partial, progress)


def _take(response: httpx.Response, partial: Partial, progress: Progress) -> None:
    version = partial.version
    total = version.total if version else None
    _check_room(total, partial)
    done = partial.size
    with partial.path.open("ab", buffering=0) as file:
        for piece in response.iter_raw():
            file.write(piece)
            done += len(piece)
            progress(done, total)
            if done > (total or LARGEST_BYTES):
                partial.drop()
                raise Cut("the server sent more than it said")
    if total is not None and done < total:
        raise Cut("the line was cut")


def _asking(partial: Partial) -> dict[str, str]:
    version, size = partial.version, partial.size
    asking = {"Accept-Encoding": "identity"}
    if size and version and version.validator:
        asking |= {"Range": f"bytes={size}-", "If-Range": version.validator}
    return asking


def _version(response: httpx.Response) -> Version:
    length = response.headers.get("content-length", "")
    return Version(int(length) if length.isdecimal() else None, _validator(response))


def _validator(response: httpx.Response) -> str | None:
    """A strong ETag, else the date of the file; a weak ETag does not tell versions apart (RFC 9110, 13.1.5)."""
    tag: str | None = response.headers.get("etag")
    dated: str | None = response.headers.get("last-modified")
    return tag if tag and tag.startswith('"') else dated


def _goes_on(response: httpx.Response, partial: Partial) -> bool:
    """Whether the answer is the rest of the part that is there; some servers do not read ``If-Range``."""
    found = re.fullmatch(r"bytes (\d+)-\d+/(\d+|\*)", response.headers.get("content-range", ""))
    version = partial.version
    if found is None or version is None or int(found[1]) != partial.size:
        return False
    same = found[2] == "*" or version.total is None or int(found[2]) == version.total
    return same and _validator(response) in (None, version.validator)


def _check_way(url: str, response: httpx.Response) -> None:
    """An address that begins safely must not end unsafely."""
    if url.lower().startswith("https:") and any(hop.url.scheme != "https" for hop in (*response.history, response)):
        raise ModelRefused(url, "it leads from https to http, where anybody on the way can change the file")


def _check_room(total: int | None, partial: Partial) -> None:
    if total is not None and total > LARGEST_BYTES:
        partial.drop()
        raise ModelRefused("the file", f"it is larger than {LARGEST_BYTES / 1e9:.1f} GB")
    free, wanted = shutil.disk_usage(partial.path.parent).free, (total or 0) - partial.size
    if wanted + SPARE_BYTES > free:
        raise FetchFailed(f"{wanted / 1e6:.0f} MB are to come and the disk has {free / 1e6:.0f} MB left", partial.size)


def _why(error: Exception) -> str:
    return str(error) if isinstance(error, Cut) else "no connection"
