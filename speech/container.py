"""The wrapping of a recording: which of the three kinds it is, and whether its end is there.

Page and chunk layouts: Ogg in RFC 3533 section 6, FLAC in RFC 9639 section 8.2, WAV in "Multimedia Programming
Interface and Data Specifications 1.0" (IBM and Microsoft, 1991).
"""

from __future__ import annotations

import struct
from typing import Literal, assert_never

Kind = Literal["ogg", "wav", "flac"]

_OGG_HEADER = 27
_OGG_LAST_PAGE = 0x04
_UNKNOWN_SIZES = (0, 0x7FFFFFFF, 0xFFFFFFFF)


def kind(data: bytes) -> Kind | None:
    """What the first bytes say it is; None for anything else."""
    if data[:4] == b"OggS":
        return "ogg"
    if data[:4] == b"fLaC":
        return "flac"
    if data[:4] in (b"RIFF", b"RF64") and data[8:12] == b"WAVE":
        return "wav"
    return None


def is_cut(data: bytes) -> bool:
    """Whether the end of the file is missing, as far as the wrapping tells.

    A FLAC file does not tell how many bytes it should have; its decoder finds the end missing.
    """
    match kind(data):
        case "ogg":
            return _ogg_is_cut(data)
        case "wav":
            return _wav_is_cut(data)
        case "flac" | None:
            return False
        case other:
            assert_never(other)


def _ogg_is_cut(data: bytes) -> bool:
    """Cut unless the last page is whole and marked as the last of its stream."""
    at, last_flags = 0, 0
    while data[at : at + 4] == b"OggS":
        header = data[at : at + _OGG_HEADER]
        if len(header) < _OGG_HEADER:
            return True
        lacing = data[at + _OGG_HEADER : at + _OGG_HEADER + header[26]]
        at += _OGG_HEADER + header[26] + sum(lacing)
        if at > len(data) or len(lacing) < header[26]:
            return True
        last_flags = header[5]
    return not last_flags & _OGG_LAST_PAGE


def _wav_is_cut(data: bytes) -> bool:
    """Cut when the data chunk promises more bytes than follow; a size left open by a streaming writer is no promise."""
    at = 12
    while at + 8 <= len(data):
        name, size = struct.unpack_from("<4sI", data, at)
        if name == b"data":
            return size not in _UNKNOWN_SIZES and at + 8 + size > len(data)
        at += 8 + size + size % 2
    return True
