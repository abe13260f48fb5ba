"""The colours of the demo, where there are any."""

from __future__ import annotations

OPERATOR, HAND, FIELD, ALARM = "bold #e0a526", "#7fb069", "#5c6f57", "bold #d1495b"
