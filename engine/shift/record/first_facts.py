"""The report of a shift as the first release wrote it, brought up: instants and levels in place of areas planted.

It carried the area planted at each moment, which the timeline says now, and what a hopper used since it was filled,
which the ledger says now. What went into hoppers stood there only as what they held after it, so that of a refill on
top the amount that was said counts; whether it was said of each hopper is read off the words that were kept.
"""

from __future__ import annotations

import re
from typing import Any

Body = dict[str, Any]
_EACH = re.compile(r"\b(each|apiece|per row|a row|cada un[ao]|por surco)\b", re.IGNORECASE)
_LEVELS = ("left", "level")


def noted(old: Body) -> Body:
    """The body of a report in format 2."""
    moment = old.get("moment")
    kept = ("kind", "report", "rows", "value", "lot", "said", "efficiency", "size")
    new: Body = {name: old[name] for name in kept if name in old}
    new["at"] = old["mark"]["at"]
    new["moment"] = moment and moment["at"]
    new["until"] = old["until"]["at"] if old.get("until") else None
    new["proofs"] = {row: proof["at"] for row, proof in old.get("proofs", {}).items()}
    if old["report"] in _LEVELS:
        new["levels"] = _levels(old, new["moment"] or new["at"])
    if old["report"] == "refilled":
        new |= _refill(old, new["moment"] or new["at"])
    return new


def _levels(old: Body, at: str) -> Body:
    basis = "told" if old["report"] == "level" else "measured"
    uses = old.get("uses", {})
    return {
        row: {"mass": mass, "at": at, "basis": basis, "own": uses.get(row, {}).get("own", False)}
        for row, mass in old.get("hoppers", {}).items()
    }


def _refill(old: Body, at: str) -> Body:
    """Where the use since the filling was told, it was filled up to the mark with just that; without a weight it was
    taken as full; all else lay on top of what was left."""
    hoppers, uses, value = old.get("hoppers", {}), old.get("uses", {}), old.get("value")
    if uses or not isinstance(value, dict):
        full = {row: {"mass": mass, "at": at, "basis": "assumed", "own": False} for row, mass in hoppers.items()}
        return {"levels": full, "added": {row: use["mass"] for row, use in uses.items()}, "full": True}
    bags = value.get("unit") == "1"
    each = not bags and (len(old.get("rows", ())) == 1 or bool(_EACH.search(old.get("said", ""))))
    return {"added": dict.fromkeys(hoppers, value)} if each else {"poured": value}
