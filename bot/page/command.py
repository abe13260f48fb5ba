"""``rowhand page``: serve the page, pair phones, list and remove them."""

from __future__ import annotations

import asyncio
import contextlib
import io
import signal
from datetime import UTC, datetime
from typing import Annotated

import segno
import typer

from bot.options import BeginOption, RecordOption
from bot.page.assembly import page_parts
from bot.page.server import PageServer
from bot.page.visitors.address import in_url, reachable
from bot.page.visitors.phones import CODE_LASTS, PhoneRole, PhoneShelf
from bot.settings import load_settings
from bot.wiring import open_record
from engine.errors import InputError

PORT = 8470
LIGHT, PLAIN = "\x1b[97;40m", "\x1b[0m"
"""White on black, in which a filled block is a light piece of the code; left out where no terminal reads it."""
app = typer.Typer(
    name="page",
    help="A page for phones within reach of this computer: the same conversation, without internet.",
    invoke_without_command=True,
    rich_markup_mode=None,
)

Role = Annotated[PhoneRole, typer.Option(help="What the phone is for: an operator's talks, a foreman's looks on.")]


@app.callback()
def serve(
    context: typer.Context,
    address: Annotated[
        str, typer.Option(help="Address of this computer to serve at; all of its own unless named.")
    ] = "",
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port to serve at; 0 takes a free one.")] = PORT,
    db: RecordOption = None,
    language: BeginOption = None,
    role: Role = PhoneRole.OPERATOR,
) -> None:
    """Serve the page until stopped with Ctrl-C, and pair a first phone."""
    if context.invoked_subcommand is not None:
        return
    settings = load_settings(database=db, language=language)
    record = open_record(settings)
    server = PageServer(address, port, lambda taken: page_parts(settings, record, address, taken))
    code = PhoneShelf.of(settings.database).open_code(role, datetime.now(UTC))
    typer.echo(_told(address, server.port, code, role))
    asyncio.run(_served(server))


@app.command("pair")
def pair_command(db: RecordOption = None, role: Role = PhoneRole.OPERATOR) -> None:
    """A code for one more phone, while the page is served."""
    shelf = PhoneShelf.of(load_settings(database=db).database)
    code = shelf.open_code(role, datetime.now(UTC))
    typer.echo(f"code for {_article(role)}'s phone, for {_minutes()} minutes, once: {_grouped(code)}")


@app.command("phones")
def phones_command(db: RecordOption = None) -> None:
    """List the paired phones."""
    settings = load_settings(database=db)
    found = PhoneShelf.of(settings.database).all()
    for one in found:
        paired, seen = (f"{at.astimezone(settings.zone):%Y-%m-%d %H:%M}" for at in (one.paired_at, one.seen_at))
        typer.echo(f"{one.number}: {one.role}, paired {paired}, last here {seen}")
    if not found:
        typer.echo("no phone is paired")


@app.command("forget")
def forget_command(
    number: Annotated[int, typer.Argument(min=1, help="Its number, as listed by rowhand page phones.")],
    db: RecordOption = None,
) -> None:
    """Remove a paired phone: it is let in no more."""
    if not PhoneShelf.of(load_settings(database=db).database).forget(number):
        raise InputError(f"there is no phone {number}: see rowhand page phones")
    typer.echo(f"phone {number} is let in no more")


async def _served(server: PageServer) -> None:
    stopped = asyncio.Event()
    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        with contextlib.suppress(NotImplementedError):
            loop.add_signal_handler(number, stopped.set)
    await server.run(stopped)


def _told(bound: str, port: int, code: str, role: PhoneRole) -> str:
    """What is printed for who stands before the screen."""
    addresses = [in_url(one, port) for one in reachable(bound)]
    also = [f"also at {one}" for one in addresses[1:]]
    return "\n".join(
        [
            drawn(f"{addresses[0]}pair?code={code}"),
            f"open with a phone that is on the network of this computer: {addresses[0]}",
            *also,
            f"code for {_article(role)}'s phone, for {_minutes()} minutes, once: {_grouped(code)}",
            "one more phone: rowhand page pair; stop with Ctrl-C",
        ]
    )


def _grouped(code: str) -> str:
    return f"{code[:4]} {code[4:]}"


def _article(role: PhoneRole) -> str:
    return f"an {role}" if role is PhoneRole.OPERATOR else f"a {role}"


def _minutes() -> int:
    return round(CODE_LASTS.total_seconds() / 60)


def drawn(text: str) -> str:
    """A QR code for a terminal, dark on light whatever its colours are: the lines, two rows of the code in each."""
    out = io.StringIO()
    segno.make(text, micro=False, error="l").terminal(out, border=2, compact=True)
    return "\n".join(f"{LIGHT}{line}{PLAIN}" for line in out.getvalue().rstrip("\n").splitlines())
