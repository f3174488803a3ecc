"""What every dataset of the standard has beside its data: a description, a README, what validators pass over."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from firstrocker import __version__
from firstrocker.files import write_json, write_text

BIDS_VERSION = "1.9.0"
"""The first version of the standard that knows motion; what is written here holds in later ones too."""
TASK = "walking"


def write_description(out: Path, *, name: str, derivative: bool, readme: str, ignored: tuple[str, ...] = ()) -> None:
    """dataset_description.json, README and, where something is to be passed over, .bidsignore.

    Args:
        out: the dataset's folder.
        name: of the dataset.
        derivative: whether it holds results rather than recordings.
        readme: what it holds.
        ignored: patterns of files that the standard does not know.
    """
    description: dict[str, Any] = {
        "Name": name,
        "BIDSVersion": BIDS_VERSION,
        "DatasetType": "derivative" if derivative else "raw",
        "GeneratedBy": [{"Name": "firstrocker", "Version": __version__}],
    }
    write_json(out / "dataset_description.json", description)
    write_text(out / "README.md", readme)
    if ignored:
        write_text(out / ".bidsignore", "".join(f"{pattern}\n" for pattern in ignored))


def file_stem(subject: str, session: str, tracksys: str, *, task: str = TASK, acq: str = "", run: str = "") -> str:
    """A recording's file name up to its suffix, the entities in the standard's order.

    >>> file_stem("P01", "1", "leftfoot", acq="a")
    'sub-P01_ses-1_task-walking_tracksys-leftfoot_acq-a'
    """
    more = "".join(f"_{key}-{label}" for key, label in (("acq", acq), ("run", run)) if label)
    return f"sub-{subject}_ses-{session}_task-{task}_tracksys-{tracksys}{more}"
