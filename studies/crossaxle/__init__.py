"""Use from a notebook or a script of one's own: load a study, run it, compare candidates, draw charts.

Results are plain xarray Datasets, the same as the command line writes; figures are matplotlib's. Bad input raises
`crossaxle.studies.inputs.reader.InputError` with the message that the command line would print.

>>> import crossaxle
>>> files = crossaxle.example("my-study")
>>> study = crossaxle.load("my-study/study.toml", samples=4, sample_length="50 m")
>>> ds = crossaxle.run(study)
>>> crossaxle.candidates(ds)[:2]
['wheelbase 3.8 m, rigid mount', 'wheelbase 3.8 m, pivoting mount']
>>> ds["gap_minimum"].sel(wheelbase=4.4, mount="rigid", gap="cab back to body").min("sample").dims
('course',)
>>> crossaxle.save(ds, "results").name
'results.nc'

The examples of the functions below go on from here. Everything heavy is imported when it is used.
"""

from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.figure import Figure

    from crossaxle.studies.study.study import Study

__all__ = ["candidates", "charts", "compare", "example", "load", "open_results", "plot", "run", "save"]


def example(folder: Path | str) -> list[Path]:
    """Write the commented example study into a folder, as ``crossaxle example`` does; return its files.

    >>> [path.name for path in crossaxle.example("another-study")]
    ['study.toml', 'vehicle.toml', 'course.toml']

    Raises
    ------
    InputError
        If the folder holds one of the files already or cannot be written.
    """
    from crossaxle.studies.study.example import write_example

    return write_example(Path(folder))


def load(path: Path | str, **settings: Any) -> "Study":
    """Read a study file and the files it refers to.

    Parameters
    ----------
    path : path
    **settings
        Keys of the study file that replace its values; quantities are texts with a unit.

    Raises
    ------
    InputError
        If a file cannot be read or the study file is wrong.

    Examples
    --------
    >>> study = crossaxle.load("my-study/study.toml", samples=3, seed=8)
    >>> study.file.samples, len(study.candidates)
    (3, 6)
    """
    from crossaxle.studies.study.study import load as load_study

    return load_study(path, settings)


def run(study: "Study") -> "xr.Dataset":
    """Run a study in this process and return its results, to the bit those of ``crossaxle run``.

    A long study is better run by the command, which uses all cores and can be resumed; see `open_results`.

    Raises
    ------
    InputError
        If vehicle or course is wrong, or a limit is on an item that no candidate has.

    Examples
    --------
    >>> ds = crossaxle.run(crossaxle.load("my-study/study.toml", samples=1, sample_length="20 m"))
    >>> ds["frame_twist_maximum"].dims
    ('wheelbase', 'mount', 'course', 'sample')
    """
    from crossaxle.studies.run.experiment import Experiment
    from crossaxle.studies.run.limit_items import check_limit_items
    from crossaxle.studies.run.pool import in_process
    from crossaxle.studies.run.sampling import combine, missing_ranges
    from crossaxle.studies.run.sampling import run as run_ranges

    experiment = Experiment(study)
    check_limit_items(experiment)
    with TemporaryDirectory() as folder:
        ranges = missing_ranges(experiment, [], 1)
        run_ranges(experiment, Path(folder), ranges, in_process, lambda done: None)
        return combine(experiment, Path(folder))


def save(ds: "xr.Dataset", folder: Path | str) -> Path:
    """Write results into a folder, made if need be, where ``crossaxle report`` and the others find them.

    >>> crossaxle.save(crossaxle.open_results("results"), "copy").as_posix()
    'copy/results.nc'
    """
    from crossaxle.studies.run.dataset import write_results
    from crossaxle.studies.run.sampling import RESULTS

    path = Path(folder) / RESULTS
    path.parent.mkdir(parents=True, exist_ok=True)
    write_results(ds, path)
    return path


def open_results(folder: Path | str) -> "xr.Dataset":
    """Read the results that ``crossaxle run`` or `save` wrote into a folder.

    Raises
    ------
    InputError
        If there are none.

    Examples
    --------
    >>> ds = crossaxle.open_results("results")
    >>> ds["wheel_load_minimum"].attrs["units"]
    'N'
    """
    from crossaxle.studies.run.dataset import read_results
    from crossaxle.studies.run.sampling import RESULTS

    return read_results(Path(folder) / RESULTS)


def candidates(ds: "xr.Dataset") -> list[str]:
    """Name the candidates, the last swept quantity changing fastest.

    >>> len(crossaxle.candidates(crossaxle.open_results("results")))
    6
    """
    from crossaxle.studies.analysis.candidates import candidates as all_candidates

    return [candidate.name for candidate in all_candidates(ds)]


def compare(ds: "xr.Dataset", first: str, second: str, course: str = "") -> "xr.Dataset":
    """Compare two candidates on the same ground, outcome by outcome of the report's first page; less is better.

    Parameters
    ----------
    ds : Dataset
    first, second : str
        ``KEY=VALUE`` pairs that fit one candidate each.
    course : str
        Its name; the first one if left out.

    Returns
    -------
    Dataset
        Along ``outcome``: ``difference`` (first minus second, in ``unit``) and ``ratio`` (first over second), each
        with ``_low`` and ``_high``, the ends of the 95 % interval, and ``chance_less``, the chance that the first
        truly has less.

    Raises
    ------
    InputError
        If a text does not fit exactly one candidate.

    Examples
    --------
    >>> ds = crossaxle.open_results("results")
    >>> found = crossaxle.compare(ds, "wheelbase=4.4 m, mount=rigid", "wheelbase=4.4 m, mount=pivoting")
    >>> torque = found.sel(outcome=found.heading == "Body torque").squeeze()
    >>> str(torque.unit.values), bool(torque.difference_low <= torque.difference <= torque.difference_high)
    ('kN m', True)
    >>> bool(torque.difference > 0)  # bolted solid, the body takes more torque
    True
    """
    import xarray as xr

    from crossaxle.studies.analysis.outcomes import headline
    from crossaxle.studies.report.chosen_candidate import chosen_course, named_candidate

    at = chosen_course(ds, course)
    a, b = (named_candidate(ds, text) for text in (first, second))
    outcomes = headline(ds, at)
    found = [outcome.compare(a.index, b.index) for outcome in outcomes]
    columns: dict[str, list[float]] = {}
    for name in ("difference", "ratio"):
        for end, suffix in (("value", ""), ("low", "_low"), ("high", "_high")):
            columns[f"{name}{suffix}"] = [float(getattr(getattr(each, name), end)) for each in found]
    columns["chance_less"] = [each.chance_less for each in found]
    return xr.Dataset(
        {name: ("outcome", column) for name, column in columns.items()},
        {
            "outcome": [outcome.key for outcome in outcomes],
            "heading": ("outcome", [outcome.heading for outcome in outcomes]),
            "unit": ("outcome", [outcome.unit for outcome in outcomes]),
        },
        {"first": a.name, "second": b.name},
    )


def charts(ds: "xr.Dataset", course: str = "") -> list[str]:
    """Name the charts that can be drawn of results.

    >>> crossaxle.charts(crossaxle.open_results("results"))[:2]
    ['unload_events', 'wheel_load']
    """
    from crossaxle.studies.charts.catalogue import catalogue
    from crossaxle.studies.report.chosen_candidate import chosen_course

    return [entry.name for entry in catalogue(ds, chosen_course(ds, course))]


def plot(ds: "xr.Dataset", chart: str, course: str = "", width: float = 10.0) -> "Figure":
    """Draw a chart of the report.

    Parameters
    ----------
    ds : Dataset
    chart : str
        One of `charts`.
    course : str
        Its name; the first one if left out.
    width : float
        [inches]; the text is set for 10 (page, projector) or 4.6 (phone).

    Returns
    -------
    Figure
        A notebook shows it after ``%matplotlib inline``; ``savefig`` writes it.

    Raises
    ------
    InputError
        If there is no such chart.

    Examples
    --------
    >>> figure = crossaxle.plot(crossaxle.open_results("results"), "unload_events")
    >>> figure.savefig("unload_events.svg")
    """
    from crossaxle.studies.charts.catalogue import catalogue
    from crossaxle.studies.inputs.reader import InputError
    from crossaxle.studies.inputs.units import shown
    from crossaxle.studies.report.chosen_candidate import chosen_course

    entries = {entry.name: entry for entry in catalogue(ds, chosen_course(ds, course))}
    if chart not in entries:
        raise InputError(
            f"chart: found {shown(chart)}; allowed: {', '.join(entries) or 'none without results'}"
        )
    return entries[chart].draw(width)
