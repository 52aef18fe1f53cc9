"""One id in several files of a jobs folder: revisions in order, and the same one twice."""

from __future__ import annotations

from pathlib import Path

import pytest

from kiosk.job.listing import Offer, offers, revision_order
from tests.job.jobs import JOB, write_job


def folder_of(folder: Path, *revisions: str) -> list[Offer]:
    """Files a, b, c ... with one id and these revisions; "" leaves the key out."""
    write_job(folder).unlink()
    for letter, revision in zip("abcdef", revisions, strict=False):
        line = f'revision = "{revision}"\n' if revision else ""
        text = JOB.replace('revision = "A"\n', line)
        (folder / f"{letter}.job.toml").write_text(text, encoding="utf-8")
    return offers(folder)


@pytest.mark.parametrize(
    ("older", "newer"),
    [("A", "B"), ("", "A"), ("", "0"), ("Z", "AA"), ("9", "10"), ("1.9", "1.10"), ("2", "2.1"),
     ("9", "A"), ("a", "B"), ("B", "B1"), ("rev. 3", "rev. 12")],
)  # fmt: skip
def test_revisions_have_an_order(older: str, newer: str) -> None:
    """Letters as drawings count them, A to Z and then AA; numbers by size (common practice)."""
    assert revision_order(older) < revision_order(newer)


def test_the_newest_revision_is_offered_and_the_others_say_so(tmp_path: Path) -> None:
    rows = folder_of(tmp_path, "B", "C", "A")
    assert [row["error"] is None for row in rows] == [False, True, False]
    assert rows[0]["error"] == (
        'a.job.toml: id "T-1", revision "B", is superseded by id "T-1", revision "C", in '
        "b.job.toml: take it"
    )
    assert "superseded" in (rows[2]["error"] or "")
    assert [row["revision"] for row in rows] == ["B", "C", "A"]


@pytest.mark.parametrize("twice", [("A", "A"), ("", ""), ("a", "A"), ("01", "1")])
def test_the_same_revision_twice_is_bad_in_both_files(
    tmp_path: Path, twice: tuple[str, str]
) -> None:
    first, second = (row["error"] or "" for row in folder_of(tmp_path, *twice))
    assert first.startswith("a.job.toml: ")
    assert "is also in b.job.toml: give each its own revision or id" in first
    assert "is also in a.job.toml" in second


def test_the_newest_revision_twice_leaves_nothing_to_choose(tmp_path: Path) -> None:
    rows = folder_of(tmp_path, "B", "B", "A")
    assert all(row["error"] for row in rows)
    assert "superseded" in (rows[2]["error"] or "")


def test_an_unreadable_file_takes_no_part_in_the_order(tmp_path: Path) -> None:
    folder_of(tmp_path, "A")
    (tmp_path / "b.job.toml").write_text(JOB.replace('"A"', '"B"') + "colour = 1\n")
    good, bad = offers(tmp_path)
    assert good["error"] is None
    assert (bad["error"] or "").startswith("b.job.toml:")
    assert "\n" not in (bad["error"] or "")
