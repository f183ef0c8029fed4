"""Whether the items that a study's limits name are there: a limit on a misspelt one would never be judged."""

from crossaxle.studies.base.quantities import CYCLES, DERIVED
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.inputs.units import shown
from crossaxle.studies.run.experiment import Experiment
from crossaxle.studies.study.limits import Limit


def check_limit_items(experiment: Experiment) -> None:
    """Refuse limits on items that no candidate has.

    Raises
    ------
    InputError
        Names every such limit with the items that it may be on.
    """
    source = experiment.study.source.name
    recorded = _recorded(experiment)
    wrong = [
        f"{source}: limits[{place}].item: found {shown(limit.item)}; {_allowed(limit, known)}"
        for place, limit in enumerate(experiment.study.file.limits, start=1)
        if limit.item and limit.item not in (known := _items(experiment, limit, recorded))
    ]
    if wrong:
        raise InputError(*wrong)


def _recorded(experiment: Experiment) -> dict[str, dict[str, None]]:
    """Items of each quantity, and of its counted cycles, those of all candidates together."""
    found: dict[str, dict[str, None]] = {}
    for recorder in experiment.recorders:
        for record in recorder.records:
            found.setdefault(record.quantity, {})[record.item] = None
            if record.cycles:
                found.setdefault(CYCLES[record.quantity], {})[record.item] = None
    return found


def _items(experiment: Experiment, limit: Limit, recorded: dict[str, dict[str, None]]) -> list[str]:
    if limit.kind.rate:
        return list(experiment.columns.items[limit.kind.dim])
    quantity = limit.kind.variable.rpartition("_")[0]
    return [item for item in recorded.get(DERIVED.get(quantity, quantity), {}) if item]


def _allowed(limit: Limit, known: list[str]) -> str:
    if known:
        listed = ", ".join(f'"{one}"' for one in known)
        return f"allowed is one of {listed}"
    if not limit.kind.dim:
        return f'"{limit.what}" is of the whole truck: leave item out'
    return f'no candidate has "{limit.what}": leave this limit out'
