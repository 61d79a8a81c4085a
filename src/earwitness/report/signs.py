"""The four signal words as signs: told apart by shape first, then by the colours of ISO 3864."""

from __future__ import annotations

RED, ORANGE, YELLOW, BLUE = "#9b2423", "#f07800", "#f9a800", "#00508f"
INK = "#1d2326"


def _sign(outline: str, fill: str, mark: str) -> str:
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 24 24" width="24" height="24">'
        f'<path d="{outline}" fill="{fill}" stroke="{INK}" stroke-width="1.3" stroke-linejoin="round"/>{mark}</svg>'
    )


def _exclamation(colour: str, top: float = 6.2) -> str:
    return (
        f'<path d="M10.7 {top}h2.6l-.5 7.6h-1.6z" fill="{colour}"/><circle cx="12" cy="17" r="1.45" fill="{colour}"/>'
    )


SIGNS = {  # eight corners, three, four, none
    "DANGER": _sign("M7.6 1.5h8.8l6.1 6.1v8.8l-6.1 6.1H7.6l-6.1-6.1V7.6z", RED, _exclamation("#ffffff")),
    "WARNING": _sign("M12 1.5 23 21.5H1z", ORANGE, _exclamation(INK, 8.0)),
    "CAUTION": _sign("M12 1 23 12 12 23 1 12z", YELLOW, _exclamation(INK)),
    "NOTICE": _sign(
        "M12 1.5a10.5 10.5 0 1 1 0 21a10.5 10.5 0 1 1 0-21z",
        BLUE,
        '<path d="M10.7 10h2.6v8h-2.6z" fill="#ffffff"/><circle cx="12" cy="7" r="1.5" fill="#ffffff"/>',
    ),
}
