"""Downloads over lines and servers that fail: nothing fetched is lost, no two versions are joined."""

from __future__ import annotations

import random
import shutil
import socket
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from speech.errors import FetchFailed, ModelRefused
from speech.shelf import download
from speech.shelf.download import Partial, fetch
from tests.helpers.file_server import Web, serving

CONTENT = random.Random(1).randbytes(500_000)
OTHER = random.Random(2).randbytes(500_000)
AT_ONCE = (0.0, 0.0)


@pytest.fixture
def web() -> Iterator[Web]:
    with serving(CONTENT) as made:
        yield made


def fetched(web: Web, folder: Path) -> bytes:
    return fetch(web.url, folder, pauses_s=AT_ONCE).path.read_bytes()


def cut_once(web: Web, folder: Path, after: int = 200_000) -> int:
    """A download that gave up after some bytes; how many are kept."""
    web.cuts = [after]
    with pytest.raises(FetchFailed) as failed:
        fetch(web.url, folder, pauses_s=())
    assert failed.value.kept == Partial(folder, web.url).size
    return failed.value.kept


def test_a_whole_file(web: Web, tmp_path: Path) -> None:
    seen: list[tuple[int, int | None]] = []
    partial = fetch(web.url, tmp_path, lambda done, total: seen.append((done, total)))
    assert partial.path.read_bytes() == CONTENT
    assert seen[-1] == (len(CONTENT), len(CONTENT))
    assert seen == sorted(seen)


def test_a_line_that_is_cut_again_and_again(web: Web, tmp_path: Path) -> None:
    web.cuts = [100_000, 50_000, 1, 120_000]
    assert fetched(web, tmp_path) == CONTENT
    assert web.asked == [None, "bytes=100000-", "bytes=150000-", "bytes=150001-", "bytes=270001-"]


def test_the_next_start_goes_on(web: Web, tmp_path: Path) -> None:
    assert cut_once(web, tmp_path) == 200_000
    assert fetched(web, tmp_path) == CONTENT
    assert web.asked == [None, "bytes=200000-"]
    assert web.held == [None, web.etag]


def test_a_server_that_gives_ranges_in_pieces(web: Web, tmp_path: Path) -> None:
    cut_once(web, tmp_path)
    web.most = 120_000
    assert fetched(web, tmp_path) == CONTENT
    assert web.asked == [None, "bytes=200000-", "bytes=320000-", "bytes=440000-"]


def test_another_range_than_was_asked_for_is_not_joined(web: Web, tmp_path: Path) -> None:
    cut_once(web, tmp_path)
    web.shifted = 10
    assert fetched(web, tmp_path) == CONTENT


def test_what_is_complete_is_not_asked_for_again(web: Web, tmp_path: Path) -> None:
    fetched(web, tmp_path)
    assert fetched(web, tmp_path) == CONTENT
    assert len(web.asked) == 1


@pytest.mark.parametrize("minds_if_range", [True, False])
@pytest.mark.parametrize("change", ["etag", "dated"])
def test_a_file_that_changed_begins_again(web: Web, tmp_path: Path, change: str, minds_if_range: bool) -> None:
    web.etag = '"first"' if change == "etag" else None
    web.dated = "Tue, 03 Nov 2026 10:00:00 GMT"
    cut_once(web, tmp_path)
    web.content, web.minds_if_range = OTHER, minds_if_range
    web.etag = '"second"' if change == "etag" else None
    web.dated = "Wed, 04 Nov 2026 10:00:00 GMT"
    assert fetched(web, tmp_path) == OTHER


def test_a_shorter_file_begins_again(web: Web, tmp_path: Path) -> None:
    cut_once(web, tmp_path)
    web.content, web.minds_if_range = CONTENT[:1000], False
    assert fetched(web, tmp_path) == CONTENT[:1000]


def test_a_longer_file_of_the_same_mark_begins_again(web: Web, tmp_path: Path) -> None:
    cut_once(web, tmp_path)
    web.content = OTHER + OTHER
    assert fetched(web, tmp_path) == OTHER + OTHER


@pytest.mark.parametrize("etag", [None, 'W/"first"'])
def test_without_a_mark_to_trust_it_begins_again(web: Web, tmp_path: Path, etag: str | None) -> None:
    web.etag = etag
    cut_once(web, tmp_path)
    web.content = OTHER
    assert fetched(web, tmp_path) == OTHER
    assert web.asked == [None, None]


def test_a_server_without_ranges_gives_all_again(web: Web, tmp_path: Path) -> None:
    web.ranges = False
    cut_once(web, tmp_path)
    assert fetched(web, tmp_path) == CONTENT


def test_a_server_that_does_not_say_the_length(web: Web, tmp_path: Path) -> None:
    web.says_length = False
    assert fetched(web, tmp_path) == CONTENT


def test_a_note_that_is_torn_begins_again(web: Web, tmp_path: Path) -> None:
    cut_once(web, tmp_path)
    Partial(tmp_path, web.url).note.write_bytes(b'{"total": 5000')
    assert fetched(web, tmp_path) == CONTENT


def test_a_part_longer_than_the_file_begins_again(web: Web, tmp_path: Path) -> None:
    cut_once(web, tmp_path)
    with Partial(tmp_path, web.url).path.open("ab") as part:
        part.write(CONTENT)
    assert fetched(web, tmp_path) == CONTENT


def test_busy_servers_are_asked_again(web: Web, tmp_path: Path) -> None:
    web.refusals = [503, 429]
    assert fetched(web, tmp_path) == CONTENT


def test_a_server_that_stays_busy_loses_nothing(web: Web, tmp_path: Path) -> None:
    cut_once(web, tmp_path)
    web.refusals = [503] * 3
    with pytest.raises(FetchFailed, match=r"answers 503.*what was fetched is kept \(0\.2 MB\); run it again"):
        fetched(web, tmp_path)
    assert fetched(web, tmp_path) == CONTENT


@pytest.mark.parametrize("code", [401, 403, 404, 410])
def test_an_address_without_a_file_is_refused_at_once(web: Web, tmp_path: Path, code: int) -> None:
    web.refusals = [code]
    with pytest.raises(ModelRefused, match=f"the server answers {code}"):
        fetched(web, tmp_path)
    assert len(web.asked) == 1


def test_without_a_connection(tmp_path: Path) -> None:
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        url = f"http://127.0.0.1:{held.getsockname()[1]}/a.zip"
        with pytest.raises(FetchFailed, match=r"^no connection: nothing was fetched yet; run it again$"):
            fetch(url, tmp_path, pauses_s=AT_ONCE)


def test_offline_in_the_middle_and_back(tmp_path: Path) -> None:
    with serving(CONTENT) as web:
        cut_once(web, tmp_path)
        partial = Partial(tmp_path, web.url)
    with pytest.raises(FetchFailed, match=r"^no connection: what was fetched is kept \(0\.2 MB\); run it again$"):
        fetch(web.url, tmp_path, pauses_s=AT_ONCE)
    assert partial.path.read_bytes() == CONTENT[:200_000]


def test_pauses_grow_only_without_progress(web: Web, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    slept: list[float] = []
    monkeypatch.setattr(download.time, "sleep", slept.append)
    web.cuts, web.refusals = [1000, 0, 1000], [503]
    assert fetch(web.url, tmp_path, pauses_s=(1, 2, 3)).path.read_bytes() == CONTENT
    assert [pause for pause in slept if pause] == [1, 1, 2, 1]


def test_a_redirect_is_followed_but_not_in_a_circle(web: Web, tmp_path: Path) -> None:
    with serving(b"") as other:
        other.goes_to = web.url
        assert fetched(other, tmp_path) == CONTENT
        other.goes_to = other.url
        Partial(tmp_path, other.url).drop()
        with pytest.raises(ModelRefused, match="gives no file"):
            fetched(other, tmp_path)


def test_a_safe_address_must_not_end_unsafely() -> None:
    first = httpx.Response(302, request=httpx.Request("GET", "https://farm.example/a.zip"))
    last = httpx.Response(200, request=httpx.Request("GET", "http://farm.example/a.zip"), history=[first])
    with pytest.raises(ModelRefused, match="from https to http"):
        download._check_way("https://farm.example/a.zip", last)
    download._check_way("http://farm.example/a.zip", last)


def test_a_full_disk_is_seen_before(web: Web, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    cut_once(web, tmp_path)
    usage = shutil.disk_usage(tmp_path)._replace(free=1_000_000)
    monkeypatch.setattr(download.shutil, "disk_usage", lambda _: usage)
    with pytest.raises(FetchFailed, match="the disk has 1 MB left"):
        fetched(web, tmp_path)
    monkeypatch.undo()
    assert fetched(web, tmp_path) == CONTENT


def test_a_file_beyond_all_bounds(web: Web, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(download, "LARGEST_BYTES", 100_000)
    with pytest.raises(ModelRefused, match="larger than"):
        fetched(web, tmp_path)
    web.says_length = False
    with pytest.raises(FetchFailed, match="more than it said"):
        fetched(web, tmp_path)
    assert not Partial(tmp_path, web.url).size
