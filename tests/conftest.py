"""What several rooms' tests share: the shipped two-axle demo vehicle with any values changed."""

from collections.abc import Callable
from pathlib import Path

import pytest

from crossaxle.studies.inputs.reader import read
from crossaxle.vehicles.assemble import Vehicle, assemble
from crossaxle.vehicles.file import VehicleFile
from tests import checks

LIBRARY = Path(__file__).parents[1] / "vehicles" / "library"


@pytest.fixture(scope="session")
def clinic() -> Callable[..., Vehicle]:
    """Assembles the two-axle demo vehicle: ``clinic({"wheelbase": "5 m"}, bare=True)``."""

    def build(changes: dict[str, object] | None = None, bare: bool = False) -> Vehicle:
        return assemble(read(LIBRARY / "clinic.toml", VehicleFile, changes or {}), bare)

    return build


@pytest.fixture
def checked() -> Callable[..., None]:
    """Holds a difference from an outside source against README: ``checked(what, against, difference, unit)``."""

    def compare(what: str, against: str, difference: float, unit: str = "") -> None:
        checks.compare(what, against, difference, unit)

    return compare
