"""The files of a report, each written beside its place and moved there whole."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal

from earwitness.errors import InputError
from earwitness.report import sheets
from earwitness.report.build import build
from earwitness.report.exhibit import Exhibit

Which = Literal["all", "html", "pdf", "none"]


def write(
    findings: Mapping[str, Any], exhibits: Mapping[str, Exhibit], out: Path, which: Which = "all"
) -> tuple[Path, ...]:
    """Write report.html, report.pdf (as `which` says), repair-list.csv and repair-list.xlsx into `out`.

    findings : the content of findings.json (earwitness.survey/1)
    exhibits : what is shown beside a reading, by the reading's name
    """
    if which not in ("all", "html", "pdf", "none"):
        raise InputError("reports", which, "all, html, pdf or none")
    out.mkdir(parents=True, exist_ok=True)
    made = [
        _place(out / "repair-list.csv", sheets.as_csv(sheets.repair_list(findings))),
        _place(out / "repair-list.xlsx", sheets.as_xlsx(findings)),
    ]
    if which != "none":
        report = build(findings, exhibits)
        if which in ("all", "html"):
            from earwitness.report.html import html

            made.append(_place(out / "report.html", html(report).encode("utf-8")))
        if which in ("all", "pdf"):
            from earwitness.report.pdf import pdf

            made.append(_place(out / "report.pdf", pdf(report)))
    return tuple(made)


def _place(path: Path, data: bytes) -> Path:
    beside = path.with_name(f".{path.name}.part")
    beside.write_bytes(data)
    beside.replace(path)
    return path
