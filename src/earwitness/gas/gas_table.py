"""The gases this program knows: what each is made of, what else it is called, and its warming potential."""

from __future__ import annotations

from dataclasses import dataclass

_AR6 = "IPCC AR6 (2021), WG I, table 7.SM.7, 100 years"
_AR6_BLEND = _AR6 + ", mass-weighted over the blend (ASHRAE 34 composition)"


@dataclass(frozen=True)
class Gas:
    """A gas by its plain name. `components` are fluid names of the property library with mole fractions; `ideal` is
    (molar mass [kg/mol], cp/cv) for a gas that the library does not hold; `inwards` marks vacuum: air is drawn in."""

    name: str
    components: tuple[tuple[str, float], ...]
    aliases: tuple[str, ...] = ()
    inwards: bool = False
    ideal: tuple[float, float] | None = None
    gwp: float | None = None
    gwp_source: str = ""
    settable: bool = False  # a usual composition stands in; the user's own is better

    @property
    def shown(self) -> str:
        """The name as print has it: LPG, R134a, nitrogen."""
        if self.name == "lpg":
            return "LPG"
        return "R" + self.name[1:] if self.name[:1] == "r" and self.name[1:2].isdigit() else self.name

    @property
    def pure(self) -> bool:
        return len(self.components) == 1


def _gas(name: str, fluid: str, *aliases: str, gwp: float | None = None, source: str = _AR6) -> Gas:
    return Gas(name, ((fluid, 1.0),), aliases, gwp=gwp, gwp_source=source if gwp is not None else "")


AIR_FLUID = "Air"
# Usual compositions, mole fractions (P: real ones differ by supplier and country; give your own).
NATURAL_GAS = (("Methane", 0.93), ("Ethane", 0.05), ("Propane", 0.02))
LPG = (("n-Propane", 0.6), ("n-Butane", 0.4))

GASES: tuple[Gas, ...] = (
    _gas("air", AIR_FLUID, "compressed air", "plant air", "instrument air", "shop air", "service air", "control air"),
    _gas("nitrogen", "Nitrogen", "n2"),
    _gas("oxygen", "Oxygen", "o2"),
    _gas("argon", "Argon", "ar"),
    _gas("helium", "Helium", "he"),
    _gas("hydrogen", "Hydrogen", "h2"),
    _gas("carbon dioxide", "CarbonDioxide", "co2", "r744", "carbonic gas", gwp=1.0),
    _gas("methane", "Methane", "ch4", gwp=29.8, source=_AR6 + ", fossil"),
    Gas(
        "natural gas",
        NATURAL_GAS,
        ("ng", "cng", "mains gas", "pipeline gas", "earth gas"),
        gwp=26.5,
        gwp_source=_AR6 + ", fossil methane 29.8 times its mass share 0.89",
        settable=True,
    ),
    Gas(
        "biogas",
        (("Methane", 0.6), ("CarbonDioxide", 0.4)),
        ("digester gas", "sewage gas"),
        gwp=9.6,
        gwp_source=_AR6 + ", non-fossil methane 27.0 times its mass share 0.354",
        settable=True,
    ),
    _gas("ethane", "Ethane", "c2h6", "r170", gwp=0.437),
    _gas("propane", "n-Propane", "c3h8", "r290", gwp=0.02),
    _gas("butane", "n-Butane", "n-butane", "c4h10", "r600", gwp=0.006),
    _gas("isobutane", "IsoButane", "i-butane", "r600a"),
    Gas(
        "lpg",
        LPG,
        ("lp gas", "lp-gas", "autogas", "bottled gas", "liquefied petroleum gas", "flüssiggas"),
        settable=True,
    ),
    Gas("acetylene", (), ("c2h2", "ethyne", "dissolved acetylene"), ideal=(0.02603728, 1.24)),
    _gas("ethylene", "Ethylene", "c2h4", "ethene", "r1150"),
    _gas("propylene", "Propylene", "c3h6", "propene", "r1270"),
    _gas("ammonia", "Ammonia", "nh3", "r717"),
    _gas("carbon monoxide", "CarbonMonoxide", "co"),
    _gas("hydrogen sulfide", "HydrogenSulfide", "h2s", "hydrogen sulphide", "sour gas"),
    _gas("sulfur hexafluoride", "SulfurHexafluoride", "sf6", "sulphur hexafluoride", gwp=24_300.0),
    _gas("r134a", "R134a", "hfc-134a", gwp=1530.0),
    _gas("r32", "R32", "hfc-32", "difluoromethane", gwp=771.0),
    _gas("r404a", "R404A", gwp=4728.0, source=_AR6_BLEND),
    _gas("r407c", "R407C", gwp=1908.0, source=_AR6_BLEND),
    _gas("r410a", "R410A", gwp=2256.0, source=_AR6_BLEND),
    _gas("r1234yf", "R1234yf", "hfo-1234yf", gwp=0.501),
    _gas("r1234ze(e)", "R1234ze(E)", "r1234ze", "hfo-1234ze", gwp=1.37),
    Gas(
        "shielding gas", (("Argon", 0.82), ("CarbonDioxide", 0.18)), ("argon-co2", "welding gas", "m21"), settable=True
    ),
    Gas("forming gas", (("Nitrogen", 0.95), ("Hydrogen", 0.05)), ("n2/h2", "nitrogen-hydrogen"), settable=True),
    _gas(
        "steam",
        "Water",
        "saturated steam",
        "superheated steam",
        "live steam",
        "wet steam",
        "water vapour",
        "water vapor",
        "h2o",
    ),
    Gas("vacuum", ((AIR_FLUID, 1.0),), ("vacuum line", "suction"), inwards=True),
)
