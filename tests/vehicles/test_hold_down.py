"""The sprung mount's force over its travel: contact, lifted off on the spring, spring at the end of its travel."""

import numpy as np
import pytest

from tests.vehicles.test_limits import outputs

CONTACT, SPRING, PRELOAD, TRAVEL, STOP = 20e6, 80e3, 6e3, 0.07, 20e6
"""Of the demo vehicle's sprung mount [N/m, N, m]."""
LET_GO = PRELOAD / CONTACT


def force_of(approach):
    """Force [N] of a contact clamped by a preloaded spring, at the approach [m] of frame and body."""
    if approach > -LET_GO:
        return (CONTACT + SPRING) * approach
    used_up = -LET_GO - TRAVEL
    return -PRELOAD + SPRING * approach + STOP * min(0.0, approach - used_up)


@pytest.mark.parametrize("high", [0.0, 0.05, 0.4, 1.2])
def test_force_follows_contact_spring_and_end_of_travel(clinic, high):
    values = outputs(
        clinic({"mount": "sprung", "mounts.sprung.stop_stiffness": f"{STOP} N/m"}), [0, high, high, 0]
    )
    for i in (1, 2):
        for side in ("left", "right"):
            travel = values["mount_travel", f"sprung {i} {side}", ""]
            force = values["mount_force", f"sprung {i} {side}", ""]
            assert force == pytest.approx(force_of(travel), rel=1e-6, abs=1.0)


def test_level_body_stands_in_contact(clinic):
    """On level ground no sprung point has let go, and the mount's points carry what stands on it."""
    values = outputs(clinic({"mount": "sprung"}), np.zeros(4))
    for (what, item, _), travel in values.items():
        if what == "mount_travel" and item.startswith("sprung"):
            assert travel > -LET_GO
