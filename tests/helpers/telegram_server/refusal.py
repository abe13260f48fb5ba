"""The answers of the Bot API that are no result, with their codes; the texts of the server are from memory."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass
class Refusal(Exception):
    """``{"ok": false}`` with a code, a description and, for some, parameters a client must heed."""

    code: int
    description: str
    parameters: dict[str, int] = field(default_factory=dict)

    def body(self) -> dict[str, object]:
        answer: dict[str, object] = {"ok": False, "error_code": self.code, "description": self.description}
        return answer | ({"parameters": self.parameters} if self.parameters else {})


def bad_request(why: str) -> Refusal:
    return Refusal(400, f"Bad Request: {why}")


def forbidden(why: str = "bot was blocked by the user") -> Refusal:
    return Refusal(403, f"Forbidden: {why}")


def conflict(why: str) -> Refusal:
    return Refusal(409, f"Conflict: {why}")


def too_many(retry_after: int) -> Refusal:
    return Refusal(429, f"Too Many Requests: retry after {retry_after}", {"retry_after": retry_after})
