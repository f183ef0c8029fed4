"""How numbers are shown: the trade's units (mm, kN, deg, MPa) and no more digits than the interval bears."""

import math
from typing import NamedTuple

from crossaxle.studies.base.intervals import Interval

NARROW_SPACE = "\u202f"
MINUS = "\u2212"


class Shown(NamedTuple):
    """Unit of the tables and charts, and the factor that takes SI there."""

    unit: str
    factor: float


_SHOWN = {
    "m": Shown("mm", 1e3),
    "rad": Shown("deg", math.degrees(1.0)),
    "N": Shown("kN", 1e-3),
    "N m": Shown("kN m", 1e-3),
    "Pa": Shown("MPa", 1e-6),
    "N/m": Shown("N/mm", 1e-3),
    "1": Shown("", 1.0),
}


def shown_unit(si: str) -> Shown:
    """Return the unit that tables and charts use for an SI unit; the same if there is no other."""
    return _SHOWN.get(si.replace("*", " "), Shown(si, 1.0))


def number(value: float, digits: int = 3) -> str:
    """Write a number with the given significant digits, thousands apart, without exponent."""
    if math.isnan(value):
        return "not known"
    if math.isinf(value):
        return "any" if value > 0 else f"{MINUS}any"
    if value == 0:
        return "0"
    size = math.floor(math.log10(abs(value)))
    size = math.floor(math.log10(abs(round(value, digits - 1 - size))))
    places = max(digits - 1 - size, 0)
    text = f"{abs(round(value, digits - 1 - size)):,.{min(places, 12)}f}".replace(",", NARROW_SPACE)
    return f"{MINUS}{text}" if value < 0 else text


def tick(value: float, digits: int = 4) -> str:
    """Write a round number without trailing noughts, as on an axis."""
    text = number(value, digits)
    return text.rstrip("0").rstrip(".") if "." in text else text


def quantity(value: float, unit: str, digits: int = 3) -> str:
    """Write a number with its unit."""
    return with_unit(number(value, digits), unit)


def kilometres(metres: float) -> str:
    """Write a distance in km, round ones without decimals."""
    return with_unit(tick(metres / 1000.0), "km")


def decimals_for(estimate: Interval) -> int:
    """Return decimals that show the interval's width but not more than three digits of the value.

    The value is never rounded away.
    """
    value, low, high = (float(v) for v in (estimate.value, estimate.low, estimate.high))
    width = high - low
    if not math.isfinite(width) or width <= 0:
        width = abs(value) / 10
    if not math.isfinite(width) or width <= 0:
        return 0
    decimals = -math.floor(math.log10(width / 2.5))
    if value:
        size = math.floor(math.log10(abs(value)))
        decimals = min(max(decimals, -size), 2 - size)
    return min(max(decimals, 0), 9)


def fixed(value: float, decimals: int) -> str:
    """Write a number with the given decimals, thousands apart; zero without a sign."""
    if not math.isfinite(value):
        return number(value)
    text = f"{abs(value):,.{decimals}f}".replace(",", NARROW_SPACE)
    if not any(c in "123456789" for c in text):
        return "0"
    return f"{MINUS}{text}" if value < 0 else text


def bounds(estimate: Interval, decimals: int | None = None) -> str:
    """Write the interval: ``4.3 to 5.2``, ``at least 4.3``, ``at most 5.2``, ``no spread seen``."""
    low, high = float(estimate.low), float(estimate.high)
    decimals = decimals_for(estimate) if decimals is None else decimals
    if math.isnan(low) and math.isnan(high):
        return "not known"
    if not math.isfinite(low):
        return "no bound" if not math.isfinite(high) else f"at most {fixed(high, decimals)}"
    if not math.isfinite(high):
        return f"at least {fixed(low, decimals)}"
    if low == high:
        return "no spread seen"
    return f"{fixed(low, decimals)} to {fixed(high, decimals)}"


def short_bounds(estimate: Interval, decimals: int) -> str:
    """Write the interval as tables do, with a dash where no sign could be mistaken for it."""
    text = bounds(estimate, decimals)
    return text if MINUS in text else text.replace(" to ", "–")


def estimate_text(estimate: Interval, unit: str) -> str:
    """Write value, unit and interval: ``4.8 per km (4.3 to 5.2)``."""
    decimals = decimals_for(estimate)
    return f"{with_unit(fixed(float(estimate.value), decimals), unit)} ({bounds(estimate, decimals)})"


def with_unit(text: str, unit: str) -> str:
    """Put a unit behind a number so that no line breaks between them."""
    return f"{text}{NARROW_SPACE}{unit}" if unit else text


def multiple(ratio: Interval, word: str) -> str:
    """Write a ratio above 1 for a sentence, ending where the other thing's name follows.

    ``53 times as often as``, ``at least 12 times as often as`` where it is poorly known, ``more often than``
    where not even that says much; ``word`` is ``often`` or ``many``.
    """
    low, high = float(ratio.low), float(ratio.high)
    poor = not high <= 10 * low
    if poor and low < 1.5:
        return "more often than" if word == "often" else "more than"
    return f"{'at least ' if poor else ''}{tick(low if poor else float(ratio.value), 2)} times as {word} as"


def chance(probability: float) -> str:
    """Write a probability in percent, never claiming 0 or 100 %."""
    percent = 100 * probability
    if math.isnan(percent):
        return "not known"
    if percent > 99.9:
        return f"over 99.9{NARROW_SPACE}%"
    if percent < 0.1:
        return f"under 0.1{NARROW_SPACE}%"
    return f"{percent:.1f}{NARROW_SPACE}%" if percent > 99 or percent < 1 else f"{percent:.0f}{NARROW_SPACE}%"
