"""Sheets over the screen: alarms, conditions of the permit, causes, job and words."""

from __future__ import annotations

from kivy.properties import ObjectProperty
from kivy.uix.widget import Widget

from kiosk.screen import theme
from kiosk.screen.show.shown import AlarmRow, Button, Overlay
from kiosk.screen.widgets.keypad import KeypadBox
from kiosk.screen.widgets.marks import PriorityMark
from kiosk.screen.widgets.panel import Surface
from kiosk.screen.widgets.record import RecordBox
from kiosk.screen.widgets.rows import Grid, Rows
from kiosk.screen.widgets.text import Text, line_px, wrap
from kiosk.screen.widgets.touch_button import TouchButton

ALARMS = 2
BUTTONS = 3
LINES = 4
GRIDS = ("causes", "people", "cycles")
FACTS_SHARE = 0.45  # of the width: the facts of a cycle, beside its trace
FEW = 4  # tiles that stand two by two
HEAD_MM = 6.0
LARGEST_MM = 3.9


class AlarmLine(Surface):
    """One alarm: shape, title, what to do, facts, and its own place to touch."""

    shown = ObjectProperty(AlarmRow("", 0, "", "", "", None))
    __events__ = ("on_act",)

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self._mark = PriorityMark(ground=theme.WHITE)
        self._title = Text(bold=True, cap=5.2, most_lines=1)
        self._text = Text(cap=theme.BODY_MM + 0.2)
        self._facts = Text(cap=theme.SMALL_MM, tone=theme.SOFT, most_lines=1)
        self.button = TouchButton()
        self.button.bind(on_act=lambda _, shown: self.dispatch("on_act", shown))
        for child in (self._mark, *self.texts, self.button):
            self.add_widget(child)
        self.fill = theme.WHITE
        self.bind(shown=self._set, pos=self._arrange, size=self._arrange)

    def on_act(self, button):
        """Override or bind."""

    @property
    def texts(self):
        """Every block of words."""
        return [self._title, self._text, self._facts]

    def _set(self, *_):
        row = self.shown
        self._mark.priority = row.priority
        self._mark.hollow = row.seen
        self.fill = theme.PAPER if row.shelved else theme.WHITE
        self._title.words, self._text.words, self._facts.words = row.title, row.text, row.facts
        self.button.opacity = 1.0 if row.button else 0.0
        self.button.shown = row.button or Button(enabled=False)
        self._arrange()

    def _arrange(self, *_):
        pad, side = theme.mm(2.5), theme.mm(14.0)
        self._mark.size, self._mark.pos = (
            (side, side),
            (self.x + pad, (self.y + self.height / 2) - side / 2),
        )
        wide = theme.mm(theme.MATTER_MM) if self.shown.button else 0.0
        self.button.size = (wide, min(self.height, theme.mm(theme.TOUCH_MM)))
        self.button.pos = (
            (self.x + self.width) - wide - theme.mm(2),
            (self.y + self.height / 2) - self.button.height / 2,
        )
        x = self.x + side + 2 * pad
        room = (self.x + self.width) - wide - 2 * pad - x
        inner = self.height - 2 * theme.mm(1.5)
        y = self.y + theme.mm(1.5)
        shares = ((self._facts, 0.0, 0.2), (self._text, 0.2, 0.54), (self._title, 0.74, 0.26))
        for text, low, tall in shares:
            text.pos, text.size = (x, y + inner * low), (room, inner * tall)


class Lines(Widget):
    """Headings with a paragraph each, heights by need."""

    shown = ObjectProperty(())

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self._pairs = [
            (Text(bold=True, cap=4.2), Text(cap=3.6, valign="top")) for _ in range(LINES)
        ]
        for pair in self._pairs:
            for text in pair:
                self.add_widget(text)
        self.bind(shown=self._set, pos=self._arrange, size=self._arrange)

    @property
    def texts(self):
        """Every block of words."""
        return [text for pair in self._pairs for text in pair]

    def _set(self, *_):
        for at, (head, text) in enumerate(self._pairs):
            there = at < len(self.shown)
            head.words, text.words = self.shown[at] if there else ("", "")
        self._arrange()

    def _arrange(self, *_):
        """As large as fits: each paragraph takes the lines that it needs."""
        if not self.shown or self.width < 2:
            return
        cap = LARGEST_MM
        heights = self._heights(cap)
        while sum(heights) > self.height and cap > theme.SMALL_MM + 1e-6:
            cap = max(theme.SMALL_MM, cap - 0.1)
            heights = self._heights(cap)
        y = self.y + self.height
        for (title, text), tall in zip(self._pairs, heights, strict=False):
            text.cap = cap
            head = theme.mm(HEAD_MM)
            title.pos, title.size = (self.x, y - head), (self.width, head)
            body = max(0.0, tall - head - theme.mm(1.0))
            text.pos, text.size = (self.x, y - head - theme.mm(1.0) - body), (self.width, body)
            y -= tall

    def _heights(self, cap):
        px = theme.font_px(cap)
        line = line_px(px, False)
        counts = [len(wrap(text, self.width, px, False)) if text else 0 for _, text in self.shown]
        return [theme.mm(HEAD_MM + 1.0) + (count + 0.35) * line for count in counts]


class Sheet(Surface):
    """Draws an ``Overlay`` over body and rail."""

    shown = ObjectProperty(Overlay(), rebind=True)
    __events__ = ("on_act",)

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self.edge_px, self.fill = 0, theme.GROUND
        self._title = Text(bold=True, cap=6.0, most_lines=1)
        self._empty = Text(cap=5.0)
        self._rows = Rows(columns=2, detail_mm=50.0, cap=3.5)
        self._grid = Grid(columns=4, lines=2)
        self._lines = Lines()
        self._alarms = [AlarmLine() for _ in range(ALARMS)]
        self._keypad = KeypadBox()
        self._facts = Rows(columns=1, detail_mm=50.0, cap=3.5, row_mm=8.0)
        self._record = RecordBox()
        self._back = TouchButton()
        self._buttons = [TouchButton() for _ in range(BUTTONS)]
        children = (self._title, self._empty, self._rows, self._grid, self._lines, self._keypad)
        children = (*children, self._facts, self._record)
        for child in (*children, *self._alarms, self._back, *self._buttons):
            self.add_widget(child)
        for source in (self._grid, self._keypad, *self._alarms, self._back, *self._buttons):
            source.bind(on_act=lambda _, shown: self.dispatch("on_act", shown))
        self.bind(shown=self._set, pos=self._arrange, size=self._arrange)

    def on_act(self, button):
        """Override or bind."""

    def on_touch_down(self, touch):
        """Nothing below an open sheet can be touched."""
        if not self.collide_point(*touch.pos):
            return False
        super().on_touch_down(touch)
        return True

    def _set(self, *_):
        shown = self.shown
        self._title.words, self._empty.words = shown.title, shown.empty
        self._rows.shown = shown.rows if shown.kind in ("permissives", "table") else ()
        self._grid.shown = shown.rows if shown.kind in GRIDS else ()
        self._facts.shown = shown.rows if shown.kind == "cycle" else ()
        self._record.shown = shown.record
        count = len(self._grid.shown)
        past = shown.kind == "cycles"  # their tiles stand alike, few or many
        self._grid.columns = 3 if past else 2 if count <= FEW else 4
        self._grid.lines = 1 if count <= 2 and not past else 2
        self._keypad.shown = shown.keypad
        self._lines.shown = shown.lines
        self._lines.opacity = 1.0 if shown.lines else 0.0
        for at, line in enumerate(self._alarms):
            there = at < len(shown.alarms)
            line.opacity = 1.0 if there else 0.0
            line.shown = shown.alarms[at] if there else AlarmRow("", 0, "", "", "", None)
        self._back.shown = shown.back
        for at, button in enumerate(self._buttons):
            there = at < len(shown.buttons)
            button.opacity = 1.0 if there else 0.0
            button.shown = shown.buttons[at] if there else Button(enabled=False)
        self._arrange()

    def _arrange(self, *_):
        pad, under, rail = theme.mm(4.0), theme.mm(3.0), theme.mm(theme.TOUCH_MM)
        gap = theme.mm(theme.GAP_MM)
        title = theme.mm(8.0)
        x, wide = self.x + pad, self.width - 2 * pad
        low, high = (
            self.y + under + rail + theme.mm(3.0),
            (self.y + self.height) - theme.mm(1) - title,
        )
        self._title.pos, self._title.size = (x, high), (wide, title)
        body = high - theme.mm(1.5) - low
        self._grid.pos, self._grid.size = (x, low), (wide, body)
        for child in (self._rows, self._lines, self._empty):
            child.pos, child.size = (x, low), (wide, body)
        self._rows.row_mm = 30.0
        facts = wide * FACTS_SHARE
        self._facts.pos, self._facts.size = (x, low), (facts, body)
        self._record.pos = (x + facts + theme.mm(3.0), low + theme.mm(1.0))
        self._record.size = (wide - facts - theme.mm(3.0), body - theme.mm(2.0))
        self._keypad.pos = (x, self.y + under)
        self._keypad.size = (wide, self.y + self.height - theme.mm(1) - self.y - under)
        between, below = theme.mm(6.0), theme.mm(3.0)
        tall = (body - below - between * (ALARMS - 1)) / ALARMS
        for at, line in enumerate(self._alarms):
            there = at < len(self.shown.alarms)
            line.size = (wide, tall) if there else (0, 0)
            line.pos = (x, low + body - tall * (at + 1) - between * at)
        self._arrange_buttons(x, self.y + under, wide, rail, gap)

    def _arrange_buttons(self, x, y, wide, rail, gap):
        back = theme.mm(27.0)
        self._back.pos, self._back.size = (x, y), (back, rail)
        count = len(self.shown.buttons)
        if self.shown.kind == "keypad":  # its keys stand at the right, down to the edge
            wide = self._keypad.words_px
        room = wide - back - gap
        each = min((room - gap * max(0, count - 1)) / max(1, count), theme.mm(110.0))
        for at, button in enumerate(self._buttons):
            there = at < count
            button.size = (each, rail) if there else (0, 0)
            button.pos = (x + wide - (count - at) * each - (count - 1 - at) * gap, y)
