"""The picture that shows the reason, from sound and hearing.

>>> import numpy as np
>>> from earwitness.hearing.evidence import Trace
>>> times = np.linspace(0, 4, 50, dtype=np.float32)
>>> trace = Trace("level", {"time_s": times, "level_db": 20 + 0 * times}, ({"at_s": 2.0, "name": "loudest"},))
>>> picture = draw(trace, title="Level at V-3")
>>> picture.mime
'image/svg+xml'
>>> picture.alt
'Level at V-3. Level over time, 0 to 4 s; highest 20 dB. Marked: loudest at 2.0 s.'
"""

from earwitness.pictures.picture import Picture, draw

__all__ = ["Picture", "draw"]
