"""Questions that are always answered, in a dialog or outside one, from what is known by then."""

from __future__ import annotations

from collections.abc import Mapping
from typing import assert_never

import engine.calculations.library  # noqa: F401
from engine.calculations.catalogue import Argument, formulas
from engine.dialog.commands import nothing_open
from engine.dialog.house import Key
from engine.dialog.roles import Role, name_in
from engine.dialog.slot import Result, Shown
from engine.dialog.verdicts import verdict_told, why_told
from engine.dialog.walk import Walk
from engine.dialog.wording import Wording
from engine.errors import InputError
from engine.messages import Asked, Topic
from engine.quantities import Dimension, Measure
from engine.texts import everywhere
from engine.values import Rows, Value

_MASS = {"us": "lb", "metric": "kg"}
_SMALL = {"us": "oz", "metric": "g"}
_RATE = {Dimension.AREA_RATE: {"us": "lb/acre", "metric": "kg/ha"}, Dimension.ROW_RATE: {"us": "oz/1000 ft",
         "metric": "g/100 m"}}  # fmt: skip


def answer(walk: Walk, asked: Asked, numbers: Mapping[str, str]) -> None:
    """Answer one question; ``numbers`` are the telephone numbers of the settings."""
    if walk.activity is not None and walk.activity.answer(walk, asked):
        return
    match asked.topic:
        case Topic.EMERGENCY:
            walk.say(Key.EMERGENCY, **numbers)
        case Topic.TARGET:
            _target(walk)
        case Topic.HOW_MUCH:
            _how_much(walk, asked.amount)
        case Topic.RUN_OUT:
            _run_out(walk)
        case Topic.LAST_CATCH:
            _of_row(walk, asked.row, (Role.CATCH_MASS, Role.CATCH_VOLUME), Key.LAST_CATCH, Key.NO_CATCH)
        case Topic.WHY:
            _why(walk, asked.row)
        case Topic.VERDICT:
            verdict_told(walk, asked.row)
        case Topic.SETTING:
            _of_row(walk, asked.row, (Role.SETTING,), Key.SETTING, Key.NO_SETTING)
        case _:
            assert_never(asked.topic)


def _why(walk: Walk, row: int | None) -> None:
    """What a row gave run by run, and its verdict; outside of what watches nothing else has a reason."""
    if row is None:
        walk.say(Key.NO_WHY)
        return
    why_told(walk, row)


def _known(walk: Walk, role: Role) -> Value | Rows | None:
    """A value from the dialog that is open, else from finished ones."""
    dialog = walk.state.dialog
    here = dialog.of(role) if dialog else None
    return walk.state.book.of(role) if here is None else here


def _of_rows(walk: Walk, role: Role) -> Rows:
    """The newest value of each row, from the dialog that is open on top of those before it."""
    dialog, before = walk.state.dialog, walk.state.book.of(role)
    here = dialog.last_rows.get(name_in(dialog.records, role) or "", {}) if dialog else {}
    return {**(before if isinstance(before, dict) else {}), **here}


def _measures(walk: Walk, *roles: Role) -> tuple[Measure, ...] | None:
    """These values if all are known; says which is not otherwise."""
    found = [_known(walk, role) for role in roles]
    missing = [role for role, value in zip(roles, found, strict=True) if not isinstance(value, Measure)]
    if missing:
        _unknown(walk, missing[0])
        return None
    return tuple(value for value in found if isinstance(value, Measure))


def _unknown(walk: Walk, role: Role) -> None:
    held = ((script, name_in(script.records, role) or "") for script in walk.library.scripts.values())
    of = next((one for script, name in held if (one := script.slots.get(name) or script.results.get(name))), None)
    label = walk.wording.name(of).lower() if of else str(role)
    walk.say(Key.UNKNOWN_YET, name=label)
    if walk.state.dialog is None:
        nothing_open(walk)


def _target(walk: Walk) -> None:
    known = _measures(walk, Role.TARGET, Role.RATE)
    if known is None:
        return
    target, rate = known
    grams = walk.wording.amount(target.to("g"), 1)
    ounces = walk.wording.amount(target.to("oz"), 2)
    walk.say(Key.TARGET, target=f"{grams} ({ounces})", rate=_shown(walk.wording, rate, _RATE[rate.dimension], 2))


def _how_much(walk: Walk, area: Measure | None) -> None:
    if area is None:
        walk.say(Key.WHICH_AREA)
        return
    known = _measures(walk, Role.RATE, Role.SPACING)
    rows = _known(walk, Role.ROWS)
    if known is None or not isinstance(rows, int):
        return
    arguments: dict[str, Argument] = {"rate": known[0], "spacing": known[1], "area": area, "rows": rows}
    try:
        results = formulas()["product-needed"].evaluate(arguments).results
    except InputError:
        walk.say(Key.CANNOT_USE)
        return
    total, each = (_shown(walk.wording, amount, _MASS, 1) for amount in results.values() if isinstance(amount, Measure))
    walk.say(Key.HOW_MUCH, area=walk.wording.amount(area), total=total, each=each, rows=str(rows))


def _run_out(walk: Walk) -> None:
    known = _measures(walk, Role.RATE, Role.SPACING)
    rows = _known(walk, Role.ROWS)
    if known is None or not isinstance(rows, int):
        return
    acre = Measure(value=1, unit="acre")
    arguments: dict[str, Argument] = {"rate": known[0], "spacing": known[1], "area": acre, "rows": rows}
    each = formulas()["product-needed"].evaluate(arguments).results["per_hopper"]
    rate = _shown(walk.wording, known[0], _RATE[known[0].dimension], 2)
    if isinstance(each, Measure):
        walk.say(Key.RUN_OUT, rate=rate, each=_shown(walk.wording, each, _SMALL, 1))


def _of_row(walk: Walk, row: int | None, roles: tuple[Role, ...], found: Key, missing: Key) -> None:
    if row is None:
        walk.say(Key.WHICH_ROW)
        return
    for role in roles:
        rows = _of_rows(walk, role)
        if row in rows:
            walk.say(found, row=str(row), value=walk.wording.value(rows[row], None))
            return
    walk.say(missing, row=str(row))


def _shown(wording: Wording, measure: Measure, units: Mapping[str, str], decimals: int) -> str:
    shown = Shown(us=units["us"], metric=units["metric"])
    return wording.shown(measure, Result(name=everywhere("-"), shown=shown, decimals=decimals))
