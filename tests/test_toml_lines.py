"""Lines of TOML keys, against a text whose lines are counted by hand."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.mistakes import BadInput
from kiosk.toml_lines import Comment, Table, comments_of, lines_of, read_toml, toml_from

TEXT = '''\
format = 1                      # 1
"quoted.key" = "# no comment"   # 2
words = """
[not.a.table]
x = 2
""""                            # 6
path.to.it = 'it''s'
loop = [
    [0.0, 1.0], # 9 ] [
    [
      2.0,
      3.0 ],
]
[table]                         # 14
inline = { a = 1, b = { c = "}" } }
[[row]]                         # 16
n = 1
[row.inner]
x = 1
[[row]]                         # 20

n = 2
when = 1979-05-27T07:32:00Z
'''.replace("it''s", "its").replace('""""', '"""')

LINES = {
    ("format",): 1,
    ("quoted.key",): 2,
    ("words",): 3,
    ("path", "to", "it"): 7,
    ("path",): 7,
    ("loop",): 8,
    ("loop", 0): 9,
    ("loop", 0, 1): 9,
    ("loop", 1): 10,
    ("loop", 1, 0): 11,
    ("loop", 1, 1): 12,
    ("table",): 14,
    ("table", "inline"): 15,
    ("table", "inline", "b", "c"): 15,
    ("row", 0): 16,
    ("row", 0, "n"): 17,
    ("row", 0, "inner"): 18,
    ("row", 0, "inner", "x"): 19,
    ("row", 1): 20,
    ("row", 1, "n"): 22,
    ("row", 1, "when"): 23,
}


@pytest.mark.parametrize(("where", "line"), sorted(LINES.items(), key=str))
def test_every_key_has_its_line(where: tuple[str | int, ...], line: int) -> None:
    assert tomllib.loads(TEXT)["format"] == 1
    assert lines_of(TEXT)[where] == line


def test_comments_are_told_from_what_only_looks_like_one() -> None:
    """TOML 1.0: a hash starts a comment, except inside a string."""
    text = TEXT + "  # alone\nlast = '#' # beside\r\n#"
    assert comments_of(text) == [
        *(Comment(line, str(line), False) for line in (1, 2, 6)),
        Comment(9, "9 ] [", False),
        *(Comment(line, str(line), False) for line in (14, 16, 20)),
        Comment(24, "alone", True),
        Comment(25, "beside", False),
        Comment(26, "", True),
    ]


def test_windows_line_ends_and_a_byte_order_mark_change_no_line(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_bytes(b"\xef\xbb\xbf" + TEXT.replace("\n", "\r\n").encode())
    file = read_toml(path)
    assert {where: file.line(where) for where in LINES} == LINES


KEYS = st.text("abcdefgh_-", min_size=1, max_size=6)
VALUES = st.recursive(
    st.integers(-9, 9) | st.booleans() | st.just('"]},#"') | st.just("'\"'"),
    lambda inner: st.lists(inner, max_size=3).map(
        lambda items: "[" + ", ".join(str(i).lower() for i in items) + "]"
    ),
    max_leaves=5,
)


@given(st.dictionaries(KEYS, VALUES, max_size=8))
def test_keys_one_a_line_are_found_on_their_lines(rows: dict[str, object]) -> None:
    text = "\n".join(f"{key} = {str(value).lower()} # [x]" for key, value in rows.items())
    tomllib.loads(text)
    lines = lines_of(text)
    assert {key: lines[key,] for key in rows} == {key: n for n, key in enumerate(rows, 1)}


@pytest.mark.parametrize(
    ("content", "line", "words"),
    [
        (b"a = 1\nb = \n", 2, "invalid value"),
        (b"a = 1\na = 2\n", 2, "cannot overwrite"),
        (b"a = 1\nb = [1, 2\n", 2, "unclosed array"),
        (b'a = 1\n\nb = "caf\xe9"\n', 3, "not UTF-8"),
        (b"a = " + b"[" * 5000, None, ""),
    ],
)
def test_a_syntax_mistake_is_told_with_its_line(
    content: bytes, line: int | None, words: str
) -> None:
    with pytest.raises(BadInput) as caught:
        toml_from(content, Path("x.toml"), "x.toml")
    (mistake,) = caught.value.mistakes
    assert line in (None, mistake.line)
    assert words in mistake.text
    assert "\n" not in str(mistake)


@pytest.mark.parametrize("kind", ["missing", "folder"])
def test_a_file_that_cannot_be_read_is_one_message(tmp_path: Path, kind: str) -> None:
    path = tmp_path / "x.toml"
    if kind == "folder":
        path.mkdir()
    with pytest.raises(BadInput, match=r"^x\.toml: (there is no such file|this is a folder)"):
        read_toml(path)


def test_a_misspelt_key_is_told_once_where_it_stands() -> None:
    table = Table(toml_from(b"\nlenght_mm = 3.0\n", Path("x.toml"), "x.toml"))
    table.number("length_mm", 0.0, 10.0)
    table.done()
    told = [str(mistake) for mistake in table.mistakes]
    assert told == ['x.toml:2: unknown key "lenght_mm": write "length_mm"']


def test_a_misspelt_key_does_not_hide_another_that_is_missing() -> None:
    """Two wrong keys near the same one: both are told; a key near none hides nothing."""
    table = Table(toml_from(b"lenght_mm = 3.0\nlength_m = 3.0\n", Path("x.toml"), "x.toml"))
    table.number("length_mm", 0.0, 10.0)
    table.number("bore_mm", 0.0, 10.0)
    table.done()
    told = [str(mistake) for mistake in table.mistakes]
    assert sorted(told) == [
        'x.toml: "bore_mm" is missing in the file: add bore_mm = a number from 0 to 10',
        'x.toml:1: unknown key "lenght_mm": write "length_mm"',
        'x.toml:2: unknown key "length_m": write "length_mm"',
    ]


def test_a_misspelt_table_is_told_once() -> None:
    table = Table(toml_from(b"[grit]\na = 1\n", Path("x.toml"), "x.toml"))
    assert table.table("grid") is None
    table.done()
    assert [str(m) for m in table.mistakes] == ['x.toml:1: unknown key "grit": write "grid"']


@pytest.mark.parametrize("word", ["MDF", "Mdf", " mdf ", "mfd", "Birch plywood", "birch-plywod"])
def test_a_wrong_word_is_answered_with_the_one_that_was_meant(word: str) -> None:
    meant = "birch_plywood" if "irch" in word else "mdf"
    table = Table(toml_from(f'material = "{word}"'.encode(), Path("x.toml"), "x.toml"))
    table.choice("material", ("beech", "birch_plywood", "mdf", "pmma"))
    (told,) = table.mistakes
    assert told.text.endswith(f'write "{meant}"')
