"""The people file: whole, for its owner alone, and every damage said in one message."""

from __future__ import annotations

import json
import os
import stat
from pathlib import Path

import pytest
from people_made import everyone

from kiosk.mistakes import BadInput
from kiosk.people import store
from kiosk.people.person import People


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return store.people_file(tmp_path)


def test_what_is_written_is_read_again_and_is_for_its_owner_alone(path: Path) -> None:
    store.write(path, everyone())
    assert store.read(path) == everyone()
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert os.listdir(path.parent) == [path.name]


def test_no_file_means_no_people(path: Path) -> None:
    assert store.read(path) is None


@pytest.mark.parametrize("mode", [0o640, 0o604, 0o620])
def test_a_file_that_others_may_read_or_change_is_refused(path: Path, mode: int) -> None:
    store.write(path, everyone())
    path.chmod(mode)
    with pytest.raises(BadInput, match="others may read or change it: say chmod 600"):
        store.read(path)


@pytest.mark.parametrize(
    "damage",
    [
        lambda row: row.update(format=2),
        lambda row: row.update(persons=3),
        lambda row: row.update(salt="xyz"),
        lambda row: row["persons"].append(row["persons"][0]),
        lambda row: row["persons"][0].update(role="owner"),
        lambda row: row["persons"][0].update(name=""),
        lambda row: row["persons"][0].update(name="A" * 25),
        lambda row: row["persons"][0].update(name="A\x1b[2J"),
        lambda row: row["persons"][0].update(pin="not hex"),
        lambda row: row["persons"][0].pop("mark"),
        lambda row: row["persons"][0].update(badge=7),
        lambda row: row.update(more=1),
    ],
)
def test_a_damaged_file_is_refused_in_one_message(path: Path, damage: object) -> None:
    store.write(path, everyone())
    row = json.loads(path.read_text())
    damage(row)  # type: ignore[operator]
    path.write_text(json.dumps(row))
    with pytest.raises(BadInput) as told:
        store.read(path)
    assert str(told.value).count("\n") == 0
    assert "people.json: is damaged" in str(told.value)


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b"\xff\xfe", b"[" * 100_000, b"NaN"])
def test_what_is_no_people_file_is_refused(path: Path, content: bytes) -> None:
    path.write_bytes(content)
    path.chmod(0o600)
    with pytest.raises(BadInput, match="is damaged"):
        store.read(path)


def test_a_write_that_fails_leaves_the_old_file(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store.write(path, everyone())
    before = path.read_bytes()

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        store.write(path, People(everyone().salt))
    assert path.read_bytes() == before
    assert os.listdir(path.parent) == [path.name]


def test_wrong_tries_are_kept_and_a_damaged_file_of_them_is_told(tmp_path: Path) -> None:
    path = store.tries_file(tmp_path)
    assert store.read_tries(path) == {}
    store.write_tries(path, {"m": 4})
    assert store.read_tries(path) == {"m": 4}
    for content in ("{", "[]", '{"m": "4"}', '{"m": -1}', '{"m": true}'):
        path.write_text(content)
        with pytest.raises(ValueError, match=r"."):
            store.read_tries(path)
