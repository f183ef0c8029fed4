"""Every default at work is said with its value; what the file states is not."""


def test_defaults_are_named_with_their_values(clinic):
    text = "\n".join(clinic().assumptions)
    for part in ('kind "welded channels"', "36 kN m/deg", "0.73 kN/mm", "590 mm", "0.84 m high"):
        assert part in text


def test_what_the_file_states_is_no_assumption(clinic):
    stated = {
        "body.torsional_stiffness": "40 kN*m/deg",
        "axle.front.tyre.stiffness": "800 N/mm",
        "axle.front.tyre.radius": "0.6 m",
        "axle.front.tyre.contact_length": "0.3 m",
        "axle.front.roll_centre": "0.8 m",
        "mounts.pivoting.height": "1.15 m",
    }
    text = "\n".join(clinic(stated).assumptions)
    assert "body" not in text
    assert "axle front" not in text
    assert "mount:" not in text


def test_spring_rate_from_deflection_and_from_the_rating(clinic):
    """Rate of a side is half the sprung share of the permitted load over its deflection."""
    text = "\n".join(
        clinic({"axle.front": {"at": "front axle", "mass": "720 kg", "permitted_load": "7.5 t", "wheel_track": "2.05 m",
                               "spring_track": "0.86 m", "spring_deflection": "100 mm",
                               "tyre": {"size": "395/85R20", "pressure": "4.5 bar"}}}).assumptions
    )  # fmt: skip
    assert f"spring rate {0.5 * 6780 * 9.80665 / 0.1 / 1e3:.0f} N/mm" in text
    assert "bump travel 90 mm and rebound travel 120 mm" in text
