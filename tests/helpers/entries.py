"""Expectations to read against, and entries as short lines to compare."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import cache
from typing import assert_never

from engine.entries.acceptance import Acceptance
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.entries.strict_reader import read
from engine.expectation import Asking, Expectation, ExpectedSlot, Option, Range, SlotKind
from engine.messages import (
    Answered,
    Asked,
    Chosen,
    Commanded,
    Correcting,
    Either,
    Entry,
    Given,
    HeardWord,
    Language,
    Opened,
    Reading,
    Report,
    Reported,
    Unclear,
    Utterance,
)
from engine.quantities import Dimension
from engine.values import Dial

CALLED = {
    "en": {
        "catch": ("catch",),
        "spacing": ("spacing", "row spacing"),
        "rows": ("rows", "row count"),
        "drive": ("drive",),
        "product": ("product",),
        "setting": ("setting", "set"),
        "dial": ("dial",),
        "time": ("time", "course time"),
        "rate": ("rate",),
        "course": ("course length",),
    },
    "es": {
        "catch": ("captura",),
        "spacing": ("distancia", "distancia entre surcos"),
        "rows": ("surcos", "número de surcos"),
        "drive": ("mando",),
        "product": ("producto",),
        "setting": ("ajuste", "pon", "ponga", "puse"),
        "dial": ("escala",),
        "time": ("tiempo",),
        "rate": ("dosis",),
        "course": ("recorrido",),
    },
}
OPENS = {
    "en": {"set-up": ("set up", "new planter"), "test-run": ("test run", "calibrate")},
    "es": {"set-up": ("preparación", "nueva sembradora"), "test-run": ("prueba", "calibrar")},
}
OPTIONS = {
    "en": (("one", "One drive", ("one drive", "common")), ("each", "Each row", ("each its own", "separate"))),
    "es": (("one", "Un mando", ("un mando", "común")), ("each", "Cada surco", ("cada uno", "separado"))),
}
MARKS = ("A", "A+", "B", "B+", "C")


def slot(name: str, language: Language, **given: object) -> ExpectedSlot:
    return ExpectedSlot.model_validate({"name": name, "called": CALLED[language][name], **given})


def catch(language: Language, rows: int = 8) -> ExpectedSlot:
    return slot(
        "catch",
        language,
        kind=SlotKind.MEASURE,
        dimensions=(Dimension.MASS,),
        units=("g", "oz", "lb", "kg"),
        default_unit="g",
        decimals=1,
        hard=Range(low=0, high=2000, unit="g"),
        usual=Range(low=10, high=120, unit="g"),
        per_row=True,
        open_rows=tuple(range(1, rows + 1)),
        next_row=1,
    )


def lengths(name: str, language: Language, default: str, low: float, high: float) -> ExpectedSlot:
    return slot(
        name,
        language,
        kind=SlotKind.MEASURE,
        dimensions=(Dimension.LENGTH,),
        units=("in", "cm", "ft", "m"),
        default_unit=default,
        decimals=1,
        hard=Range(low=low, high=high, unit=default),
    )


@cache
def slots(language: Language) -> dict[str, ExpectedSlot]:
    options = tuple(Option(key=key, label=label, words=words) for key, label, words in OPTIONS[language])
    seconds = {"units": ("s", "min"), "default_unit": "s", "hard": Range(low=1, high=900, unit="s")}
    rates = {"units": ("lb/acre", "kg/ha", "oz/1000 ft", "g/100 m"), "hard": None}
    return {
        "catch": catch(language),
        "spacing": lengths("spacing", language, "in", 5, 60),
        "course": lengths("course", language, "ft", 50, 3000),
        "rows": slot("rows", language, kind=SlotKind.COUNT, hard=Range(low=1, high=48)),
        "drive": slot("drive", language, kind=SlotKind.CHOICE, options=options),
        "product": slot("product", language, kind=SlotKind.TEXT),
        "setting": slot("setting", language, kind=SlotKind.SETTING, dial=Dial.numbered(0, 30, 0.5)),
        "settings": slot(
            "setting",
            language,
            kind=SlotKind.SETTING,
            dial=Dial.numbered(0, 30, 1),
            per_row=True,
            open_rows=tuple(range(1, 9)),
            next_row=1,
        ),
        "marked": slot("setting", language, kind=SlotKind.SETTING, dial=Dial.marked(MARKS)),
        "dial": slot("dial", language, kind=SlotKind.DIAL),
        "time": slot("time", language, kind=SlotKind.MEASURE, dimensions=(Dimension.TIME,), decimals=1, **seconds),
        "rate": slot(
            "rate", language, kind=SlotKind.MEASURE, dimensions=(Dimension.AREA_RATE, Dimension.ROW_RATE), **rates
        ),
    }


def expecting(what: str, language: Language) -> Expectation:
    """An expectation by its name in the tables."""
    known = slots(language)
    base = Expectation(
        language=language, asking=Asking.SLOT, rows=8, known=(known["spacing"],), dialogs=OPENS[language]
    )
    catches = {"slots": (known["catch"],)}
    changes: dict[str, dict[str, object]] = {
        "catches": catches,
        "catches24": {"slots": (catch(language, 24),), "rows": 24},
        "confirm": {**catches, "asking": Asking.CONFIRM, "candidates": ("49.5 g",)},
        "choose": {**catches, "asking": Asking.CHOOSE, "candidates": ("50 g", "250 g")},
        "after": {"slots": (known["course"],), "known": (known["spacing"], known["catch"])},
        "shift": {"asking": Asking.REPORT, "known": (), "reports": tuple(Report)},
        "nothing": {"asking": Asking.NOTHING, "known": (), "rows": None},
    }
    if what in changes:
        return base.model_copy(update=changes[what])
    return base.model_copy(update={"slots": (known[what],), "known": ()})


EXPECTATIONS = (
    "catches",
    "catches24",
    "confirm",
    "choose",
    "after",
    "shift",
    "nothing",
    *(name for name in slots("en") if name != "catch"),
)


def utterance(
    text: str, language: Language, *, sure: float | None = None, others: tuple[str, ...] = (), noisy: bool = False
) -> Utterance:
    """Typed text, or words heard with one confidence."""
    words = tuple(HeardWord(text=word, confidence=sure) for word in text.split()) if sure is not None else ()
    return Utterance(
        id="u1",
        conversation="c1",
        text=text,
        language=language,
        said_at=datetime(2026, 5, 1, 22, 0, tzinfo=UTC),
        spoken=sure is not None,
        words=words,
        alternatives=others,
        noisy=noisy,
    )


LIMITS = Acceptance(
    value_heard=0.35,
    usual_kept=0.85,
    value_kept=0.9,
    sound_alike_kept=0.97,
    yes_kept=0.95,
    answer_kept=0.9,
    command_kept=0.6,
    report_heard=0.5,
    repeat_kept=0.5,
    alternatives=5,
)
"""Not those of the product, which are measured and may move; these stay for the tests."""


def reading(text: str, what: str, language: Language, **heard: object) -> Reading:
    said = utterance(text, language, **heard)  # type: ignore[arg-type]
    return read(said, expecting(what, language), load_vocabulary(language), LIMITS)


def lines(reading: Reading) -> list[str]:
    return [line(entry) for entry in reading.entries]


def line(entry: Entry) -> str:
    """An entry in short, such as ``catch 3: 49.5 g (corrected) ?unusual or 48 g``."""
    match entry:
        case Given():
            return _given(entry)
        case Either(readings=readings):
            return "either " + " / ".join("; ".join(_given(one) for one in given) for given in readings)
        case Commanded(language=str(code)):
            return f"language {code}"
        case Commanded(command=command, row=row):
            return _spaced(command, row)
        case Correcting(slot=slot, row=row):
            return _spaced("correct", slot, row)
        case Asked(topic=topic, row=row, amount=amount):
            return _spaced(topic, row, amount)
        case Answered(yes=yes):
            return "yes" if yes else "no"
        case Chosen(index=index):
            return f"chosen {index}"
        case Opened(dialog=dialog):
            return f"opened {dialog}"
        case Reported(report=report, rows=rows, value=value, lot=lot, when=when):
            parts = "each" if entry.each else None, f"lot {lot}" if lot else None, f"@ {when}" if when else None
            size, until = f"of {entry.area}" if entry.area else None, f"to {entry.until}" if entry.until else None
            return _spaced(report, "rest" if entry.rest else None, *rows, value, size, *parts, until)
        case Unclear(reason=reason, slot=slot, row=row):
            return _spaced("unclear", reason, slot, row)
        case _:
            assert_never(entry)


def _given(given: Given) -> str:
    place = _spaced(given.slot, given.row)
    corrected = " (corrected)" if given.correcting else ""
    doubt = f" ?{given.doubt}" if given.doubt else ""
    rivals = "".join(f" or {rival}" for rival in given.rivals)
    return f"{place}: {given.value}{corrected}{doubt}{rivals}"


def _spaced(*parts: object) -> str:
    return " ".join(str(part) for part in parts if part is not None)
