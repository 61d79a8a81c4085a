"""What a report says, ready to be set: every text as it will be read, every picture as bytes. HTML and PDF set the
same model, so that neither says more than the other."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Image:
    data: bytes
    mime: str
    alt: str
    caption: str = ""
    columns: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True)
class Sound:
    data: bytes
    mime: str
    label: str


@dataclass(frozen=True)
class Danger:
    word: str  # DANGER, WARNING, CAUTION, NOTICE
    text: str
    basis: str
    first: tuple[str, ...]


@dataclass(frozen=True)
class Said:
    """A label and what it stands for."""

    label: str
    text: str


@dataclass(frozen=True)
class Figure:
    """A number to read first, with its interval where it has one."""

    label: str
    value: str
    interval: str = ""


@dataclass(frozen=True)
class Evidence:
    name: str
    value: str
    criterion: str
    speaks: str


@dataclass(frozen=True)
class Amount:
    name: str
    value: str
    method: str


@dataclass(frozen=True)
class Block:
    """One reading with all that belongs to it."""

    anchor: str
    reading: str
    rank: str
    word: str
    urgent: bool
    where: str
    what: str  # without the money: where danger is told, money only distracts
    headline: str
    place: tuple[Said, ...] = ()
    dangers: tuple[Danger, ...] = ()
    next_step: str = ""
    cautions: tuple[str, ...] = ()
    severity: str = ""
    evidence: tuple[Evidence, ...] = ()
    weaker: str = ""
    probabilities: str = ""
    amounts: tuple[Amount, ...] = ()
    places: tuple[str, ...] = ()
    spoiled: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    note: str = ""
    reported: str = ""
    images: tuple[Image, ...] = ()
    sound: Sound | None = None


@dataclass(frozen=True)
class ListRow:
    """One line of the repair list."""

    anchor: str
    rank: str
    word: str
    reading: str
    where: str
    what: str
    wastes: str
    saves: str
    work: str


@dataclass(frozen=True)
class Other:
    """A reading that is on no list: where, what is to be said of it, and the detail behind."""

    anchor: str
    reading: str
    where: str
    what: str
    said: tuple[str, ...]
    detail: str


@dataclass(frozen=True)
class Trouble:
    place: str
    text: str


@dataclass(frozen=True)
class Report:
    title: str
    subtitle: str
    figures: tuple[Figure, ...]
    urgent_lead: str
    urgent: tuple[Block, ...]
    summary: tuple[str, ...]
    ground_rules: tuple[str, ...]
    listed: tuple[ListRow, ...]
    list_note: str
    blocks: tuple[Block, ...]
    undecided: tuple[Block, ...]
    quiet: tuple[Other, ...]
    quiet_cautions: tuple[str, ...]
    unheard: tuple[Other, ...]
    settled: tuple[Other, ...]
    settled_cautions: tuple[str, ...]
    programme: tuple[str, ...]  # of a site with a ledger: found, mended, proven, lost again
    judged: tuple[str, ...]
    troubles: tuple[Trouble, ...]
    record: tuple[Said, ...]
    standards: tuple[str, ...]
    made: str
    lang: str = "en"
