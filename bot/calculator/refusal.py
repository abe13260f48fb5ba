"""An error of what was given at the command line, as one sentence."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import typer
from pydantic import ValidationError

from engine.errors import InputError


@contextmanager
def one_sentence() -> Iterator[None]:
    """Turn an error of the input into one sentence on standard error and code 2."""
    try:
        yield
    except (InputError, typer.BadParameter) as error:
        typer.echo(f"calc: {error}", err=True)
        raise typer.Exit(2) from error
    except (ValidationError, OverflowError) as error:
        typer.echo("calc: a number is too large to calculate with", err=True)
        raise typer.Exit(2) from error
