"""Text of an NC program to blocks: one line, its words, its G and M codes.

Knows the shape of a line (RS274/NGC, NISTIR 6556, section 3.3; ISO 6983-1), not what a code does.
Comments stand in parentheses, which may nest, or run from ``;`` to the end of the line.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

_NUMBER = r"[+-]?(?:[0-9]{1,9}+(?:\.[0-9]*+)?|\.[0-9]++)"
_WORD = re.compile(rf"([A-Z])({_NUMBER})")
_WHOLE = re.compile(rf"(?:[A-Z]{_NUMBER})*+")
_LABEL = re.compile(r"(?:N[0-9]{1,9})?[O:]([0-9]{1,9})")
_NUMBERED = re.compile(r"N[0-9]{1,9}(?![0-9.])")
_COMMENT = re.compile(r"\([^()]*+\)")  # one without another in it
_NEWLINE = re.compile(r"\r\n|\n|\r")
_AFTER_THE_END = re.compile(r"[\x00\x1a][\x00\x1a\s]*\Z")
_BLANKS = str.maketrans("", "", " \t")
# A word with the letter O in its number, as it is written: XO, Y2O., F3OOO; not GOTO.
_O_FOR_ZERO = re.compile(r"(?<![A-Z])[FGHIJKLMPQRSXYZ][+-]?[0-9.]*O[O0-9.]*(?![A-Z0-9.])")
_LAST_WORD = re.compile(rf"[A-Z]{_NUMBER}$")
_SHOWN = 16  # characters of a word that cannot be read


class Refused(Exception):
    """A line cannot be read; the text says why and what to write instead."""


@dataclass(frozen=True, slots=True)
class Block:
    """One line.  ``g`` in tenths (G91.1 is 911), ``words`` by letter, as written.

    ``label`` is the number of an O word, ``optional`` says that the line starts with ``/``;
    ``other`` names a code that was passed over, if there was one.
    """

    line: int
    g: tuple[int, ...]
    m: tuple[int, ...]
    words: dict[str, float]
    label: int | None = None
    optional: bool = False
    other: str = ""


def split_lines(text: str) -> list[str]:
    """Lines at CR LF, LF or CR, as an editor counts them.

    A byte order mark is dropped, and what a tape or an old disk has around the text: NUL before
    it, NUL and Ctrl-Z behind it (common practice, no source).
    """
    text = text.removeprefix("\ufeff").lstrip("\x00")
    return _NEWLINE.split(_AFTER_THE_END.sub("", text))


def code_of(raw: str) -> str:
    """The line in capitals without comments and blanks.  Raises Refused."""
    if "(" in raw or ";" in raw or ")" in raw:
        raw = _without_comments(raw)
    code = raw.translate(_BLANKS)
    if not code.isascii():
        odd = next(letter for letter in code if not letter.isascii())
        raise Refused(f"{odd!r} is no NC character: put it in a comment or take it out")
    return code.upper()


def _without_comments(raw: str) -> str:
    if ";" not in raw:
        raw = _COMMENT.sub("", raw)  # most lines have no other
        if "(" not in raw and ")" not in raw:
            return raw
    depth, kept = 0, []
    for letter in raw:
        if letter == "(":
            depth += 1
        elif letter == ")":
            depth -= 1
        elif letter == ";" and depth == 0:
            break
        elif depth == 0:
            kept.append(letter)
        if depth < 0:
            raise Refused("a ) without its (: remove it or open the comment")
    if depth:
        raise Refused("a comment is not closed: add )")
    return "".join(kept)


def read_block(raw: str, line: int) -> Block | None:
    """The block of a line, or None when it says nothing.  Raises Refused."""
    whole_code = code = code_of(raw)
    optional = code.startswith("/")
    if optional:
        code = code[2:] if code[1:2].isdigit() else code[1:]
    label = None
    if "O" in code or ":" in code:
        label, code = _label(code)
    if code.startswith("N"):
        code = _without_number(code)
    if not code:
        return None if label is None else Block(line, (), (), {}, label, optional)
    if "O" in code or not _WHOLE.fullmatch(code):
        raise Refused(_why_unread(raw, len(whole_code) - len(code)))
    return _block(_WORD.findall(code), line, label, optional)


def _label(code: str) -> tuple[int | None, str]:
    found = _LABEL.match(code)
    return (None, code) if found is None else (int(found[1]), code[found.end() :])


def _without_number(code: str) -> str:
    found = _NUMBERED.match(code)
    if found is None:
        raise Refused("N is no line number: write N and up to nine digits")
    return code[found.end() :]


def _block(pairs: list[tuple[str, str]], line: int, label: int | None, optional: bool) -> Block:
    g: list[int] = []
    m: list[int] = []
    words: dict[str, float] = {}
    for letter, digits in pairs:
        if letter == "G":
            g.append(_g_tenths(digits))
        elif letter == "M":
            m.append(whole(float(digits), "M"))
        elif letter in words:
            raise Refused(f"{letter} stands twice on the line: keep one")
        else:
            words[letter] = float(digits)
    return Block(line, tuple(g), tuple(m), words, label, optional)


@lru_cache(maxsize=1024)
def _g_tenths(digits: str) -> int:
    tenths = float(digits) * 10.0
    if tenths < 0.0 or abs(tenths - round(tenths)) > 1e-3:
        raise Refused(f"G{digits} is no known code: remove it or post for ISO 6983 codes")
    return round(tenths)


def whole(value: float, letter: str) -> int:
    """A whole number that is not negative, for codes and counts.  Raises Refused."""
    if value < 0.0 or abs(value - round(value)) > 1e-4:  # 1e-4: RS274/NGC section 3.3.2.1
        raise Refused(f"{letter}{value:g} must be a whole number, 0 or more")
    return round(value)


def _why_unread(raw: str, begin: int) -> str:
    """What is wrong with the first part of a line that is no word, or with an O inside it.

    ``begin``: where words begin in the code of the line, after a label and a line number.
    """
    code = code_of(raw)[begin:]
    zero = _O_FOR_ZERO.search(_as_written(raw))
    if zero is not None:
        return f"{zero[0][:_SHOWN]} cannot be read: write the digit 0 in place of the letter O"
    end = _end_of_words(code)
    if end == len(code):
        return "O does not belong here: a program's number stands first on its line"
    rest = code[end:]
    if any(sign in code for sign in "#[]=*") or rest.startswith("<"):
        return "variables and expressions are not worked out: post the program with plain numbers"
    before = _LAST_WORD.search(code[:end])
    first = end if before is None else before.start()
    return _why_no_word(rest, *_word_at(raw, begin + end, begin + first))


def _why_no_word(rest: str, before: str, after: str) -> str:
    """``rest``: of the code; ``before`` and ``after`` as ``_word_at`` gives them."""
    word, first = before + after, rest[0]
    if first.isalpha() and after[1:2].isalpha() and not before:
        return f"{word!r} is no NC word: macro statements are not read, post plain moves"
    if first.isalpha():
        inside = "" if word == first else f" in {word}"
        return f"{first} has no number{inside}: write one, such as {first}10, or take it out"
    if first.isdigit() and not before:
        return f"{word} stands without its letter: write one before it, or take it out"
    if first.isdigit():
        return f"{word} has more than nine digits before the point: check it"
    if first in ".," and before:
        return f"{word} cannot be read: write one number with one point"
    return f"{first!r} does not belong here: remove it, or put it in a comment"


def _as_written(raw: str) -> str:
    """The line in capitals with its blanks, without comments."""
    return _without_comments(raw).upper().replace("\t", " ")


def _word_at(raw: str, at: int, first: int) -> tuple[str, str]:
    """What a person wrote before and after place ``at`` of the line's code, within one word.

    Before: from ``first``, or nothing where a blank is between; after: to the next blank.
    """
    text = _as_written(raw)
    spots = [spot for spot, letter in enumerate(text) if letter != " "]
    before = text[spots[first] : spots[at]]
    after = text[spots[at] :].split(" ", 1)[0]
    return "" if " " in before else before, after[:_SHOWN]


def _end_of_words(code: str) -> int:
    found = _WHOLE.match(code)
    return 0 if found is None else found.end()
