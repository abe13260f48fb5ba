"""Who is let in: by Host, by Origin, from near, paired; and what all others get."""

from __future__ import annotations

import socket
import stat
from contextlib import suppress

import pytest
from tornado.httpclient import HTTPClientError

from bot.page.visitors.address import is_named, is_near
from bot.page.visitors.files import FOLDER, site_files
from bot.page.visitors.pairing import FROM_ONE, IN_ALL, WITHIN, WrongCodes
from bot.page.visitors.phones import PhoneRole
from tests.helpers.page_client import PhoneWire, ask, paired
from tests.helpers.page_host import HERE, PageHost
from tests.helpers.talking import START

LINE = "Rowhand answers paired phones only.\n"
PATHS = (
    "/line", "/recording", "/paper/run.json", "/paper/run.png", f"/site/{'0' * 16}/start.js", "/nothing",
    "/site/../../pyproject.toml", "/site/%2e%2e/%2e%2e/etc/passwd", "/..%2f..%2fetc/passwd", "//etc/passwd",
)  # fmt: skip


@pytest.mark.parametrize("path", PATHS)
def test_another_machine_gets_one_line_and_nothing_else(host: PageHost, path: str) -> None:
    answer = ask(host, path)
    assert (answer.status, answer.text) == (403, LINE)


@pytest.mark.parametrize("path", [path for path in PATHS if ".." in path or "%" in path or path.startswith("//")])
def test_no_path_leads_out_of_the_files_of_the_page(host: PageHost, path: str) -> None:
    answer = ask(host, path, token=paired(host))
    assert answer.status == 404 and b"root:" not in answer.body and b"[project]" not in answer.body


def test_a_paired_phone_gets_the_page_with_every_file_and_nothing_inline(host: PageHost) -> None:
    token = paired(host)
    page = ask(host, "/", token=token)
    assert page.status == 200 and "<script>" not in page.text and " style=" not in page.text
    assert ask(host, "/").headers["Location"] == "/pair"
    files = site_files()
    assert {path.name for path in FOLDER.iterdir()} == {*files.files, *files.pages} - {"texts.json"}
    for name in files.files:
        answer = ask(host, f"/site/{files.version}/{name}", token=token)
        assert answer.status == 200 and answer.headers["X-Content-Type-Options"] == "nosniff"
    policy = page.headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy and "unsafe" not in policy and "frame-ancestors 'none'" in policy
    assert page.headers["X-Frame-Options"] == "DENY"


def test_no_file_of_the_page_names_another_place() -> None:
    known = ("http://www.w3.org/2000/svg",)
    for name, file in site_files().files.items():
        text = file.content.decode()
        for one in known:
            text = text.replace(one, "")
        assert "http://" not in text and "https://" not in text, name


@pytest.mark.parametrize("name", ["evil.example", "127.0.0.1.evil.example", "localhost.evil.example", "8.8.8.8", ""])
def test_a_foreign_name_of_this_computer_is_refused(host: PageHost, name: str) -> None:
    token = paired(host)
    assert ask(host, "/", token=token, Host=f"{name}:{host.port}").status == 403
    assert ask(host, "/", token=token, Host=f"localhost:{host.port}").status == 200
    assert ask(host, "/", token=token, Host=f"localhost:{host.port + 1}").status == 403


def test_only_the_figures_of_near_networks_and_own_names_are_this_computer() -> None:
    assert is_named("192.168.4.1:8470", 8470, "") and is_named("[fe80::1]:8470", 8470, "")
    assert is_named(f"{socket.gethostname()}:8470", 8470, "")
    assert not is_named("192.168.4.1", 8470, "") and not is_named("farm.example:8470", 8470, "")
    near = ("127.0.0.1", "10.0.0.7", "192.168.43.9", "172.20.1.1", "fe80::3%wlan0", "::1", "::ffff:192.168.1.2")
    assert all(map(is_near, near))
    assert not any(map(is_near, ("8.8.8.8", "2600::1", "", "name", "::ffff:8.8.8.8")))


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "", "https://{host}", "http://{host}.evil.example"])
async def test_a_foreign_page_opens_no_line_and_pairs_nothing(host: PageHost, origin: str) -> None:
    token, named = paired(host), origin.format(host=f"{HERE}:{host.port}")
    with pytest.raises(HTTPClientError, match="403"):
        await PhoneWire.open(host, token, Origin=named)
    assert ask(host, "/pair", "POST", f"code={host.code()}".encode(), Origin=named).status == 403
    assert ask(host, "/recording?id=a", "POST", b"x", token=token, Origin=named).status == 403


async def test_without_its_token_or_with_another_one_there_is_no_line(host: PageHost) -> None:
    paired(host)
    for token in ("", "x", "a" * 43, "é", "a" * 5000):
        with pytest.raises(HTTPClientError):
            await PhoneWire.open(host, token)


def test_a_code_pairs_one_phone_once(host: PageHost) -> None:
    code = host.code()
    first = ask(host, "/pair", "POST", f"code={code[:4]}+{code[4:]}".encode())
    assert first.status == 303 and "HttpOnly" in first.headers["Set-Cookie"]
    assert ask(host, "/pair", "POST", f"code={code}".encode()).status == 403
    assert [one.role for one in host.shelf.all()] == [PhoneRole.OPERATOR]


def test_looking_at_the_page_for_pairing_pairs_nothing(host: PageHost) -> None:
    code = host.code()
    page = ask(host, f"/pair?code={code}")
    assert page.status == 200 and f'value="{code}"' in page.text
    assert 'value=""' in ask(host, "/pair?code=%22%3E%3Cscript%3E").text
    assert host.shelf.all() == ()


def test_wrong_codes_are_limited_and_then_the_right_one_too(host: PageHost) -> None:
    for _ in range(FROM_ONE):
        assert ask(host, "/pair", "POST", b"code=00000000").status == 403
    late = ask(host, "/pair", "POST", f"code={host.code()}".encode())
    assert late.status == 429 and int(late.headers["Retry-After"]) <= WITHIN.total_seconds()
    assert host.shelf.all() == ()


def test_wrong_codes_are_limited_for_each_address_and_in_all() -> None:
    wrong = WrongCodes()
    for number in range(IN_ALL):
        assert not wrong.wait(f"10.0.0.{number}", START)
        wrong.wrong(f"10.0.0.{number}", START)
    assert wrong.wait("10.0.1.1", START) == WITHIN
    assert not wrong.wait("10.0.1.1", START + WITHIN)
    for _ in range(FROM_ONE):
        wrong.wrong("10.0.0.1", START + WITHIN)
    assert wrong.wait("10.0.0.1", START + WITHIN) and not wrong.wait("10.0.0.2", START + WITHIN)
    wrong.right("10.0.0.1")
    assert not wrong.wait("10.0.0.1", START + WITHIN)


def test_of_tokens_and_codes_only_hashes_are_kept_where_their_owner_alone_reads(host: PageHost) -> None:
    token, code = paired(host), host.code()
    text = host.shelf.file.read_text(encoding="utf-8")
    assert token not in text and code not in text
    for file in (host.shelf.file, host.shelf.file.with_name(f".{host.shelf.file.name}.lock")):
        assert stat.S_IMODE(file.stat().st_mode) == 0o600


@pytest.mark.parametrize(("path", "size"), [("/pair", 5_000), ("/recording", 5_000_001), ("/", 100_000)])
def test_a_body_over_its_limit_is_not_taken(host: PageHost, path: str, size: int) -> None:
    with socket.create_connection((HERE, host.port), 30) as line:
        head = (
            f"POST {path} HTTP/1.1\r\nHost: {HERE}:{host.port}\r\nOrigin: {host.address}\r\nContent-Length: {size}\r\n"
        )
        line.sendall(f"{head}Cookie: rowhand={paired(host)}\r\n\r\n".encode())
        line.settimeout(30)
        answer = line.recv(4_096)
    assert answer == b"" or answer.split()[1] in (b"400", b"403", b"405", b"413")


def test_a_head_over_its_limit_ends_the_connection_and_nothing_else(host: PageHost) -> None:
    with socket.create_connection((HERE, host.port), 30) as line, suppress(ConnectionResetError, BrokenPipeError):
        line.sendall(b"GET / HTTP/1.1\r\nHost: x\r\nX: " + b"a" * 100_000 + b"\r\n\r\n")
        assert line.recv(4_096)[:12] in (b"", b"HTTP/1.1 400", b"HTTP/1.1 431")
    assert ask(host, "/pair").status == 200
