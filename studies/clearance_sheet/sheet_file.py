"""The clearance sheet as a file; the name's ending says which kind."""

from pathlib import Path

import xarray as xr

from crossaxle.studies.analysis.candidates import Candidate
from crossaxle.studies.base.storage import write_whole
from crossaxle.studies.clearance_sheet.dxf import dxf
from crossaxle.studies.clearance_sheet.layout import lay_out_sheet
from crossaxle.studies.clearance_sheet.paper import clearances
from crossaxle.studies.clearance_sheet.sheet_numbers import clearance_sheet
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.pictures.export import compact_svg, pdf, png

KINDS = (".svg", ".dxf", ".pdf", ".png")


def check_sheet_name(path: Path) -> None:
    """Raise InputError if the name's ending is none of ``KINDS``."""
    if path.suffix.lower() not in KINDS:
        raise InputError(
            f"--out {path}: allowed are names that end in {', '.join(KINDS[:-1])} or {KINDS[-1]}"
        )


def write_clearance_sheet(ds: xr.Dataset, candidate: int, course: int, path: Path) -> None:
    """Write the clearance sheet of one candidate on one course.

    Parameters
    ----------
    ds : Dataset
        Results.
    candidate, course : int
        As in `crossaxle.studies.analysis.candidates`.
    path : Path
        Ends in .svg, .dxf, .pdf or .png; a file of the name is replaced.

    Raises
    ------
    InputError
        If the ending is another, there are no results to draw, or ezdxf is missing for DXF.
    OSError
        If the file cannot be written.
    """
    check_sheet_name(path)
    sheet = lay_out_sheet(clearance_sheet(ds, candidate, course))
    kind = path.suffix.lower()
    if kind == ".dxf":
        content = dxf(sheet).encode("utf-8")
    else:
        svg = compact_svg(clearances(sheet))
        content = svg.encode("utf-8") if kind == ".svg" else pdf(svg) if kind == ".pdf" else png(svg)
    write_whole(path, content)


def recommended_sheet(ds: xr.Dataset, course: int, recommended: Candidate) -> tuple[str, str] | None:
    """Draw the sheet of the candidate recommended on a course.

    Returns
    -------
    tuple or None
        File name and SVG; None where the results do not carry the study they came from.
    """
    if "vehicle" not in ds.attrs:
        return None
    name = f"clearances_course_{course + 1}.svg" if ds.sizes["course"] > 1 else "clearances.svg"
    return name, compact_svg(clearances(lay_out_sheet(clearance_sheet(ds, recommended.index, course))))
