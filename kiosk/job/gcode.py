"""Reads an NC program (ISO 6983, RS-274) as a Program, or says what cannot be read and where.

Files follow one main program, from the first line to M2, M30 or the next O word, and the local
subprograms after it.  Metric, plane XY and absolute until the file says otherwise; each thing so
taken is named in ``Program.assumed``.  What is not understood is refused, never guessed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

from kiosk.job import gcode_codes as codes
from kiosk.job.gcode_block import carry_out, changes_cut
from kiosk.job.gcode_lexer import Block, Refused, code_of, read_block, split_lines, whole
from kiosk.job.gcode_state import State, TooMuch, set_origin, target
from kiosk.job.program import Move, Program, Xyz, program_of
from kiosk.mistakes import BadInput, Mistake

MOST_MISTAKES = 20
MOST_CALLS_DEEP = 10
MOST_REPEATS = 9999
MOST_REPEATED_LINES = 200_000
PROGRESS_LINES = 4096


class _Enough(Exception):
    """Reading stops early: the list of mistakes is full, or the program grows without end."""


@dataclass(slots=True)
class _Reading:
    """One file being read.  ``labels`` and ``begin``, ``end`` are indices into ``lines``."""

    file: str
    lines: list[str]
    state: State
    progress: Callable[[float], None] | None
    others: codes.OtherCodes
    begin: int = 0
    end: int = 0
    closed: bool = False  # a second % was met
    labels: dict[int, int] = field(default_factory=dict)
    cache: dict[int, Block | None] = field(default_factory=dict)
    mistakes: dict[tuple[int, str], Mistake] = field(default_factory=dict)
    executed: int = 0
    depth: int = 0

    def wrong(self, line: int, text: str) -> None:
        """Keep one mistake; the same words on the same line count once."""
        self.mistakes.setdefault((line, text), Mistake(self.file, line, text))
        if len(self.mistakes) >= MOST_MISTAKES:
            raise _Enough


def read_program(
    text: str,
    file: str,
    offsets: Mapping[int, Xyz],
    progress: Callable[[float], None] | None = None,
    others: codes.OtherCodes = codes.NO_OTHERS,
) -> Program:
    """The motion of a program, mm from the zero of G54.

    ``offsets`` has the zeros of G55 to G59 by number, mm from the zero of G54.  ``progress`` is
    called now and then with the share read, 0 to 1.  ``others``: codes to pass over.  Raises
    BadInput with every mistake and its line, at most 20.
    """
    state = State({54: (0.0, 0.0, 0.0), **offsets})
    set_origin(state)
    reading = _Reading(file, split_lines(text), state, progress, others)
    try:
        _survey(reading)
        ended = _run_main(reading)
        _refuse_standing(reading)
    except _Enough:
        ended = True
    if reading.mistakes:
        raise BadInput(_told(reading))
    if not ended and not reading.closed:
        state.assume("the end of the file as the end of the program, without M2 or M30")
    return _finished(reading)


def _told(reading: _Reading) -> list[Mistake]:
    """The mistakes by their lines; one alone for a file of which no line can be read."""
    found = sorted(reading.mistakes.values(), key=lambda wrong: wrong.line or 0)
    if reading.executed or len(found) < MOST_MISTAKES:
        return found
    text = f"{found[0].text}; none of the lines so far can be read: is it an NC program?"
    return [Mistake(reading.file, found[0].line, text)]


def _refuse_standing(reading: _Reading) -> None:
    """Cuts by a spindle that stands, in a program that elsewhere starts it."""
    if reading.state.turned:
        for line in reading.state.standing:
            reading.wrong(line, "a cut while the spindle stands: write M3, or M4, before it")


def _finished(reading: _Reading) -> Program:
    state = reading.state
    moves = state.moves
    if state.selected and not state.changed:
        state.assume("T as the tool change, without M6")
        moves = _changed_by_t(moves, state.selected)
    program = replace(
        program_of(moves, tuple(state.assumed), state.dwell_s),
        never_turned=not state.turned,
        optional_lines=tuple(state.optional),
    )
    if program.min_mm is None:
        text = "the program cuts nothing: check that the whole file is there"
        raise BadInput([Mistake(reading.file, None, text)])
    return program


def _changed_by_t(moves: list[Move], selected: list[tuple[int, int]]) -> list[Move]:
    """The moves with the tool of the last T before each."""
    changed = moves[: selected[0][0]]
    ends = [first for first, _ in selected[1:]] + [len(moves)]
    for (first, tool), end in zip(selected, ends, strict=True):
        changed += [replace(move, tool=tool or None) for move in moves[first:end]]
    return changed


def _survey(reading: _Reading) -> None:
    """Find the part between % signs and the O words."""
    reading.end = len(reading.lines)
    seen = False
    for index, raw in enumerate(reading.lines):
        if "%" in raw and _is_percent(reading, raw, index):
            if seen:
                reading.end, reading.closed = index, True
                return
            reading.begin = index + 1
        elif "O" in raw or "o" in raw or ":" in raw:
            _find_label(reading, raw, index)
        seen = seen or bool(raw and not raw.isspace() and _says_something(raw))


def _says_something(raw: str) -> bool:
    try:
        return bool(code_of(raw).strip("%"))
    except Refused:
        return True


def _is_percent(reading: _Reading, raw: str, index: int) -> bool:
    try:
        code = code_of(raw)
    except Refused:
        return False  # told when the line is read
    if not code.startswith("%"):
        return False
    if code[1:] and not code[1:].isdigit():
        reading.wrong(index + 1, "% stands alone on its line: put the rest on the next one")
    return True


def _find_label(reading: _Reading, raw: str, index: int) -> None:
    try:
        block = read_block(raw, index + 1)
    except Refused:
        return  # told when the line is read
    if block is None or block.label is None:
        return
    if block.label in reading.labels:
        first = reading.labels[block.label] + 1
        reading.wrong(index + 1, f"O{block.label} is there twice, first on line {first}: keep one")
    reading.labels[block.label] = index


def _run_main(reading: _Reading) -> bool:
    """Run the main program.  True when it ended by M2 or M30."""
    begun, total = False, max(1, len(reading.lines))
    for index in range(reading.begin, reading.end):
        if reading.progress is not None and index % PROGRESS_LINES == 0:
            reading.progress(index / total)
        block = _read(reading, index)
        if block is None:
            continue
        if block.label is not None and begun:
            break
        begun = True
        if codes.RETURN in block.m:
            reading.wrong(index + 1, "M99 outside a subprogram: end the main program with M30")
            return False
        if _do(reading, block):
            return True
    return False


def _read(reading: _Reading, index: int) -> Block | None:
    try:
        return read_block(reading.lines[index], index + 1)
    except Refused as why:
        reading.wrong(index + 1, str(why))
        return None


def _do(reading: _Reading, block: Block) -> bool:
    """Carry out one block, with its calls.  True when the program ends."""
    reading.executed += 1
    if reading.executed > len(reading.lines) + MOST_REPEATED_LINES:
        _stop(reading, block.line, f"calls repeat more than {MOST_REPEATED_LINES} lines: split it")
    block = _without_others(reading, block)
    if block.optional and changes_cut(block):
        reading.state.optional.setdefault(block.line)
    elif block.optional:
        reading.state.assume("lines that start with / are carried out")
    try:
        carry_out(reading.state, block)
        if codes.CALL in block.m and _call(reading, block):
            return True
    except Refused as why:
        reading.wrong(block.line, str(why))
        _stand_at_end(reading.state, block)
    except TooMuch as why:
        _stop(reading, block.line, str(why))
    return not codes.ENDS.isdisjoint(block.m)


def _without_others(reading: _Reading, block: Block) -> Block:
    """The block without the codes to pass over; each is named once as taken so."""
    others = reading.others
    names = [codes.g_name(code) for code in block.g if code in others.g]
    names += [f"M{code}" for code in block.m if code in others.m]
    for name in names:
        reading.state.assume(f"{name} as a code that changes no cut, by the site file")
    if not names:
        return block
    return replace(
        block,
        g=tuple(code for code in block.g if code not in others.g),
        m=tuple(code for code in block.m if code not in others.m),
        other=names[0],
    )


def _stop(reading: _Reading, line: int, text: str) -> None:
    reading.wrong(line, text)
    raise _Enough


def _stand_at_end(state: State, block: Block) -> None:
    """After a refused line go on from its end point, so that later lines are judged fairly."""
    try:
        end = target(state, block.words)
    except Refused:
        return
    state.at_mm = (end[0], end[1], end[2])
    state.placed = [True, True, True]
    state.off.clear()


def _call(reading: _Reading, block: Block) -> bool:
    """M98: run a subprogram of the file.  True when the program ends in it."""
    if "P" not in block.words:
        raise Refused("M98 needs P, the number of a subprogram: add it")
    number, repeats = _called(reading, whole(block.words["P"], "P"), block.words.get("L"))
    if not 1 <= repeats <= MOST_REPEATS:
        raise Refused(f"L{repeats} is no count of calls: write 1 to {MOST_REPEATS}")
    if reading.depth >= MOST_CALLS_DEEP:
        _stop(reading, block.line, f"calls go more than {MOST_CALLS_DEEP} deep: O{number}")
    reading.depth += 1
    ended = any(_run_sub(reading, number) for _ in range(repeats))
    reading.depth -= 1
    return ended


def _called(reading: _Reading, asked: int, count: float | None) -> tuple[int, int]:
    """Number and repeats of a call: P1000 L3, or P31000 where no O31000 stands in the file."""
    if asked in reading.labels:
        return asked, 1 if count is None else whole(count, "L")
    if asked >= 10_000 and asked % 10_000 in reading.labels and count is None:
        return asked % 10_000, asked // 10_000
    raise Refused(f"subprogram O{asked} is not in the file: add it, or check P")


def _run_sub(reading: _Reading, number: int) -> bool:
    """Run a subprogram once, to its M99.  True when the program ends in it."""
    first = reading.labels[number]
    for index in range(first, reading.end):
        if index not in reading.cache:
            reading.cache[index] = _read(reading, index)
        block = reading.cache[index]
        if block is None:
            continue
        if block.label is not None and index != first:
            break
        if _do(reading, block):
            return True
        if codes.RETURN in block.m:
            return False
    raise Refused(f"subprogram O{number} has no M99: end it with M99")
