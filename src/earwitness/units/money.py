"""Money, and money for an amount."""

from __future__ import annotations

import re
from dataclasses import dataclass

from earwitness.sentence import Sentence, say
from earwitness.units.number import UnitError, plain, shown, split
from earwitness.units.quantity import _counted, per_volume
from earwitness.units.table import factor

_SYMBOLS = {"€": "EUR", "EURO": "EUR", "EUROS": "EUR", "$": "USD", "US$": "USD", "DOLLAR": "USD", "DOLLARS": "USD",
            "£": "GBP", "C$": "CAD", "A$": "AUD", "₹": "INR", "SFR": "CHF", "FR.": "CHF"}  # fmt: skip
_CODES = (
    " AED ARS AUD BGN BRL CAD CHF CLP CNY COP CZK DKK EGP EUR GBP HKD HUF IDR ILS INR ISK JPY KES KRW MAD MXN MYR NGN "
    "NOK NZD PEN PHP PKR PLN QAR RON RSD SAR SEK SGD THB TRY TWD UAH USD VND ZAR "
)
_MONEY = re.compile(
    r"^(?P<before>[^\d\s+\-−.,]{1,7})?\s*(?P<number>[+\-−]?[\d.,][\d., '’]*)\s*(?P<after>[^\d\s]{1,7})?$"
)
PRICES = "'0.20 EUR/kWh', '$0.11/kWh', '1.40 EUR/kg'"


@dataclass(frozen=True, slots=True)
class PriceRead:
    """Money [`currency`] for one `per`: "kWh", "kg", "m3" (at 20 degC, 101.325 kPa) or "J" of heat."""

    value: float
    currency: str
    per: str
    given: str
    notes: tuple[Sentence, ...] = ()


def _currency(text: str) -> str | None:
    text = text.strip().upper()
    return _SYMBOLS.get(text) or (text if f" {text} " in _CODES else None)


def money(text: str, *, where: str, currency: str | None = None, decimal: str | None = None) -> tuple[float, str]:
    """An amount and its currency (ISO 4217); `currency` serves where the text carries none.

    Examples
    --------
    >>> money("120 EUR", where="repair_cost"), money("$1,250.50", where="repair_cost")
    ((120.0, 'EUR'), (1250.5, 'USD'))
    """
    match = _MONEY.match(plain(text)) if len(text) < 100 else None
    if match:
        name = match["before"] or match["after"]
        found = _currency(name) if name else currency
        if found and not (match["before"] and match["after"]):
            value, rest = split(match["number"], where=where, decimal=decimal)
            if value >= 0 and not rest:
                return value, found
    raise UnitError(
        say("not-money", "{where}: '{given}' is not an amount with its currency; write for example '120 EUR'.",
            where=where, given=shown(text))
    )  # fmt: skip


def price(text: str, *, where: str, heat: bool = False, decimal: str | None = None) -> PriceRead:
    """What `text` says an amount costs; an energy is heat where `heat` is true (a fuel gas), else electricity.

    Examples
    --------
    >>> price("0.20 EUR/kWh", where="[energy] price")
    PriceRead(value=0.2, currency='EUR', per='kWh', given='0.20 EUR/kWh', notes=())
    >>> round(price("$4.50 per 1000 lb", where="price").value, 6)
    0.009921
    """
    amount, slash, unit = re.sub(r"\bper\b", "/", plain(text)).partition("/")
    count, unit = _counted(unit.strip().strip("()")) if slash else (1.0, "")
    match = re.search(r"\s+([A-Z]{3}|€|£|\$)$", unit)  # "0.11/kWh USD"
    if match:
        unit, amount = unit[: match.start()], f"{amount} {match[1]}"
    per, worth = _per(unit, heat)
    if per is None:
        raise UnitError(
            say("not-a-price", "{where}: '{given}' is not a price for an amount; write for example {examples}.",
                where=where, given=shown(text), examples=PRICES)
        )  # fmt: skip
    value, currency = money(amount, where=where, decimal=decimal)
    notes: tuple[Sentence, ...] = ()
    if currency == "USD" and re.search(r"(?<![A-Za-z])\$", text):
        notes = (
            say("dollar-read-as-usd", "{where}: '{given}' is read as US dollars.", where=where, given=shown(text)),
        )
    return PriceRead(value / (count * worth), currency, per, text.strip(), notes)


def _per(unit: str, heat: bool) -> tuple[str | None, float]:
    if energy := factor("energy", unit):
        return ("J", energy) if heat else ("kWh", energy / 3.6e6)
    if mass := factor("mass", unit):
        return "kg", mass
    if volume := per_volume(unit):
        return "m3", volume
    return None, 1.0
