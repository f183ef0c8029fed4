"""Outcome codes of a posture, a position or a sample; the same everywhere, results file included."""

from typing import Final

GOOD: Final = 0
TIPPED: Final = 1
NO_EQUILIBRIUM: Final = 2
NOT_FINITE: Final = 3
IMPOSSIBLE: Final = 4

MEANING: Final = {
    GOOD: "good",
    TIPPED: "tipped: no stable posture on (part of) this ground",
    NO_EQUILIBRIUM: "no equilibrium found within the allowed number of rounds",
    NOT_FINITE: "the ground or the solution is not finite",
    IMPOSSIBLE: "the sample's values make no possible vehicle",
}
