"""A survey folder in, nouns out, with every problem kept.

- `read_survey(folder: Path, *, progress=None, site_settings=None) -> plant.survey.Survey`. `progress(what, done, of)`
  is called on the way; `site_settings(name of the site)` gives what holds where survey.toml says nothing.
  Raises `EarwitnessError` only where nothing can be read (no folder, no survey.toml, neither sheet nor recording).
- Problems of a row stand both in `Reading.problems` and in `Survey.problems`; the latter is complete.
- `reading_of(cells) -> plant.reading.Reading`: one reading from its cells, without a folder.
- A row with the problem code `duplicate-row` repeats another in every cell and must count once.
"""

from earwitness.intake.folder import read_survey
from earwitness.intake.one import reading_of, readings_of, site_of

__all__ = ["read_survey", "reading_of", "readings_of", "site_of"]
