"""What the doctor found about one thing."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class FindingMark(StrEnum):
    """``note``: it works, or is not needed by everybody, and is worth knowing."""

    OK = "ok"
    NOTE = "note"
    WRONG = "wrong"


@dataclass(frozen=True)
class Finding:
    """One line: the thing, how it is, and what to do about it; never a secret."""

    subject: str
    mark: FindingMark
    told: str
    todo: str = ""

    def __str__(self) -> str:
        todo = f" ({self.todo})" if self.todo else ""
        return f"{self.mark:<5}  {self.subject}: {self.told}{todo}"


def ok(subject: str, told: str) -> Finding:
    return Finding(subject, FindingMark.OK, told)


def note(subject: str, told: str, todo: str = "") -> Finding:
    return Finding(subject, FindingMark.NOTE, told, todo)


def wrong(subject: str, told: str, todo: str) -> Finding:
    return Finding(subject, FindingMark.WRONG, told, todo)
