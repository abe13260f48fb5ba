"""The speech models: ``rowhand models list|install|use``.

A model that a person installs goes before the one that came with the program. Sizes are told with what they mean on
this computer, because the large models of this kind do not fit a small one.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any

import typer

from bot import extras
from bot.options import one_of
from bot.settings import RecognizerChoice, load_settings
from engine.data.forms import load_forms, number_words
from engine.data.languages import LANGUAGES, Language, listed
from speech import pocketsphinx, recognizer_choice, vosk
from speech.moonshine import model as general
from speech.panel import ensemble
from speech.shelf.model_store import SHIPPED, Origin, Shelf, size

app = typer.Typer(
    name="models",
    help="The speech models: which are there, install one, choose one.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
WHENCE = {
    Origin.SHIPPED: "came with Rowhand",
    Origin.PLACED: "put there by hand",
    Origin.INSTALLED: "installed",
    Origin.ELSEWHERE: "stands elsewhere",
}
LITTLE, MUCH = 0.25, 0.6
"""Shares of memory up to which a model takes little, and not too much (common practice, no source)."""
TOLD_EACH = 0.1
OPINION = "ears"
"""What the third opinion is called: its extra, and what is installed."""

LanguageOption = Annotated[str | None, typer.Option("--language", help=f"{listed()}, where the name does not say it")]


@app.command("list")
def list_command(as_json: Annotated[bool, typer.Option("--json", help="one object")] = False) -> None:
    """Which models are there for each language, and which one is in use."""
    settings = load_settings()
    shelf = recognizer_choice.shelf(settings.models)
    found = {language: _state(shelf, language, settings.recognizer) for language in LANGUAGES}
    typer.echo(json.dumps(found, ensure_ascii=False) if as_json else "\n".join(map(_told, LANGUAGES, found.values())))


@app.command("install")
def install_command(
    source: Annotated[str, typer.Argument(help=f"a folder, a zip file or its https address; {OPINION}, or its wheel")],
    *,
    language: LanguageOption = None,
    sha256: Annotated[str | None, typer.Option("--sha256", help="the checksum it must have")] = None,
) -> None:
    """Install a Vosk model and use it, or the third opinion on English; a download that was cut goes on."""
    from speech.shelf.installation import install

    if source == OPINION or general.is_wheel(source):
        _install_opinion(source)
        return
    shelf = recognizer_choice.shelf(load_settings().models, number_words())
    spoken, checked = None if language is None else one_of(language, LANGUAGES), " as given" if sha256 else ""
    made = install(shelf, source, spoken, sha256, Progress(), lambda digest: typer.echo(f"sha256 {digest}{checked}"))
    typer.echo(f"{load_forms(made.language).name}: {made.name} is in use, {_megabytes(made.size_bytes)} on the disk")
    _tell_memory(made.memory_bytes)


def _install_opinion(source: str) -> None:
    shelf = recognizer_choice.shelf(load_settings().models)
    folder = general.fetch(shelf) if source == OPINION else general.take(shelf, Path(source).expanduser())
    ready = recognizer_choice.third(general.LANGUAGE, shelf.folder) is not None
    typer.echo(f"{folder.name}: every file has its checksum, {_megabytes(size(folder))} on the disk")
    typer.echo(
        "English has a third opinion now" if ready else f"it waits for its program: {extras.install(extras.Extra.EARS)}"
    )


@app.command("use")
def use_command(
    model: Annotated[str, typer.Argument(help="the folder of a model, the name of an installed one, or: shipped")],
    *,
    language: LanguageOption = None,
) -> None:
    """Use a model that is there already, or go back to the one that came with Rowhand."""
    from speech.shelf.installation import use

    shelf = recognizer_choice.shelf(load_settings().models, number_words())
    spoken = None if language is None else one_of(language, LANGUAGES)
    everywhere = [one for one in LANGUAGES if (shelf.shipped / one).is_dir()]
    for one in everywhere if model == SHIPPED and spoken is None else [spoken]:
        choice = use(shelf, model, one)
        typer.echo(f"{model}: in use")
        _tell_memory(choice.memory_bytes)


class Progress:
    """Tells on standard error how far a download is, once for each tenth."""

    def __init__(self) -> None:
        self._next = 0.0

    def __call__(self, done: int, total: int | None) -> None:
        share = done / total if total else 0.0
        if total and (share >= self._next or done == total):
            self._next = share + TOLD_EACH
            typer.echo(f"{done / 1e6:.1f} of {total / 1e6:.1f} MB", err=True)


def _state(shelf: Shelf, language: Language, preference: RecognizerChoice) -> dict[str, Any]:
    """One language as scripts get it."""
    models = [{**asdict(one), "path": str(one.path)} for one in shelf.standings(language)]
    origins = [model["origin"] for model in models if model["in_use"]]
    heard_by = _heard_by(language, preference, origins)
    if heard_by == pocketsphinx.NAME:
        models = [model | {"in_use": False} for model in models]
    third = general.NAME if heard_by == ensemble.NAME and recognizer_choice.third(language, shelf.folder) else None
    return {"engine": heard_by, "third": third, "models": models, "advice": None if heard_by else _advice(language)}


def _heard_by(language: Language, preference: RecognizerChoice, origins: Sequence[str]) -> str | None:
    """The recogniser; ``origins`` are those of the model in use, if there is one."""
    both = preference is RecognizerChoice.PANEL or (preference is RecognizerChoice.AUTO and origins == [Origin.SHIPPED])
    if both and recognizer_choice.has_second(language):
        return ensemble.NAME
    if origins and preference is not RecognizerChoice.POCKETSPHINX:
        return vosk.NAME
    can_fall_back = language == pocketsphinx.LANGUAGE and preference is not RecognizerChoice.VOSK
    return pocketsphinx.NAME if can_fall_back else None


def _advice(language: Language) -> str:
    return f"install a Vosk model from its makers' page: rowhand models install SOURCE --language {language}"


def _told(language: Language, state: dict[str, Any]) -> str:
    lines = [f"{load_forms(language).name}: {_hearing(state)}"]
    for model in state["models"]:
        taken = [_megabytes(model["size_bytes"])] if model["size_bytes"] else []
        whence = WHENCE[Origin(model["origin"])]
        held = [_memory(model["memory_bytes"])] if model["memory_bytes"] else []
        fault = f"cannot be used: {model['fault']}" if model["fault"] else "in use" if model["in_use"] else "ready"
        called = [] if model["name"] == SHIPPED else [whence]
        lines.append(
            f"  {'*' if model['in_use'] else ' '} {model['name']}: {', '.join([*called, *taken, fault, *held])}"
        )
    return "\n".join(lines)


def _hearing(state: dict[str, Any]) -> str:
    match state["engine"]:
        case None:
            return f"typed only; {state['advice']}"
        case "panel":
            third = ", with a third opinion" if state["third"] else ""
            return f"heard with two Vosk models, which are weighed together{third}"
        case "vosk":
            return "heard with Vosk"
        case _:
            return "heard with PocketSphinx, whose model is in its package"


def _tell_memory(held: int | None) -> None:
    if held is not None:
        typer.echo(f"It was loaded and listens; {_memory(held)}")


def _memory(held: int) -> str:
    from speech.shelf.installation import computer_bytes

    share = held / computer_bytes()
    fit = "little" if share <= LITTLE else "not too much" if share <= MUCH else "much"
    close = "; close other programs" if share > MUCH else ""
    return f"hearing takes {_megabytes(held)} of memory ({fit} for this computer{close})"


def _megabytes(size: int) -> str:
    return f"{size / 1e9:.1f} GB" if size >= 1e9 else f"{size / 1e6:.0f} MB"
