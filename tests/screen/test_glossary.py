"""The words on the screen are those of docs/words.md: one word for each thing."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from kiosk.interlock.states import Flag, State
from kiosk.words import load

WORDS = load()
TEXT = (Path(__file__).resolve().parents[2] / "docs" / "words.md").read_text(encoding="utf-8")
ON_PAPER = "sheet."  # the job sheet is read by others too
GUARDS = ("machine's guards", "machine guards", "guards closed", "guards, emergency stop")


def table(heading: str) -> list[tuple[str, str]]:
    """First two columns of the table below a heading."""
    part = TEXT.split(f"## {heading}\n")[1].split("\n## ")[0]
    rows = [line.strip("| ").split("|") for line in part.splitlines() if line.startswith("|")]
    return [(row[0].strip(), row[1].strip()) for row in rows[2:]]


NOT_USED = [word.strip() for words, _ in table("Words not used") for word in words.split(",")]


def found(word: str, said: str) -> bool:
    """Whether a word, or its plural, is said."""
    return re.search(rf"\b{word}s?\b", said) is not None


def test_the_table_of_words_not_used_is_read() -> None:
    assert len(NOT_USED) >= 15
    assert found("sensor", "two sensors")
    assert not found("order", "in the border")


@pytest.mark.parametrize("word", NOT_USED)
def test_no_word_stands_on_the_screen_that_the_glossary_replaces(word: str) -> None:
    for key, said in WORDS.rows.items():
        plain = said.lower()
        for of_the_machine in GUARDS:
            plain = plain.replace(of_the_machine, "")
        assert key.startswith(ON_PAPER) or not found(word, plain), (key, said)


def test_every_word_used_instead_is_on_the_screen() -> None:
    every = " ".join(WORDS.rows.values()).lower()
    instead = {word.strip() for _, words in table("Words not used") for word in words.split(",")}
    assert {word for word in instead if not found(word, every)} == set()


def test_the_glossary_gives_every_state_to_one_screen() -> None:
    part = TEXT.split("## The screens")[1]
    rows = [line.split("|")[3] for line in part.splitlines() if line.count("|") == 4]
    named = [word.strip() for row in rows[2:] for word in row.split(",")]
    assert sorted(named) == sorted(state.value for state in State)


def test_flags_that_the_glossary_names_exist() -> None:
    said = dict(table("The decision"))["flag"]
    named = re.findall(r"[A-Z]{2,}(?: [A-Z]{2,})*", said)
    assert named
    assert set(named) <= {flag.value for flag in Flag}
