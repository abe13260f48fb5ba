"""Messages of earlier formats brought up to the present one: a pure step, old body to new body.

The first release kept a message without a ``kind``, which its keys told; one may still wait in a record of it.
"""

from __future__ import annotations

from collections.abc import Mapping

from engine.data.languages import spoken

_WORDS = ("text", "speech", "buttons", "seq")
_CALL = (*_WORDS, "audience", "attempt", "aloud_too", "instead_of")
_ALWAYS = ("silent", "can_wait", "forget")


def brought_up(body: Mapping[str, object]) -> Mapping[str, object]:
    """A body in the present format."""
    if "kind" in body:
        return body
    match body:
        case {"withdraw": keys}:
            return {"kind": "withdrawal", "keys": keys, **_kept(body, "forget")}
        case {"aloud": said}:
            return {"kind": "voice_note", "said": said, **_language(body), **_kept(body, "silent", "forget")}
        case {"table": str()}:
            return {"kind": "table", **_file(body, "table")}
        case {"picture": drawing}:
            return {"kind": "picture", "drawing": drawing, "text": "", **_kept(body, "text", *_ALWAYS)}
        case {"pages": drawing}:
            return {"kind": "pages", "drawing": drawing, **_file(body)}
        case {"audience": _, "attempt": _}:
            return {"kind": "reminder", "text": "", **_language(body), **_kept(body, *_CALL, *_ALWAYS)}
        case _:
            return {"kind": "text", "text": "", **_kept(body, *_WORDS, *_ALWAYS)}


def _file(body: Mapping[str, object], *names: str) -> Mapping[str, object]:
    return {"text": "", "name": "record", **_kept(body, "text", "name", *names, *_ALWAYS)}


def _language(body: Mapping[str, object]) -> Mapping[str, object]:
    return {"language": spoken(body.get("language"))}


def _kept(body: Mapping[str, object], *names: str) -> Mapping[str, object]:
    return {name: body[name] for name in names if body.get(name) is not None}
