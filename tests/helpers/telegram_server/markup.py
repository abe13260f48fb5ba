"""Buttons below a message: what the server refuses, and what it gives back."""

from __future__ import annotations

from typing import Any

from tests.helpers.telegram_server.refusal import bad_request

CALLBACK_BYTES = 64


def checked(markup: Any) -> dict[str, Any] | None:
    """A reply markup that the server takes."""
    if markup is None:
        return None
    if not isinstance(markup, dict):
        raise bad_request("object expected as reply markup")
    for row in markup.get("inline_keyboard", []):
        for button in row:
            _check_inline(button)
    for row in markup.get("keyboard", []):
        for button in row:
            if not (button if isinstance(button, str) else button.get("text")):
                raise bad_request("keyboard button text must be non-empty")
    return markup


def _check_inline(button: dict[str, Any]) -> None:
    if not button.get("text"):
        raise bad_request("inline keyboard button text must be non-empty")
    if "callback_data" in button and not 1 <= len(button["callback_data"].encode()) <= CALLBACK_BYTES:
        raise bad_request("BUTTON_DATA_INVALID")
    if not {"callback_data", "url"} & button.keys():
        raise bad_request("text buttons are unallowed in the inline keyboard")


def shown(markup: dict[str, Any] | None) -> dict[str, Any] | None:
    """The part that a Message carries: inline keyboards only."""
    return markup if markup and "inline_keyboard" in markup else None
