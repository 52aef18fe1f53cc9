"""``holdpoint log`` as a person types it."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import log_story as story
import pytest

from kiosk.cli import main
from kiosk.interlock.decision import Note
from kiosk.records.export import guarded, write

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """A log of one cycle and 10 s of a trace: two seconds without a value, then up to 60."""
    now_s = time.monotonic()
    samples = [
        ("table", now_s - 5 + k / 20, None if k < 40 else min(60.0, float(k))) for k in range(200)
    ]
    story.write(
        tmp_path / "log.db", [*story.set_up(), *story.cut("c-1")], [story.a_plan()], samples
    )
    return tmp_path


def said(capsys: pytest.CaptureFixture[str], data: Path, *words: str, status: int = 0) -> str:
    assert main(["log", *words, "--data", str(data)]) == status
    return capsys.readouterr().out


def test_list_shows_a_cycle_a_line(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    head, line = said(capsys, data, "list").splitlines()
    assert [
        w for w in ("no", "cycle", "job", "result", "minimum", "lowest R", "alarms") if w in head
    ]
    cells = [cell.strip() for cell in line.split("  ") if cell]
    assert cells == ["1", "c-1", "2026-11-25 09:00:00Z", "SR-210", "done", "42.0 kPa", "105 %",
                     "A05 A06"]  # fmt: skip


def test_what_was_set_aside_and_shelved_is_told_with_who_and_why(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shelf = {"change": "shelved", "user": "A. B.", "shelf_reason": "waits_for_a_part",
             "shelf_s": 3600.0}  # fmt: skip
    seen = {"change": "acknowledged", "user": "A. B.", "comment": "hose is old"}
    alarm = story.alarm("A17", "raised", "c-1")
    notes = [
        *story.set_up(),
        Note("cycle", "c-1", {"change": "opened", "result": None}),
        Note("alarm", "c-1", {**alarm.data, "quality": "M"}),
        Note("alarm", "c-1", {**alarm.data, **seen}),
        Note("alarm", "c-1", {**alarm.data, **shelf}),
        Note("alarm", "c-1", {**story.alarm("A15", "cleared", "c-1").data, "about": "B"}),
        Note("bypass", "c-1", {"check": "signed_on", "change": "begun", "reason": "other",
                               "user": "C. D."}),
        Note("service", "c-1", {"on": True, "user": "E. F."}),
        Note("service", "c-1", {"on": False, "user": None}),
        Note("confirm", "c-1", {"what": "cautions", "user": "G. H.", "cautions": ["C01"],
                                "texts": "0a1b"}),
    ]  # fmt: skip
    story.write(tmp_path / "log.db", notes, [story.a_plan()])
    text = said(capsys, tmp_path, "show", "last")
    for line in (
        "alarm A17 raised: Filter is loaded, gauges M",
        "alarm A17 acknowledged: Filter is loaded, by A. B., saying: hose is old",
        "alarm A17 shelved: Filter is loaded, by A. B., for 60 min (waits for a part)",
        "alarm A15 cleared: A row leaks more than it did (B)",
        "bypass begun by C. D.: Someone is signed on (other)",
        "service begun by E. F.",
        "service ended",
        "confirmed by G. H.: the cautions of the shift, texts 0a1b",
    ):
        assert line in text


def test_what_took_the_permit_away_is_told_in_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    gone = story.state("PERMIT", "CHECKING", "unproved", "c-1")
    codes = ["stop_chain_closed", "signed_on"]
    opened = Note("cycle", "c-1", {"change": "opened", "result": None})
    notes = [opened, Note("state", "c-1", {**gone.data, "lacks": codes})]
    story.write(tmp_path / "log.db", [*story.set_up(), *notes], [story.a_plan()])
    said_of = "(unproved: Emergency stop chain is open; Nobody is signed on)"
    assert f"state PERMIT -> CHECKING {said_of}" in said(capsys, tmp_path, "show", "last")


def test_an_alarm_that_the_end_of_the_cut_cleared_is_told_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Of the others it is the cause that is gone."""
    notes = [
        Note("alarm", "c-1", {**story.alarm(code, "cleared", "c-1").data, "cut_over": over})
        for code, over in (("A01", True), ("A05", False), ("A03", False), ("A17", False))
    ]
    opened = Note("cycle", "c-1", {"change": "opened", "result": None})
    story.write(tmp_path / "log.db", [*story.set_up(), opened, *notes], [story.a_plan()])
    text = said(capsys, tmp_path, "show", "last")
    assert "alarm A01 cleared: Hold lost while cutting, not cutting any more\n" in text
    for line in ("A05 cleared: Hold is low while cutting", "A17 cleared: Filter is loaded",
                 "A03 cleared: No valid vacuum value while cutting"):  # fmt: skip
        assert f"{line}\n" in text + "\n"


def test_list_as_json_is_one_object(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = json.loads(said(capsys, data, "list", "--json"))
    assert found["format"] == 1
    (cycle,) = found["cycles"]
    assert (cycle["id"], cycle["lowest_ratio"], cycle["alarms"]) == ("c-1", 1.05, ["A05", "A06"])


def test_list_picks_the_cycles_of_a_site_file(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    site = data / "router.site.toml"
    site.write_text("format = 1\n")
    plan = story.a_plan("d3" * 32, hashlib.sha256(site.read_bytes()).hexdigest())
    story.write(data / "log.db", [story.adopted(plan.digest), *story.cut("c-2")], [plan])
    lines = said(capsys, data, "list", "--site", str(site)).splitlines()[1:]
    assert [line.split()[1] for line in lines] == ["c-2"]


def test_a_log_without_cycles_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    story.write(tmp_path / "log.db", [])
    assert said(capsys, tmp_path, "list") == "No cycles yet.\n"


def test_show_tells_the_whole_record(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = said(capsys, data, "show", "last")
    for words in (
        "SR-210 rev C, Shelf rail, beech", "4 cups up: A1 A2 B1 B2", "slip, tool 3, line 148",
        "Minimum   42.0 kPa; to start 50.3 kPa", "lowest 46.1 kPa, R 105 %", "Cutting   312 s",
        "confirmed: zone A: up A1 A2; down A3",
        "the part page; warnings read: loose_offcut", "contacts: start permit on",
        "state PERMIT -> CUTTING (cycle started)", "alarm A05 raised", "alarm A05 cleared",
        "limit 1.07", "cycle closed: done",
    ):  # fmt: skip
        assert words in text


def test_show_draws_the_trace_between_its_levels(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """70 kPa in ten rows of 7: required 44.0 lies in 42..49, start 50.3 in 49..56, 60.0 above."""
    lines = said(capsys, data, "show", "c-1").splitlines()
    rows = {line.split("|")[0].strip(): line for line in lines if line.count("|") == 2}
    assert list(rows) == ["63", "56", "49", "42", "35", "28", "21", "14", "7", "0"]
    assert rows["42"].endswith("| required")
    assert rows["49"].endswith("| start")
    assert "#" in rows["56"]
    assert "#" not in rows["63"]
    assert "?" in rows["0"]


def test_show_as_json_has_plan_events_and_trace(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = json.loads(said(capsys, data, "show", "1", "--json"))
    assert found["plan"] == json.loads(story.a_plan().to_json())
    assert [event["kind"] for event in found["events"]] == [n.kind for n in story.cut("c-1")]
    assert max(c["high_kpa"] or 0 for c in found["traces"]["table"]) == 60.0


def test_export_of_cycles_is_a_table_with_a_head(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = list(csv.DictReader(io.StringIO(said(capsys, data, "export", "cycles"))))
    assert [(r["id"], r["minimum_kpa"], r["alarms"]) for r in rows] == [("c-1", "42.0", "A05 A06")]


def test_export_of_events_has_their_data_as_json(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = said(capsys, data, "export", "events", "--cycle", "1")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert [json.loads(row["data"]) for row in rows] == [dict(n.data) for n in story.cut("c-1")]


def test_export_of_events_has_the_chain(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each names the hash of the one before it; the last is the link that is noted."""
    rows = list(csv.DictReader(io.StringIO(said(capsys, data, "export", "events"))))
    before = {int(row["number"]): row["hash"] for row in rows}
    linked = [row for row in rows if int(row["number"]) - 1 in before]
    assert len(linked) > 5
    assert all(row["previous"] == before[int(row["number"]) - 1] for row in linked)
    assert f"Newest link: {rows[-1]['hash']}" in said(capsys, data, "verify")


def test_export_of_a_trace_has_every_sample(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = said(capsys, data, "export", "trace", "--cycle", "c-1")
    rows = list(csv.DictReader(io.StringIO(out)))
    values = [row["vacuum_kpa"] for row in rows]
    assert values == [""] * 40 + [str(min(60.0, float(k))) for k in range(40, 200)]
    assert {row["channel"] for row in rows} == {"table"}


def test_export_makes_a_new_file_and_never_writes_over_one(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = data / "cycles.csv"
    assert said(capsys, data, "export", "cycles", "--out", str(out)) == f"1 rows written to {out}\n"
    before = out.read_bytes()
    assert before.count(b"\r\n") == 2  # RFC 4180
    assert main(["log", "export", "cycles", "--data", str(data), "--out", str(out)]) == 2
    assert "name a new file" in capsys.readouterr().err
    assert out.read_bytes() == before


@pytest.mark.parametrize(
    ("cell", "written"),
    [
        ("=1+1", "'=1+1"), ("+1", "'+1"), ("-1", "'-1"), ("@SUM(A1)", "'@SUM(A1)"),
        ("\t=1", "'\t=1"), ("\r=1", "'\r=1"), (-0.02, "-0.02"), (None, ""), ("A-1", "A-1"),
    ],
)  # fmt: skip
def test_a_cell_that_a_spreadsheet_would_run_is_made_text(cell: object, written: str) -> None:
    """The list of characters: OWASP, "CSV Injection"."""
    assert str(guarded(cell)) == written


def test_cells_with_commas_quotes_and_lines_come_back() -> None:
    cells = ["a,b", 'say "x"', "two\nlines"]
    out = io.StringIO()
    assert write([["a", "b", "c"], cells], out) == 1
    assert list(csv.reader(io.StringIO(out.getvalue(), newline="")))[1] == cells


def test_verify_says_that_everything_fits_and_what_to_note(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = said(capsys, data, "verify")
    assert "each as it was written" in text
    assert ", 1 cycle, " in text
    assert " events, " in text
    assert sqlite3.sqlite_version in text
    noted = text.split("Newest link: ")[1][:8]
    assert "each as it was written" in said(capsys, data, "verify", "--noted", noted)


def test_verify_names_a_changed_record_and_exits_1(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with closing(sqlite3.connect(data / "log.db", isolation_level=None)) as db:
        db.execute("DROP TRIGGER event_is_kept_as_written")
        db.execute("UPDATE event SET data = '{}' WHERE kind = 'output'")
    # opened, plan kept, four notes of the set-up, then the fourth of the cycle
    assert "does not fit: event 10 (cycle c-1)" in said(capsys, data, "verify", status=1)
    found = json.loads(said(capsys, data, "verify", "--json", status=1))
    assert found["broken"]["record"] == "event 10 (cycle c-1)"


@pytest.mark.parametrize("words", [["show", "1"], ["export", "trace", "--cycle", "1"]])
def test_a_damaged_trace_is_one_clear_message_and_exit_2(
    words: list[str], data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with closing(sqlite3.connect(data / "log.db", isolation_level=None)) as db:
        db.execute("UPDATE tail SET data = x'0102'")
    assert main(["log", *words, "--data", str(data)]) == 2
    assert "a trace block is damaged" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["show", "c-9"], "no cycle 'c-9' in it"),
        (["export", "trace"], "name the cycle of the trace"),
        (["export", "cycles", "--cycle", "1"], "--cycle: does not go with cycles"),
        (["export", "events", "--site", "x"], "--site: does not go with events"),
        (["list", "--site", "no-such.toml"], "no-such.toml: cannot be read"),
    ],
)
def test_a_wrong_word_is_one_clear_message_and_exit_2(
    words: list[str], message: str, data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["log", *words, "--data", str(data)]) == 2
    assert message in capsys.readouterr().err


def test_a_folder_that_is_not_there_is_said_and_not_made(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "nowhere"
    assert main(["log", "list", "--data", str(folder)]) == 2
    assert "is no folder" in capsys.readouterr().err
    assert not folder.exists()


@pytest.mark.parametrize("text", ["0", "-1", "x", "1.5"])
def test_a_limit_is_a_whole_number(text: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["log", "list", f"--limit={text}"])
    assert ended.value.code == 2
    assert "whole number of at least 1" in capsys.readouterr().err


def test_a_reader_that_closes_early_is_no_trouble(data: Path) -> None:
    command = [sys.executable, "-m", "kiosk", "log", "export", "events", "--data", str(data)]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    read_end, write_end = os.pipe()
    os.close(read_end)
    with os.fdopen(write_end, "wb") as closed:
        done = subprocess.run(command, stdout=closed, stderr=subprocess.PIPE, env=environment,
                              check=False, timeout=30)  # fmt: skip
    assert (done.returncode, done.stderr) == (0, b"")
