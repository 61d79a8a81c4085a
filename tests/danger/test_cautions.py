import pytest

from earwitness.danger.cautions import standing_cautions

KINDS = ("leak", "seal", "bearing", "gear", "electrical", "valve", "trap", "other")


def codes(*args, **kwargs):
    return [c.code for c in standing_cautions(*args, **kwargs)]


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_ends_with_headphones_and_local_rules(kind):
    assert codes(kind)[-2:] == ["headphones", "local-rules"]
    assert len(codes(kind)) == len(set(codes(kind)))


@pytest.mark.parametrize("kind", ["leak", "valve", "trap", "other"])
def test_never_tighten_without_isolating(kind):
    never = next(c for c in standing_cautions(kind) if c.code == "never-tighten")
    assert all(word in never.text for word in ("isolate", "vent", "zero pressure"))


def test_gas_not_known_counts_as_one_that_burns():
    for known in (True, None):
        assert {"may-be-ignitable", "gas-detector", "zoning", "not-certified"} <= set(
            codes("leak", flammable_or_toxic=known)
        )
    assert "may-be-ignitable" not in codes("leak", flammable_or_toxic=False)


def test_hazardous_area_and_confined_space():
    assert "not-certified" in codes("bearing", hazardous_area="2")
    assert "not-certified" not in codes("bearing", hazardous_area="no")
    assert codes("valve", place="confined")[0] == "confined"


def test_what_belongs_to_electrical_turning_and_steam():
    assert "energised" in codes("electrical") and "energised" not in codes("bearing")
    assert "turning" in codes("gear") and "turning" not in codes("leak")
    assert "steam" in codes("trap") and "steam" in codes("valve", medium="steam")
    assert "tone-no-certificate" in codes("seal")
