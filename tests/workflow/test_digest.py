"""The page of the morning is made when asked for, and again only when what it shows may have changed."""

from __future__ import annotations

from pathlib import Path

from workflow.runs import edited_package, snakemake

TWO_DAYS = """
def write_demo_study(folder, *, seed):
    for day in ("20260302", "20260303"):
        session = folder / "sub-P01" / f"ses-{day}"
        session.mkdir(parents=True)
        (session / "a_foot.csv").write_text("nothing to read\\n")
"""


def test_it_is_a_target_of_its_own(tmp_path: Path) -> None:
    package = edited_package(tmp_path, "synth/study.py", extra=TWO_DAYS)
    first = snakemake(tmp_path, "digest", code=package)
    assert first.status == 0, first.text
    assert {rule for rule, _ in first.jobs} == {"demo", "strides", "study", "courses", "trend", "digest"}
    page = (tmp_path / "results" / "nightly" / "digest.html").read_text(encoding="utf-8")
    assert "P01, 3 Mar" in page
    assert "rejected." in page
    assert (tmp_path / "results" / "sub-P01" / "course.html").is_file()  # which the page links
    (tmp_path / "more.yaml").write_text("settings: {trend: {silent_days: 5}}", encoding="utf-8")
    again = snakemake(tmp_path, "digest", "--configfile", "more.yaml", "--dry-run", code=package)
    assert again.jobs == {("trend", ""), ("digest", "")}
