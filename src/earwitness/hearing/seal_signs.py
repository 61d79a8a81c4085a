"""What is weighed of a tone along a sweep: how far it rises, and what speaks of other things than an emitter."""

from __future__ import annotations

from earwitness.sound.tone_signs import Tone

CLEAR_DB = 6.0  # in a band of 200 Hz: from here on its beat and its flanks can be told
_SURE, _CERTAIN = 2.0, 7.0  # deviates beyond chance
_BEATS = 0.2  # depth; an emitter that is on for four fifths of its beat has 0.25
_WARBLES_HZ = 32.0
_FASTEST_HZ = 10.0
_WIDE_HZ = 40.0  # a box that noise which changes its colour may fill
_FRONT_DB, _ENTERS_DB = 8.0, 6.0  # each time a steep line enters the band it rises by more than its place
_COMPANY_HZ = 30.0
_BEEPS_HZ = (0.6, 1.8)  # of a vehicle that backs up: about once a second (practice)
_FADES_DB = 5.0
_MOST_OF_IT = 0.6  # of the sweep
_KNOCKS = 3.0  # depth of a beat that is on for a quarter of the time; knocks are shorter
_IN_STEP = 0.3  # correlation
_SKIRT_DB = 10.0
_NO_RISE_DB = -0.5
_HUMP_DB = 1.5  # what rises by less has no flanks
_COMPARES_DB = -9.0
_UNSURE_DB, _LITTLE_LEFT_DB = -15.0, -8.0
_LEAST_RISE_DB, _MOST_RISE_DB = -6.0, 20.0
NAMES = {
    "faint-rise": ("assured rise of a faint tone along the sweep", "dB"),
    "faint-deviate": ("faint tone that comes and goes, against chance", "standard deviations"),
    "certain-rise": ("assured rise of a faint tone that is beyond chance", "dB"),
    "clear-rise": ("assured rise of a clear tone, which whines and beepers have too", "dB"),
    "nothing-rises": ("what is left of the tone elsewhere, over what it surely is at its loudest", "dB"),
    "wide-rise": ("rise of a wide band, which noise that changes its colour has too", "dB"),
    "stays": ("clear tone where it is weakest, under where it is loudest", "dB"),
    "spread": ("part of the sweep over which a clear tone is within 6 dB of its loudest", ""),
    "unbeating": ("loudness in 200 Hz of a clear tone that neither beats nor warbles", "dB"),
    "holds": ("least of the tone that is surely left elsewhere, over the most that it may be at its loudest", "dB"),
    "front": ("rise within an eighth of a second of a tone without a regular beat", "dB"),
    "at-other-times": ("rise of another tone that comes and goes at other times, over its own", "dB"),
    "in-step": ("another tone, far from it, that beats in step with it", "correlation"),
    "beeps": ("the same about once a second, as a truck beeps", "correlation"),
    "skirt": ("loudness of another line close beside it, over its own", "dB"),
    "company-width": ("width of all else that rises with it and not at other times, more than 1.8 kHz away", "Hz"),
    "filled": ("part of what is added around it at its loudest that is no line", ""),
    "fades": ("fall of the noise itself below its usual level", "dB"),
    "place-width": ("part of the sweep over which the tone is raised", ""),
    "knocks": ("depth of its beat, of knocks over 4", ""),
    "unheard": ("part of all passages that would go unheard", ""),
    "level-over-background": ("displayed level over the background", "dB"),
}


def signs(tone: Tone) -> dict[str, float]:
    """Each sign only where there is something of it. A faint tone, or one that hardly rises, has neither flanks nor a
    beat to look at, and its rise alone counts; a clear one is a passage's if it is a hump in a sweep else quiet.

    Parameters
    ----------
    tone : as `earwitness.sound.tone.find_tones` measures it.
    """
    rise_db = min(max(tone.course.rise_db, _LEAST_RISE_DB), _MOST_RISE_DB)
    found = {
        "tone-rise": rise_db,
        "tone-deviate": tone.course.deviate,
        "tone-hz": tone.tone_hz,
        "to-noise-db": tone.to_noise_db,
        "beat-hz": tone.beat_hz,
    }
    if rise_db > _HUMP_DB and tone.to_noise_db > CLEAR_DB and tone.course.deviate > _SURE:
        found |= {"clear-rise": rise_db} | _clear(tone)
    else:
        certain = tone.course.deviate > _CERTAIN
        found |= {"certain-rise": rise_db} if certain else {"faint-rise": rise_db}
        if not certain and tone.course.holds_db < _LITTLE_LEFT_DB:
            found["faint-deviate"] = tone.course.deviate
        if tone.course.raised > _MOST_OF_IT:
            found["place-width"] = tone.course.raised
    if tone.course.box.steep and tone.front_db - _ENTERS_DB > _FRONT_DB:
        found["front"] = tone.front_db - _ENTERS_DB
    if rise_db < _NO_RISE_DB:
        found["nothing-rises"] = -rise_db
    if tone.course.holds_db > _UNSURE_DB:
        found["holds"] = tone.course.holds_db
    if tone.width_hz > _WIDE_HZ and not tone.course.box.swept and rise_db > 0:
        found["wide-rise"] = rise_db
    if tone.beat_depth > _KNOCKS:
        found["knocks"] = tone.beat_depth
    if tone.skirt_db > _SKIRT_DB:
        found["skirt"] = tone.skirt_db
    if tone.fades_db > _FADES_DB:
        found["fades"] = tone.fades_db
    return found | _company(tone, rise_db)


def _clear(tone: Tone) -> dict[str, float]:
    found = {"stays": tone.stays_db, "spread": tone.spread, "filled": tone.filled}
    if tone.beat_depth <= _BEATS and tone.wander_hz <= _WARBLES_HZ:
        found["unbeating"] = tone.to_noise_db
    if not 0 < tone.beat_hz < _FASTEST_HZ and tone.front_db > _FRONT_DB:
        found["front"] = tone.front_db
    return found


def _company(tone: Tone, rise_db: float) -> dict[str, float]:
    found = {}
    if tone.in_step > _IN_STEP:
        found["in-step"] = tone.in_step
        if any(_BEEPS_HZ[0] * beat_s < 1 < _BEEPS_HZ[1] * beat_s for beat_s in (tone.course.beat_s, tone.steps_s)):
            found["beeps"] = tone.in_step
    if tone.elsewhen_db > rise_db + _COMPARES_DB:
        found["at-other-times"] = tone.elsewhen_db - rise_db
    if tone.course.deviate > _SURE and tone.company_hz > _COMPANY_HZ:
        found["company-width"] = tone.company_hz
    return found
