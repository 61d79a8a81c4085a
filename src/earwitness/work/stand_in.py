"""A survey folder read at its site: where survey.toml says nothing, the settings that were changed at the desk hold.

The survey's own word wins. What was taken from the site is named in `from_site`, said in a note, and kept with each
judgement, so that a judgement under other settings is another judgement.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Row, select

from earwitness.intake import read_survey
from earwitness.intake.toml_lines import read_parts
from earwitness.ledger import Ledger, schema, sites, system_tests
from earwitness.plant.site import SensitivityCheck, Site, name_key
from earwitness.plant.survey import Instrument, KnownLeak, Survey
from earwitness.sentence import Sentence, say
from earwitness.work.calibrate import NAMES

TABLES = ("energy", "air", "site", "gas")  # of the site's settings, in the words of survey.toml
FEWEST_LEAKS = 3  # of known flow, from which the site's calibration is used


def read_at_site(ledger: Ledger, folder: Path) -> Survey:
    """The survey in `folder`, with what the ledger's site says where the folder does not."""
    with ledger.reading() as connection:
        known = {name_key(s.name): s for s in sites.sites(connection)}

    def settings(name: str) -> Mapping[str, Any]:
        site = known.get(name_key(name))
        return {t: site.settings[t] for t in TABLES if site.settings.get(t)} if site else {}

    survey = read_survey(folder, site_settings=settings)
    if (site := known.get(name_key(survey.site))) is not None:
        with ledger.reading() as connection:
            survey = _with_leaks(connection, site, _with_check(connection, site, survey))
    return _said(survey)


def _with_check(connection: Connection, site: Site, survey: Survey) -> Survey:
    """The site's only instrument where the survey names none, and its last check before the survey."""
    stated, taken = survey.instrument, dict(survey.from_site)
    found = _instrument_of(system_tests.instruments(connection, site.id), stated)
    if found is None:
        return survey
    instrument = stated
    if not (stated.receiver or stated.serial or stated.sensor):
        instrument = replace(stated, receiver=found.receiver, serial=found.serial, sensor=found.sensor)
        taken["[instrument]"] = " ".join(w for w in (found.receiver, found.serial, found.sensor) if w)
    notes = survey.notes
    checks = [c for c in system_tests.checks(connection, [found.id])[found.id] if c.day.isoformat() <= survey.date[:10]]
    if checks:
        if stated.last_check is None:
            taken["[instrument] last_check"] = _check_words(checks[-1])
            instrument = replace(instrument, last_check=taken["[instrument] last_check"])
        if not checks[-1].passed:
            text = "The sensor had failed its last check before this survey ({check}); its levels are doubtful."
            notes = (*notes, say("survey-sensor-failed", text, check=_check_words(checks[-1])))
    return replace(survey, instrument=instrument, from_site=taken, notes=notes)


def _instrument_of(known: list[Row[Any]], stated: Instrument) -> Row[Any] | None:
    """The one that the survey names by its serial number; where it names nothing, the only one there is."""
    if stated.serial:
        return next((i for i in known if name_key(i.serial or "") == name_key(stated.serial)), None)
    return known[0] if len(known) == 1 and not (stated.receiver or stated.sensor) else None


def _check_words(check: SensitivityCheck) -> str:
    verdict = "passed" if check.passed else "not passed"
    return f"{check.day.isoformat()}, {check.level_db:.1f} dB, {check.expected_db:.1f} dB when new, {verdict}"


def _with_leaks(connection: Connection, site: Site, survey: Survey) -> Survey:
    """The site's leaks of known flow, where the folder holds no calibration sheet of its own."""
    if any((survey.folder / name).is_file() for name in NAMES):
        return survey
    k = schema.calibration_leak
    rows = connection.execute(select(k).where(k.c.site_id == site.id).order_by(k.c.day, k.c.id)).all()
    if len(rows) < FEWEST_LEAKS:
        return survey
    leaks = tuple(KnownLeak(r.day.isoformat(), r.level_db, r.distance_m, r.pressure_abs, r.flow_m3_s) for r in rows)
    told = f"{len(leaks)} leaks of known flow, the last of {leaks[-1].day}"
    return replace(survey, known_leaks=leaks, from_site={**survey.from_site, "calibration leaks": told})


def _said(survey: Survey) -> Survey:
    text = "{part}: not stated with the survey; the site's settings say {given}."
    notes: list[Sentence] = [say("from-site-settings", text, part=p, given=g) for p, g in survey.from_site.items()]
    return replace(survey, notes=(*survey.notes, *notes))


def without_site_parts(toml: str, site: Site) -> str:
    """Of a survey.toml that is taken over for a new round the lines that the site's settings now say themselves."""
    lines, where = toml.splitlines(), read_parts("survey.toml", toml).lines
    gone = {where.get((table, key)) for table in TABLES[:3] for key in site.settings.get(table) or {}}
    return "\n".join(line for number, line in enumerate(lines, 1) if number not in gone) + "\n" * bool(lines)
