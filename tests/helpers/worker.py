"""Workers that are known to be dead."""

from __future__ import annotations

from engine.queues.lease import worker_name

ABOVE_ALL = 4_194_304
"""Above the largest number that a process gets."""


def dead_worker(name: str = "gone") -> str:
    """A worker of this computer whose process is gone."""
    return "/".join((worker_name().split("/")[0], str(ABOVE_ALL), name))
