"""What a study will cost, before it starts: positions, time and memory; absurd ones are refused."""

from dataclasses import dataclass

from crossaxle.studies.run.experiment import Experiment

POSITIONS_PER_SECOND = 13e6
"""Solved per worker, ground included; measured on one core of a two-core x86-64 machine."""

BYTES_PER_POINT = 200
"""Working memory per ground point of one sample while it is laid (Fourier transforms included)."""

CANDIDATES_PER_SECOND = 40.0
"""Checked and assembled, on one core of the same machine; it comes before the estimate."""

LONGEST_WITHOUT_WORD = 3.0
"""Candidates that take longer to assemble are announced [s]."""

LONGEST_TIME = 24 * 3600.0
"""A study that would take longer is refused unless it is wanted expressly [s]."""

MOST_MEMORY = 4e9
"""A study whose results or samples would need more is refused unless it is wanted expressly [bytes]."""


@dataclass(frozen=True)
class Estimate:
    """Cost of a study.

    Attributes
    ----------
    distance : float
        Driven by every candidate on every course [m].
    positions : float
        Solved, over all candidates.
    time : float
        With the workers given [s].
    memory : float
        Of the process that needs most [bytes].
    """

    distance: float
    positions: float
    time: float
    memory: float

    @property
    def absurd(self) -> bool:
        """Whether it should only be started if that is wanted expressly."""
        return self.time > LONGEST_TIME or self.memory > MOST_MEMORY

    @property
    def text(self) -> str:
        """In words."""
        million = float(f"{self.positions / 1e6:.3g}")
        return (
            f"{self.distance / 1e3:,.0f} km for each candidate and course, {million:,g} million positions, "
            f"about {_time(self.time)} of driving and {self.memory / 1e6:,.0f} MB, then the report"
        )


def estimate(experiment: Experiment, workers: int) -> Estimate:
    """Estimate what an experiment costs with some workers."""
    file = experiment.study.file
    rows = file.samples * len(experiment.candidates) * len(experiment.courses)
    positions = float(rows) * experiment.n_positions
    # results are held as rows, as a Dataset and as the bytes of its file
    results = 3.0 * 8.0 * rows * experiment.columns.width
    sample = float(BYTES_PER_POINT) * experiment.n_positions * len(experiment.lines)
    distance = file.samples * experiment.n_positions * file.spacing
    return Estimate(distance, positions, positions / POSITIONS_PER_SECOND / workers, max(results, sample))


def announcement(candidates: int) -> str:
    """Say what goes before the estimate, where it takes long enough to be noticed; else nothing."""
    seconds = candidates / CANDIDATES_PER_SECOND
    if seconds < LONGEST_WITHOUT_WORD:
        return ""
    return f"checking and assembling {candidates:,} candidates, about {_time(seconds)}"


def _time(seconds: float) -> str:
    for unit, size in (("days", 86400.0), ("hours", 3600.0), ("minutes", 60.0)):
        if seconds >= 2 * size:
            return f"{seconds / size:,.0f} {unit}"
    return f"{seconds:.0f} seconds" if seconds >= 1.5 else "a second"
