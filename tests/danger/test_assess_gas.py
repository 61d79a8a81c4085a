import pytest

from earwitness.danger.assess_gas import assess_gas
from earwitness.danger.room import oxygen_fraction, steady_mean_fraction
from earwitness.errors import InputError


def codes(hazard):
    return [a.code for a in hazard.first_actions]


def test_a_propane_leak_in_a_small_room():
    # 1 l/s of propane into 20 l/s of air: 1/21 = 4.8 %, 2.8 times its lower limit of 1.7 %
    hazard = assess_gas(
        "propane", place="indoors", release_m3_s=1e-3, ventilation_m3_s=0.02, specific_gravity=1.52, liquid=False
    )[0]
    assert (hazard.code, hazard.signal_word, hazard.urgent) == ("flammable", "DANGER", True)
    assert hazard.args["lfl_fraction"] == pytest.approx(1 / 21 / 0.017)
    assert {"get-away", "no-permission", "use-gas-detector", "collects-low"} <= set(codes(hazard))
    assert "290 %" in hazard.sentence.text


def test_no_sentence_reads_as_permission():
    for gas in ("methane", "propane", "ammonia", "carbon dioxide", "nitrogen", "oxygen", "hydrogen", None):
        for place in ("indoors", "outdoors", "confined"):
            for hazard in assess_gas(gas, place=place, release_m3_s=1e-6, ventilation_m3_s=10.0, liquid=False):
                text = hazard.sentence.text.lower()
                assert "safe" not in text and "minutes" not in text and "hour" not in text
                assert hazard.first_actions and hazard.basis
                if hazard.code == "flammable":
                    assert "no-permission" in codes(hazard) and "use-gas-detector" in codes(hazard)
                if hazard.code == "toxic":
                    assert "use-gas-detector" in codes(hazard)
                if place == "confined":
                    assert codes(hazard)[0] == "no-entry"


def test_carbon_dioxide_is_judged_as_a_poison_and_not_by_oxygen():
    hazards = assess_gas("carbon dioxide", place="indoors", release_m3_s=0.045, ventilation_m3_s=0.955)
    assert [h.code for h in hazards] == ["toxic"]
    assert hazards[0].signal_word == "DANGER"  # 45,000 ppm, where oxygen would still read 20 %
    assert oxygen_fraction(0.045) > 0.195
    assert "oxygen-monitor-no-use" in codes(hazards[0])


@pytest.mark.parametrize(
    ("ppm", "word"), [(299, "WARNING"), (301, "DANGER")]
)  # NIOSH: ammonia, 300 ppm immediately dangerous
def test_ammonia_against_its_limit(ppm, word):
    hazards = assess_gas("ammonia", place="indoors", release_m3_s=ppm * 1e-6, ventilation_m3_s=1 - ppm * 1e-6,
                         liquid=False)  # fmt: skip
    toxic = next(h for h in hazards if h.code == "toxic")
    assert toxic.signal_word == word
    assert {h.code for h in hazards} == {"toxic", "flammable"}


def test_nitrogen_and_oxygen_in_a_room():
    # 7 % nitrogen leaves 19.48 % oxygen; 3.3 % oxygen makes 23.6 %
    assert assess_gas("nitrogen", release_m3_s=0.07, ventilation_m3_s=0.93)[0].signal_word == "DANGER"
    assert assess_gas("nitrogen", release_m3_s=0.06, ventilation_m3_s=0.94)[0].signal_word == "CAUTION"
    assert assess_gas("nitrogen")[0].signal_word == "WARNING"
    assert assess_gas("oxygen", release_m3_s=0.033, ventilation_m3_s=0.967)[0].signal_word == "DANGER"
    assert assess_gas("oxygen", release_m3_s=0.031, ventilation_m3_s=0.969)[0].signal_word == "WARNING"


def test_an_unknown_gas_is_treated_as_one_that_burns():
    hazard = assess_gas(None)[0]
    assert (hazard.code, hazard.signal_word) == ("flammability-unknown", "WARNING")
    assert assess_gas("something else", place="outdoors")[0].signal_word == "CAUTION"


def test_steam_and_pressure():
    assert assess_gas("steam", gauge_pressure=7e5)[0].signal_word == "WARNING"
    assert assess_gas("steam", gauge_pressure=7e5, superheated=True)[0].signal_word == "DANGER"
    assert assess_gas("steam", gauge_pressure=7e5, to_open=False)[0].signal_word == "CAUTION"
    assert "invisible-steam" in codes(assess_gas("steam", gauge_pressure=7e5)[0])
    assert assess_gas("air", gauge_pressure=7e5)[0].signal_word == "CAUTION"
    assert assess_gas("air", gauge_pressure=200e5)[0].signal_word == "WARNING"
    assert [h.code for h in assess_gas("nitrogen", place="outdoors", gauge_pressure=200e5)] == [
        "pressure",
        "oxygen-level",
    ]


def test_vacuum_that_draws_air_into_a_flammable_process():
    assert [h.signal_word for h in assess_gas("vacuum")] == ["CAUTION"]
    hazards = assess_gas("vacuum", process_flammable=True)
    assert [h.signal_word for h in hazards] == ["WARNING", "CAUTION"]
    assert "secure-process" in codes(hazards[0])


def test_json_shape():
    shape = assess_gas("methane", place="outdoors")[0].as_json()
    assert set(shape) == {"code", "args", "signal_word", "text", "text_code", "basis", "first_actions"}
    assert all(set(a) == {"code", "args", "text"} for a in shape["first_actions"])


def test_where_a_light_gas_gathers():
    assert "collects-high" in codes(assess_gas("hydrogen", specific_gravity=0.07)[0])
    assert not {"collects-high", "collects-low"} & set(codes(assess_gas("carbon monoxide", specific_gravity=0.97)[0]))


def test_a_limit_of_the_users_own():
    hazard = assess_gas("solvent", release_m3_s=1e-3, ventilation_m3_s=0.999, lower_limit=0.01)[0]
    assert hazard.args["lfl_fraction"] == pytest.approx(0.1) and hazard.signal_word == "WARNING"


@pytest.mark.parametrize(
    ("argument", "values"),
    [
        ("place", {"place": "upstairs"}),
        ("release_m3_s", {"release_m3_s": -1.0, "ventilation_m3_s": 1.0}),
        ("ventilation_m3_s", {"release_m3_s": 1.0, "ventilation_m3_s": -1.0}),
        ("inefficiency", {"release_m3_s": 1.0, "ventilation_m3_s": 1.0, "inefficiency": 0.5}),
    ],
)
def test_what_cannot_be(argument, values):
    with pytest.raises(InputError) as caught:
        assess_gas("methane", **values)
    assert caught.value.argument == argument


def test_a_room_without_any_air_fills():
    assert steady_mean_fraction(1e-6, 0.0) == 1.0
    assert steady_mean_fraction(0.0, 0.0) == 0.0


def test_the_release_characteristic_is_named_with_its_standard():
    # methane 2.2572 g/s: 0.0769 m3/s (form of IEC 60079-10-1, worked apart from this program)
    hazard = assess_gas("methane", release_m3_s=2.2572e-3 / 0.66689, ventilation_m3_s=0.5)[0]
    said = next(a for a in hazard.first_actions if a.code == "release-characteristic")
    assert said.args["m3_s"] == pytest.approx(0.0769, abs=1e-4)
    assert "IEC 60079-10-1:2015" in said.text and "competent persons" in said.text
