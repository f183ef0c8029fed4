"""Cautions where somebody is about to act on a number; the one source of these sentences.

Text output, charts, films, sheets and the report take them from here. JSON output has none but the report's points.
*Asterisks* mark what stands out on a page.
"""

import textwrap

QUASI_STATIC = "Quasi-static: results hold below about 0.2 to 0.3 m/s on rough ground."

RULES = "The chassis maker's body-mounting rules, local regulations and licensed practice come first."

REPORT = (
    "*Caution*: trucks roll over and tanks crack; people die of it. These numbers support a decision. They do not "
    "replace the chassis maker's body-mounting rules, local regulations, a test of the finished vehicle or licensed "
    "practice."
)
"""Under the title of page one."""

REPORT_POINTS = (
    "*Rollover kills.* No figure here says that a slope is safe to drive. Speed, soft ground, a moving load and the "
    "driver decide; a tilt test of the finished vehicle comes first.",
    "*Standing a truck on pedestals is dangerous.* Use rated stands and chock the wheels that stay down. Never go "
    "under or reach between parts. Raise in small steps, keep people away, and stop at the first free wheel.",
    "*Cracked tank brackets and tanks leak and burn.* Inspect brackets and straps as on any vehicle in hard use; a "
    "low stress here is no reason not to.",
    "*The chassis maker's body-mounting rules, local regulations and licensed engineering practice come first.* Where "
    "they and this report differ, they hold. This report is evidence for a decision, not an approval.",
)

TIP_SLOPE = (
    "a static limit on even, rigid ground, not a slope that is safe to drive. Lateral give of tyres and springs is "
    f"left out: the truck tips earlier. A tilt test of the finished vehicle comes first. {RULES}"
)

PEDESTALS = (
    "not a work permit. Use rated stands, chock the wheels that stay down, raise in small steps. Nobody in, under or "
    f"beside the truck. Stop at first lift-off or when anything touches. {RULES}"
)

CALIBRATION = (
    "the fitted stiffness holds for the truck, joints and loads tested; it makes no posture safe. For any further "
    f"test: rated stands, chocked wheels, nobody in, under or beside the truck, stop at first lift-off. {RULES}"
)

REPLAY = (
    "a computed posture, not one to drive into or to repeat on stands; at a free wheel the truck may roll over. "
    f"{QUASI_STATIC} {RULES}"
)

RARE = (
    "a rate of the model, for its ground and inputs as stated; speed, wear and other ground make closings, cracks and "
    f"rollovers more frequent. {QUASI_STATIC} {RULES}"
)

CLEARANCES = (
    "Not a manufacturing drawing. The chassis maker's body-mounting rules, local regulations and licensed engineering "
    f"practice come first; where they differ, they hold. Rigid ground, no dynamics. {QUASI_STATIC} Measure the "
    "finished vehicle."
)
"""On the clearance sheet, which is complete without a heading word."""


def caution_lines(sentences: str, width: int = 112) -> list[str]:
    """Break a caution into lines of text output, the first beginning with CAUTION."""
    return textwrap.wrap(f"CAUTION: {sentences}", width)


def caution_note(sentences: str) -> str:
    """Return a caution as a chart, a film or a page shows it."""
    return f"Caution: {sentences}"
