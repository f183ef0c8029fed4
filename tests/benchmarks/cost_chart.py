"""What a position costs, against distance, candidates, axles, outputs and cores, in one picture."""

from pathlib import Path
from tempfile import TemporaryDirectory

from crossaxle.studies.charts.style import INK, NARROW, SMALL, SOFT, WIDE, figure, look
from tests.benchmarks.job import chain, sampling_times, write_study
from tests.benchmarks.scene import OUTPUTS, best, ground, kernel_rate, vehicle

Series = dict[str, float]

PICTURE = Path(__file__).with_name("cost.png")


def measure() -> dict[str, Series]:
    """Nanoseconds a solution costs, by what is varied."""
    with TemporaryDirectory() as name:
        home = Path(name)
        study = write_study(_folder(home, "job"))
        costs = {
            "distance [km], 12 candidates": {},
            "candidates": {},
            "axles": {},
            "outputs": {},
            "processes": {},
        }
        experiment, _ = chain(study)
        solutions = experiment.n_positions * len(experiment.candidates)
        for samples in (2, 8, 32):
            seconds = best(lambda n=samples: [experiment.run(k) for k in range(n)], 3)
            costs["distance [km], 12 candidates"][f"{samples}"] = 1e9 * seconds / (samples * solutions)
        for wheelbases in (1, 2, 4, 6):
            one, _ = chain(write_study(_folder(home, f"{wheelbases}"), wheelbases))
            seconds = best(lambda e=one: [e.run(k) for k in range(4)], 5)
            costs["candidates"][f"{len(one.candidates)}"] = (
                1e9 * seconds / (4 * one.n_positions * len(one.candidates))
            )
        alone, together, solved = sampling_times(study)
    costs["processes"] = {"1": 1e9 * alone / solved, "2": 1e9 * together / solved}
    for axles, shipped in ((2, "clinic"), (3, "laboratory"), (4, "rescue")):
        made = vehicle(shipped)
        costs["axles"][f"{axles}"] = 1e9 / kernel_rate(made, ground(made, "ondry_ridge"))[0]
    clinic = vehicle("clinic")
    easy = ground(clinic, "ondry_ridge")
    for outputs in (4, OUTPUTS, 24, None):
        costs["outputs"][f"{outputs or 'all'}"] = 1e9 / kernel_rate(clinic, easy, outputs)[0]
    return costs


def draw(costs: dict[str, Series], path: Path = PICTURE) -> None:
    """Draw the costs, one panel for each thing varied, from zero."""
    made = figure(WIDE, NARROW * 0.72)
    panels = made.subplots(1, len(costs))
    for i, (what, series) in enumerate(costs.items()):
        axes = panels[i]
        axes.bar(
            list(series),
            list(series.values()),
            color=look(0).colour if i in (0, 1, 4) else look(1).colour,
            width=0.7,
        )
        for place, value in enumerate(series.values()):
            axes.annotate(
                f"{value:.0f}",
                (place, value),
                (0, 2),
                textcoords="offset points",
                ha="center",
                fontsize=SMALL,
                color=INK,
            )
        axes.set_xlabel(what.replace(", ", "\n"), fontsize=SMALL, color=SOFT)
        axes.tick_params(labelsize=SMALL, colors=SOFT, length=0)
        axes.set_yticks([])
        axes.margins(y=0.15)
        for side in ("top", "right", "left"):
            axes.spines[side].set_visible(False)
    made.suptitle(
        "Nanoseconds per solved position: the whole chain (blue), the kernel alone (orange)",
        x=0.01, ha="left", fontsize=SMALL + 1.5, color=INK,
    )  # fmt: skip
    made.tight_layout(rect=(0, 0, 1, 0.97))
    made.savefig(path, dpi=80)


def _folder(home: Path, name: str) -> Path:
    folder = home / name
    folder.mkdir()
    return folder
