"""The truck is drawn on its pedestals where the computation has it, on wide and narrow pages, tipped or not."""

import numpy as np
import pytest

from crossaxle.studies.pedestal.pedestal_chart import pedestal_chart
from crossaxle.studies.pedestal.pedestal_scene import pedestal_scene
from crossaxle.studies.pedestal.pedestal_test import pedestal_test


@pytest.mark.parametrize("bare", [True, False])
def test_every_wheel_is_drawn_on_its_ground(clinic, bare):
    """Centre = pedestal + free radius + clearance (minus deflection), along the ground's normal."""
    test = pedestal_test(clinic(bare=bare), None, [0.5])
    scene = pedestal_scene(test, 0)
    for wheel, ground in zip(scene.wheels, test.ground(0.5), strict=True):
        # Wheel centres follow from axle heave and roll: a tilted beam puts them lower by 1 - cos of the tilt, and the
        # lean of the drawn tyre moves its middle by less than a centimetre.
        assert wheel.centre[2] == pytest.approx(ground + wheel.radius + wheel.clearance, abs=0.02)
    assert scene.ground[..., 2].min() == pytest.approx(0.0, abs=1e-9)
    assert scene.ground[..., 2].max() == pytest.approx(0.5, abs=1e-9)


@pytest.mark.parametrize("width", [10.0, 4.6])
def test_title_says_what_happens(clinic, width):
    free = pedestal_chart(pedestal_test(clinic(bare=True), None, [0.2, 0.4]), width)
    assert free.get_label().startswith("The rear right wheel comes free first, at 362")
    assert free.get_size_inches()[0] == width
    down = pedestal_chart(pedestal_test(clinic(), None, [0.2]), width)
    assert down.get_label().startswith("All wheels stay down up to 200")
    assert "Pedestals under front right and rear left" in down.get_label()


def test_tipped_trucks_are_not_drawn(clinic):
    left = ["front left", "rear left"]
    some = pedestal_chart(pedestal_test(clinic(), left, [0.2, 1.6]))
    assert some.get_label().startswith("The truck tips before")
    none = pedestal_chart(pedestal_test(clinic(), left, [1.6]))
    assert not none.axes


def test_names_at_line_ends_do_not_overlap(clinic):
    made = pedestal_chart(pedestal_test(clinic(), None, [0.0, 0.1]))
    made.canvas.draw()
    loads = made.axes[-1]
    boxes = [text.get_window_extent() for text in loads.texts]
    assert len(boxes) == 4
    middles = np.sort([0.5 * (box.y0 + box.y1) for box in boxes])
    assert np.diff(middles).min() > 0.8 * min(box.height for box in boxes)
