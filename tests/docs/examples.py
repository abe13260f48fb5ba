"""The examples of the pages, run as a reader would: ``python -m tests.docs.examples`` writes their real output there.

Each page is run in a folder of its own; behind the command stands which pages, else all of ``PAGES``.

A ``console`` block holds commands after ``$`` and what they print. A comment in the line before a block may say:
``not run: why``, ``exit: N`` (the code of its last command, else 0) or ``figures vary`` (numbers are not compared).
A ``text`` block is run where that comment says ``conversation: FILE``: its ``>`` lines are said to ``rowhand talk`` on
that record; or ``excerpt: COMMAND``: it is the part of the output from its first line to its last, figures apart; or
``golden: FILE``: its ``>`` lines are said in that golden conversation, in this order, and answered as there.
"""

from __future__ import annotations

import io
import os
import re
import shlex
import subprocess
import sys
import tempfile
from contextlib import chdir, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from unittest.mock import patch

import yaml

from bot import cli
from tests.helpers.forked import completed

ROOT = Path(__file__).parents[2]
README = ROOT / "README.md"
GUIDE = ROOT / "bot" / "GUIDE.md"
OPERATING = ROOT / "bot" / "OPERATING.md"
LABORATORY = ROOT / "tests" / "LABORATORY.md"
PAGES = (README, GUIDE, OPERATING, LABORATORY)
"""The pages that show what the program prints."""
QUICK = [["rowhand", name] for name in ("calc", "hear", "trial", "shift", "dialogs", "models", "record")]
_BLOCK = re.compile(r"(?:^<!-- (?P<mark>[^\n]*) -->\n)?^```(?P<kind>\w+)\n(?P<body>.*?)^```$", re.MULTILINE | re.DOTALL)


@dataclass(frozen=True)
class Step:
    """One command or conversation: what goes to standard input, and the lines that the page shows for it."""

    command: str
    shown: str
    said: str = ""


@dataclass(frozen=True)
class Example:
    """One block; ``body`` is its text in the page, from the character ``start`` on."""

    mark: str
    kind: str
    body: str
    start: int

    @property
    def is_run(self) -> bool:
        return not self.mark.startswith("not run") and (
            self.kind == "console" or self.is_conversation or self.is_excerpt
        )

    @property
    def is_conversation(self) -> bool:
        return self.mark.startswith("conversation: ")

    @property
    def is_excerpt(self) -> bool:
        return self.mark.startswith("excerpt: ")

    @property
    def is_golden(self) -> bool:
        return self.mark.startswith("golden: ")

    @property
    def said(self) -> list[str]:
        """The lines that a person says."""
        return [line[2:] for line in self.body.splitlines() if line.startswith("> ")]

    @property
    def code(self) -> int:
        return int(self.mark.removeprefix("exit: ")) if self.mark.startswith("exit: ") else 0

    @property
    def varies(self) -> bool:
        return self.mark == "figures vary" or self.is_excerpt

    @property
    def steps(self) -> list[Step]:
        if self.is_conversation:
            record = self.mark.removeprefix("conversation: ")
            return [Step(f"rowhand talk --db {shlex.quote(record)}", self.body, "\n".join(self.said))]
        if self.is_excerpt:
            return [Step(self.mark.removeprefix("excerpt: "), self.body)]
        pieces = re.split(r"^\$ (.*)\n", self.body, flags=re.MULTILINE)
        assert not pieces[0], f"output before the first command: {pieces[0]}"
        return [Step(command, shown) for command, shown in zip(pieces[1::2], pieces[2::2], strict=True)]

    def written(self, printed: list[str]) -> str:
        """The body with these outputs."""
        if self.is_conversation or self.is_excerpt:
            return printed[0]
        return "".join(f"$ {step.command}\n{output}" for step, output in zip(self.steps, printed, strict=True))


def figureless(text: str) -> str:
    """The words of a text, with neither its figures, nor hashes, nor the width of its columns."""
    return " ".join(re.sub(r"\b[0-9a-f]{64}\b|\d[\d.]*", "N", text).split())


def part(printed: str, shown: str) -> str:
    """The lines of what was printed from the one that is shown first to the one that is shown last."""
    first, *_, last = map(figureless, shown.splitlines())
    lines = printed.splitlines()
    plain = [figureless(line) for line in lines]
    start = plain.index(first) if first in plain else len(lines)
    end = plain.index(last, start) + 1 if last in plain[start:] else start
    return "".join(f"{line}\n" for line in lines[start:end])


def golden(example: Example) -> str:
    """The body of a golden example: what is said, with its replies; StopIteration where it is not said there."""
    file = ROOT / example.mark.removeprefix("golden: ")
    turns = iter(yaml.safe_load(file.read_text(encoding="utf-8"))["turns"])
    replies = [next(turn["reply"] for turn in turns if turn["say"] == say) for say in example.said]
    return "".join(f"> {say}\n{reply}\n" for say, reply in zip(example.said, replies, strict=True))


def examples(text: str) -> list[Example]:
    return [
        Example(found["mark"] or "", found["kind"], found["body"], found.start("body"))
        for found in _BLOCK.finditer(text)
    ]


def outputs(example: Example, folder: Path) -> list[tuple[str, int]]:
    """What every step of an example prints, as far as the page shows it, and its exit code."""
    found = [run(step, folder) for step in example.steps]
    return [(part(printed, example.body), code) for printed, code in found] if example.is_excerpt else found


def run(step: Step, folder: Path) -> tuple[str, int]:
    """What a step prints, as plain lines, and its exit code, in a folder with a home of its own."""
    words = shlex.split(step.command)
    printed, code = _called(words[1:], folder) if words[:2] in QUICK else _started(step, folder)
    lines = [line.rstrip() for line in printed.replace(str(folder), "~").splitlines()]
    return "".join(f"{line}\n" for line in lines), code


def _home(folder: Path) -> dict[str, str]:
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ.get('PATH', '')}"
    return {"HOME": str(folder), "PATH": path, "COLUMNS": "200", "TERM": "dumb", "NO_COLOR": "1", "TZ": "UTC"}


def _called(arguments: list[str], folder: Path) -> tuple[str, int]:
    """In this process: what reads no input and writes no record, without a second for each start."""
    printed = io.StringIO()
    here = patch.dict(os.environ, _home(folder)), patch.object(sys, "argv", ["rowhand", *arguments])
    with chdir(folder), here[0], here[1], redirect_stdout(printed), redirect_stderr(printed):
        try:
            cli.main()
        except SystemExit as end:
            return printed.getvalue(), int(end.code or 0)
    return printed.getvalue(), 0


def _started(step: Step, folder: Path) -> tuple[str, int]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("ROWHAND_", "XDG_"))}
    words = shlex.split(step.command)
    if words[0] == "rowhand" and not set(step.command) & set("|<>&;$`*~"):
        forked = completed([sys.executable, "-m", "bot.cli", *words[1:]], folder, {**kept, **_home(folder)}, step.said)
        return forked.stdout + forked.stderr, forked.returncode
    done = subprocess.run(
        ["sh", "-c", step.command],
        input=step.said,
        cwd=folder,
        env={**kept, **_home(folder)},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        check=False,
    )
    return done.stdout, done.returncode


def stage(folder: Path) -> None:
    """What a reader has in the checkout and the examples use."""
    (folder / "demo").symlink_to(ROOT / "demo", target_is_directory=True)


def rewrite(page: Path) -> None:
    """Write what the examples of a page really print into it."""
    text = page.read_text(encoding="utf-8")
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        stage(folder)
        real = [
            (one, golden(one) if one.is_golden else one.written([printed for printed, _ in outputs(one, folder)]))
            for one in examples(text)
            if one.is_run or one.is_golden
        ]
    for example, body in reversed(real):
        end = example.start + len(example.body)
        text = text[: example.start] + body + text[end:]
    page.write_text(text, encoding="utf-8")


def main(pages: list[str]) -> None:
    for page in [Path(name).resolve() for name in pages] or PAGES:
        rewrite(page)


if __name__ == "__main__":
    main(sys.argv[1:])
