"""`python -m tests.benchmarks [FILE] [--chart] [--check]`: prints the speed table and writes it as JSON.

Best of several repeats, one core unless said otherwise, on the shipped vehicles and courses. Ratios compare what was
measured in the same run. Compilation is not in it: everything runs once before. FILE is benchmarks.json unless
named; ``--chart`` draws what a position costs, ``--check`` holds the kernel to the readable solver on the whole
input.
"""

import argparse
import json
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from crossaxle.terrain.tracks import lay_tracks
from tests.benchmarks import cost_chart, identical, job, rivals
from tests.benchmarks.scene import (
    LEAD,
    OUTPUTS,
    POSITIONS,
    SPACING,
    best,
    course,
    further_candidate,
    ground,
    kernel_rate,
    tyre_lines,
    vehicle,
)

SHARE_OFF = 0.10
"""Share of positions off the reference segments in the row that says so."""

OPERATIONS = 2 * 4 * (4 + OUTPUTS)
"""Multiplications and additions of one position if all is evaluated: inputs from heights, outputs from inputs."""

BYTES = 4 * 4 + 2 * 8
"""Read from memory for one position: four heights, two slopes."""

SAMPLES = 1000


@dataclass(frozen=True)
class Row:
    """One line of the table; ``wanted`` is the least (or, with ``most``, the largest) value to be reached."""

    value: float
    unit: str
    wanted: float | None = None
    most: bool = False

    def told(self, what: str) -> str:
        """The row as text."""
        if self.wanted is None:
            return f"{what:<86}{self.value:>10,.4g} {self.unit}"
        ratio = self.wanted / self.value if self.most else self.value / self.wanted
        bound = f"{'<=' if self.most else '>='} {self.wanted:,.4g}"
        return f"{what:<86}{self.value:>10,.4g} {self.unit:<16}{bound:>10}  x {ratio:.2f}"


def kernel_rows() -> dict[str, Row]:
    """The kernel, what else could do its work, and the machine."""
    clinic, sprung = vehicle("clinic"), vehicle("clinic", "sprung")
    easy = ground(clinic, "ondry_ridge")
    kernel, _ = kernel_rate(clinic, easy)
    rows = {"kernel, two axles, 12 outputs, easy course": Row(kernel / 1e6, "million/s", 50)}
    rows["kernel, two axles, all outputs, easy course"] = Row(
        kernel_rate(clinic, easy, None)[0] / 1e6, "million/s"
    )
    linear = rivals.numpy_rate(clinic)
    rows["vectorised NumPy on one thread, linear part alone"] = Row(linear / 1e6, "million/s")
    rows["kernel over NumPy's linear part"] = Row(kernel / linear, "times", 20)
    rates = rivals.library_rates(clinic)
    for name, rate in rates.items():
        rows[f"{name} called per position"] = Row(rate / 1e3, "thousand/s")
    rows["kernel over the faster of them, called per position"] = Row(
        kernel / max(rates.values()), "times", 300
    )
    (mild, mild_share), (severe, severe_share) = (
        kernel_rate(sprung, ground(sprung, name)) for name in ("kurrin_pass", "wadi_tamrun")
    )
    part = (SHARE_OFF - mild_share) / (severe_share - mild_share)
    rows["kernel, sprung, stops, obstacles: off the reference segments, mountain pass"] = Row(
        100 * mild_share, "%"
    )
    rows["kernel, sprung, stops, obstacles: off the reference segments, river bed"] = Row(
        100 * severe_share, "%"
    )
    mixed = 1 / ((1 - part) / mild + part / severe)
    rows[f"kernel on {100 - 100 * part:.0f} % pass and {100 * part:.0f} % river bed: 10 % off them"] = Row(
        mixed / 1e6, "million/s", 20
    )
    for axles, shipped, wanted in ((3, "laboratory", 2.5), (4, "rescue", 4.0)):
        made = vehicle(shipped)
        rate, _ = kernel_rate(made, ground(made, "ondry_ridge"))
        rows[f"kernel, {axles} axles, 12 outputs"] = Row(rate / 1e6, "million/s")
        rows[f"time of {axles} axles over that of two"] = Row(kernel / rate, "times", wanted, most=True)
    ceiling, bandwidth = rivals.multiply_add_rate(), rivals.memory_bandwidth()
    rows["machine: multiplications and additions, one core"] = Row(ceiling / 1e9, "GFLOP/s")
    rows["machine: memory copied, one core"] = Row(bandwidth / 1e9, "GB/s")
    rows[f"kernel's share of that, {OPERATIONS} operations a position"] = Row(
        100 * kernel * OPERATIONS / ceiling, "%"
    )
    rows[f"kernel's share of that, {BYTES} bytes a position"] = Row(100 * kernel * BYTES / bandwidth, "%")
    rows["plain g instead of g cos(alpha) at 15 deg side slope, of static load"] = Row(
        100 * rivals.gravity_error(clinic, np.deg2rad(15)), "%"
    )
    return rows


def other_rows() -> dict[str, Row]:
    """Ground, and a further candidate."""
    clinic = vehicle("clinic")
    lines = tyre_lines(clinic)
    seconds = best(lambda: lay_tracks(course("wadi_tamrun"), lines, SPACING, POSITIONS, LEAD, 1, 0), 7)
    return {
        "ground with tyre envelope, two tracks": Row(POSITIONS / seconds / 1e6, "million/s", 12),
        "further candidate of a sweep on one chassis: vehicle file to reduced model": Row(
            1e3 * further_candidate(), "ms", 5, most=True
        ),
    }


def job_rows(report: bool) -> dict[str, Row]:
    """The main job of 240 million solutions by the command itself, and what else is seen from outside."""
    with TemporaryDirectory() as name:
        study = job.write_study(Path(name))
        job.watch(study, 10)
        short = job.watch(study, SAMPLES // 10)
        whole = job.watch(study, SAMPLES, report=report)
        alone, together, solved = job.sampling_times(study)
    rows = {
        "240 million solutions, two processes: command to results": Row(whole.results, "s", 8, most=True),
        "second run: command to first progress": Row(min(whole.progress, short.progress), "s", 2, most=True),
        "crossaxle --help": Row(job.help_start(), "s", 0.5, most=True),
        "largest memory of a process, 100 km": Row(short.memory / 1e6, "MB", 500, most=True),
        "largest memory of a process, 1,000 km": Row(whole.memory / 1e6, "MB", 500, most=True),
        "chain of ground, kernel and writing, one process": Row(1e9 * alone / solved, "ns a solution"),
        "second process, its start included": Row(alone / together, "times", 1.9),
    }
    if report:
        rows["report of the 12 candidates"] = Row(whole.report, "s")
    return rows


def main() -> None:
    """Measure, print, write."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("file", nargs="?", default="benchmarks.json")
    parser.add_argument(
        "--chart", action="store_true", help=f"also measure and draw {cost_chart.PICTURE.name}"
    )
    parser.add_argument("--check", action="store_true", help="only compare with the readable solver")
    parser.add_argument("--report", action="store_true", help="also time the report")
    options = parser.parse_args()
    if options.check:
        identical.check_all()
        return
    table: dict[str, Row] = {}
    for part in (kernel_rows, other_rows, lambda: job_rows(options.report)):
        rows = part()
        table |= rows
        for what, row in rows.items():
            print(row.told(what), flush=True)
    found: dict[str, object] = {what: vars(row) for what, row in table.items()}
    if options.chart:
        costs = cost_chart.measure()
        cost_chart.draw(costs)
        found["cost [ns a position]"] = costs
        print(f"drew {cost_chart.PICTURE}")
    path = Path(options.file)
    path.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
    print(f"wrote {path}")


if __name__ == "__main__":
    main()
