"""``python -m demo.picture`` draws the middle of the calibration, as it was heard, into ``demo/picture.svg``."""

from __future__ import annotations

import io
import re
from pathlib import Path
from tempfile import TemporaryDirectory

from rich.console import Console
from rich.terminal_theme import TerminalTheme

from demo.keeper import Keeper
from demo.play import DemoEvent, DemoOperator, DemoSaid
from demo.screen import COLUMNS, DemoScreen
from demo.script_lines import load
from demo.show import clock_of, orders_for
from demo.wording import wording

FILE = Path(__file__).parent / "picture.svg"
ZONE = "UTC"
DUSK = TerminalTheme(
    (24, 30, 26),
    (222, 226, 214),
    [
        (24, 30, 26),
        (209, 73, 91),
        (127, 176, 105),
        (224, 165, 38),
        (92, 111, 150),
        (150, 110, 140),
        (110, 160, 150),
        (222, 226, 214),
    ],
)
FAR_FONT = re.compile(r"\s*@font-face \{.*?\}", re.DOTALL)
"""A font to be fetched: the picture stands on those the reader has."""
ORNAMENT = re.compile(r"\s*<g transform=\"translate\(26,22\)\">\s*(<circle[^>]*>\s*)+</g>|\s*<!--.*?-->")
"""What the drawing library adds of its own: three buttons and a note."""
FIRST, LAST = "all ", "status"
"""The lines the picture begins and ends with."""


def main() -> None:
    """Play the evening and draw the part of it."""
    console = Console(record=True, width=COLUMNS, file=io.StringIO(), highlight=False, force_terminal=True)
    screen = DemoScreen(console, wording("en"), clock_of("en", ZONE))
    with TemporaryDirectory() as folder:
        orders = orders_for(Path(folder), "en", "panel", ZONE)
        with Keeper(orders) as keeper:
            drawing = False
            for event in DemoOperator(keeper, "en", voice=True, began=orders.began).play(load(), lambda: None):
                drawing = drawing or _begins(event)
                if drawing:
                    screen.show(event)
                if _ends(event):
                    break
    drawn = console.export_svg(title="Rowhand", theme=DUSK, font_aspect_ratio=0.61)
    FILE.write_text(ORNAMENT.sub("", FAR_FONT.sub("", drawn)), encoding="utf-8")


def _begins(event: DemoEvent) -> bool:
    return isinstance(event, DemoSaid) and event.text.startswith(FIRST)


def _ends(event: DemoEvent) -> bool:
    return isinstance(event, DemoSaid) and event.text == LAST


if __name__ == "__main__":
    main()
