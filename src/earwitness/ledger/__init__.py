"""The memory: SQL and the store of recordings by content hash.

    ledger = open_ledger("plant.db")                    # or a PostgreSQL URL and recordings=FOLDER
    with ledger.reading() as c: …                       # c is a SQLAlchemy Connection
    with ledger.writing() as c: …                       # one transaction
    with ledger.store.storing(), ledger.writing(storing=True) as c: …    # where files are kept too

Every function takes the connection first and returns small frozen dataclasses. What a list returns is a page of one
site (`limit`, `offset`); everything on a hot path runs on an index.

- `sites`: sites, site_of(c, name | None), keep_site, areas, keep_areas, keep_asset, keep_instrument
- `points`: points(c, site_id, area_id=, kind=, words=, limit=, offset=), count_points, point, points_by_id,
  point_by_tag(c, site_id, text), points_named, points_tagged, point_names, keep_points, change_point
- `surveys`: surveys(c, site_id), survey, survey_files, keep_recordings, keep_survey_files
- `readings`: reading, readings_of_survey, readings_named, listens(c, point_id, since=, limit=) for a trend, revisions,
  judgements(c, reading_id), current_judgements(c, reading_ids), keep_readings, revise, keep_judgements
- `findings`: finding, findings_at(c, point_id), ranked(c, site_id, standing=True, limit=, offset=), count_by_state,
  history(c, finding_id), open_finding, take_step(c, finding_id, Step), savings(c, site_id)
- `rows`: put(c, table, rows) inserts what is not there yet, change(c, table, id, **values), line_up(c, site_id)
- `schema`: the tables, for what no function asks yet

Filing a survey, verifying, exporting are deeds: see `earwitness.work`.
"""

from earwitness.ledger.database import Ledger, open_ledger

__all__ = ["Ledger", "open_ledger"]
