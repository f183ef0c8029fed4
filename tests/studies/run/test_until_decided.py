"""Running on until every limit is met or missed for sure, or a cap is reached."""

import pytest

from crossaxle.studies.cli.main import cli
from crossaxle.studies.run.dataset import read_results

STUDY = """
title = "until decided"
vehicle = "library:clinic"
courses = ["library:wadi_tamrun"]
samples = 2
sample_length = "200 m"
seed = 3
"""
WIDE = '[[limits]]\nwhat = "unload events"\nat_most = "400 1/km"\n'
HARD = '[[limits]]\nwhat = "unload events"\nat_most = "0.3 1/km"\n'


@pytest.mark.parametrize(
    ("limit", "most", "told"), [(WIDE, 40, "all verdicts stand"), (HARD, 6, "open after 6 samples")]
)
def test_goes_on_until_decided_or_capped(tmp_path, limit, most, told):
    from click.testing import CliRunner

    path = tmp_path / "study.toml"
    path.write_text(STUDY + limit)
    arguments = [
        "run",
        str(path),
        "--out",
        str(tmp_path / "out"),
        "--workers",
        "1",
        "--until-decided",
        str(most),
    ]
    result = CliRunner().invoke(cli, arguments)
    assert result.exit_code == 0, result.output
    assert told in result.output
    assert read_results(tmp_path / "out" / "results.nc").sizes["sample"] <= most


def test_needs_limits(tmp_path):
    from click.testing import CliRunner

    path = tmp_path / "study.toml"
    path.write_text(STUDY)
    result = CliRunner().invoke(
        cli, ["run", str(path), "--out", str(tmp_path / "out"), "--until-decided", "5"]
    )
    assert result.exit_code == 2
    assert "states no limits" in result.output
