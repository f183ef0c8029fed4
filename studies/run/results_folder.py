"""A results folder, made ready for a run; what it holds is never given up unless that is wanted."""

import os
import shutil
from pathlib import Path

from crossaxle.studies.base.storage import clear_unfinished, not_written
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.run.experiment import Experiment
from crossaxle.studies.run.parts import part_files
from crossaxle.studies.run.sampling import PARTS, RESULTS
from crossaxle.studies.run.versions import identity


def refuse_results(folder: Path) -> None:
    """Raise InputError if a folder holds results or parts of a run."""
    there = [RESULTS] if (folder / RESULTS).exists() else []
    there += [PARTS] if part_files(folder / PARTS) else []
    if there:
        raise InputError(
            f"{folder}: holds {' and '.join(there)} of an earlier run; --resume goes on with it or adds samples, "
            "--overwrite starts again"
        )


def refuse_other_results(folder: Path, experiment: Experiment) -> None:
    """Raise InputError if the results in a folder are not of this study, seed and version.

    Results that cannot be read are no obstacle: they are put together again from the parts.
    """
    import xarray as xr

    from crossaxle.studies.run.dataset import DAMAGED, ENGINE

    try:
        with xr.open_dataset(folder / RESULTS, engine=ENGINE) as dataset:
            made_by = dataset.attrs.get("identity")
    except DAMAGED:
        return
    if made_by != identity(experiment.study):
        raise InputError(
            f"{folder / RESULTS}: belongs to another study, seed or version; choose another folder with --out, or "
            "throw it away with --overwrite"
        )


def make_ready(folder: Path, empty: bool) -> None:
    """Make the place for parts, empty it if wanted, and remove what killed runs left half written.

    Raises
    ------
    InputError
        If that cannot be done.
    """
    try:
        if empty:
            (folder / RESULTS).unlink(missing_ok=True)
            if (folder / PARTS).is_dir():
                shutil.rmtree(folder / PARTS)
        (folder / PARTS).mkdir(exist_ok=True)
        for place in (folder, folder / PARTS):
            clear_unfinished(place)
            if not os.access(place, os.W_OK):
                raise InputError(
                    f"{place}: cannot be written; allow writing there, or choose another folder with --out"
                )
    except OSError as error:
        raise InputError(f"{folder}: {not_written(error, 'with --out')}") from None
