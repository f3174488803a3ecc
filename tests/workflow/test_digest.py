"""The page of the morning is made when asked for, and again only when what it shows may have changed."""

from __future__ import annotations

from pathlib import Path

from workflow.runs import snakemake

GIVEN = ("--config", "study=study", "results=results")


def test_it_is_a_target_of_its_own(tmp_path: Path) -> None:
    for day in ("20260302", "20260303"):
        session = tmp_path / "study" / "sub-P01" / f"ses-{day}"
        session.mkdir(parents=True)
        (session / "session.yaml").write_text("nothing to read", encoding="utf-8")
    first = snakemake(tmp_path, "digest", *GIVEN)
    assert first.status == 0, first.text
    assert {rule for rule, _ in first.jobs} == {"strides", "study", "courses", "trend", "digest"}
    page = (tmp_path / "results" / "nightly" / "digest.html").read_text(encoding="utf-8")
    assert "P01, 3 Mar" in page
    assert "rejected." in page
    assert (tmp_path / "results" / "sub-P01" / "course.html").is_file()  # which the page links
    (tmp_path / "more.yaml").write_text("settings: {trend: {silent_days: 5}}", encoding="utf-8")
    again = snakemake(tmp_path, "digest", "--configfile", "more.yaml", "--dry-run", *GIVEN)
    assert again.jobs == {("trend", ""), ("digest", "")}
