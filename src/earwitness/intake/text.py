"""Bytes to text, whatever the editor or spreadsheet wrote them as."""

from __future__ import annotations

import codecs

_MARKS = ((codecs.BOM_UTF8, "utf-8"), (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"))


def decoded(data: bytes) -> tuple[str, str]:
    """The text and the encoding that it was read as. Bytes that cp1252 leaves undefined are kept as they are."""
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            return _clean(data[len(mark) :].decode(encoding, errors="replace")), encoding
    head = data[:4000]
    if len(head) > 3 and head.count(0) > len(head) // 4:
        encoding = "utf-16-le" if head[1::2].count(0) >= head[0::2].count(0) else "utf-16-be"
        return _clean(data.decode(encoding, errors="replace")), encoding
    try:
        return _clean(data.decode("utf-8")), "utf-8"
    except UnicodeDecodeError:
        text = "".join(bytes([b]).decode("cp1252", errors="ignore") or chr(b) if b > 127 else chr(b) for b in data)
        return _clean(text), "cp1252"


def _clean(text: str) -> str:
    return text.replace("\x00", "").replace("\ufeff", "")
