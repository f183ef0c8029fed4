"""Files shipped inside the packages: vehicles, courses and the example study."""

from importlib import resources
from pathlib import Path

from crossaxle.studies.inputs.reader import Document, InputError, document, open_document
from crossaxle.studies.inputs.units import shown

PREFIX = "library:"
"""What a study writes before the name of a shipped file."""

_FOLDERS = {"vehicle": ("crossaxle.vehicles", "library"), "course": ("crossaxle.terrain", "library")}


def names(kind: str) -> list[str]:
    """List the shipped files of a kind (``vehicle`` or ``course``)."""
    package, folder = _FOLDERS[kind]
    entries = resources.files(package).joinpath(folder).iterdir()
    return sorted(entry.name.removesuffix(".toml") for entry in entries if entry.name.endswith(".toml"))


def is_shipped(reference: str) -> bool:
    """Whether a reference names a shipped file."""
    return reference.startswith(PREFIX)


def open_reference(reference: str, kind: str, folder: Path) -> Document:
    """Open a file that a study refers to, or a shipped one.

    Parameters
    ----------
    reference : str
        A path relative to `folder`, or ``library:NAME``.
    kind : str
        ``vehicle`` or ``course``.
    folder : Path
        Folder of the file that refers to it.

    Raises
    ------
    InputError
        If there is no such file, or it is no TOML.
    """
    shipped = names(kind)
    if not is_shipped(reference):
        if reference in shipped and not (folder / reference).exists():
            raise InputError(
                f"{folder / reference}: there is no such file; a shipped {kind} is {PREFIX}{reference}"
            )
        return open_document(folder / reference)
    name = reference.removeprefix(PREFIX)
    if name not in shipped:
        raise InputError(f"{shown(reference)} is not a shipped {kind}; shipped are {', '.join(shipped)}")
    return document(reference, text(kind, name))


def text(kind: str, name: str) -> str:
    """Read the text of a shipped file."""
    package, folder = _FOLDERS[kind]
    return resources.files(package).joinpath(folder, f"{name}.toml").read_text(encoding="utf-8")
