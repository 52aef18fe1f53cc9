"""Layouts: how what a gauge sends becomes kPa.  Rows of assets/layouts.toml and of a site file."""

from __future__ import annotations

from kiosk.resources import asset
from kiosk.site.textform import TextForm, line_rule
from kiosk.site.types import Layout
from kiosk.toml_lines import Table, read_toml
from kiosk.units import KPA_PER

TYPES = ("int16", "uint16", "int32", "float32", "text")
WORD_ORDERS = ("ABCD", "CDAB", "BADC", "DCBA")
REFERENCES = ("vacuum", "gauge", "absolute")
_LONGEST_END = 4


def read_layout(row: Table) -> Layout:
    """One row."""
    name, kind = row.text("name", longest=40), row.choice("type", TYPES)
    text = kind == "text"
    layout = Layout(
        name=name,
        function=0 if text else row.whole("function", 3, 4),
        register=0 if text else row.whole("register", 0, 65535),
        type=kind,
        word_order="ABCD" if text else row.choice("word_order", WORD_ORDERS, "ABCD"),
        scale=row.number("scale", -1e6, 1e6, 1.0),
        offset=row.number("offset", -1e6, 1e6, 0.0),
        unit=row.choice("unit", tuple(KPA_PER)),
        reference=row.choice("reference", REFERENCES),
        valid_kpa=_range(row),
        span=None if text else _span(row),
        text=_text_form(row) if text else None,
    )
    if layout.scale == 0.0:
        row.wrong("scale is 0: write what one count is worth in the unit", "scale")
    _judge_pattern(row, layout)
    row.done()
    return layout


def _range(row: Table) -> tuple[float, float]:
    low, high = row.vector("valid_kpa", 2, -20.0, 120.0, (-5.0, 102.0))
    if low >= high:
        row.wrong("valid_kpa must rise: write [lowest, highest] in kPa of vacuum", "valid_kpa")
    return low, high


def _span(row: Table) -> tuple[float, float] | None:
    """What a current loop stands for: the values in ``unit`` at 4 and at 20 mA."""
    if not row.has("span"):
        row.known.append("span")
        return None
    at_4_ma, at_20_ma = row.vector("span", 2, -1e6, 1e6)
    if at_4_ma == at_20_ma:
        row.wrong("span is the same at 4 and at 20 mA: write both values", "span")
    return at_4_ma, at_20_ma


def _text_form(row: Table) -> TextForm:
    request = _marks(row, "request", '"P?"', 1)
    request_end = _marks(row, "request_end", r'"\r", "\n", "\r\n" or ""', 0, _LONGEST_END)
    if request is None and request_end is not None:
        row.wrong("request_end goes with request: add request, or leave it out", "request_end")
    if request is not None and request_end is None:
        row.wrong(
            r'request needs what ends it: add request_end = "\r", "\n", "\r\n" or ""', "request"
        )
    return TextForm(
        _marks(row, "pattern", '"P= # kPa"', 1),
        _marks(row, "line_end", r'"\r", "\n" or "\r\n"', 1, _LONGEST_END),
        request,
        request_end or "",
    )


def _marks(row: Table, key: str, wanted: str, least: int, most: int = 60) -> str | None:
    """Text of ASCII, which may have control characters; None when it is absent."""
    value = row.take(key, wanted, None)
    if key not in row.values:
        return None
    if isinstance(value, str) and value.isascii() and least <= len(value) <= most:
        return value
    row.wrong(f"{key} is no text of {least} to {most} ASCII characters: write {wanted}", key)
    return None


def _judge_pattern(row: Table, layout: Layout) -> None:
    if layout.text is None or layout.text.pattern is None:
        return
    try:
        line_rule(layout.text, layout.unit)
    except ValueError as wrong:
        row.wrong(f'pattern "{layout.text.pattern}": {wrong}', "pattern")


def shipped_layouts() -> dict[str, Layout]:
    """The rows of assets/layouts.toml.  Raises ``BadInput`` when that file is damaged."""
    whole = Table(read_toml(asset("layouts.toml")))
    whole.whole("format", 1, 1)
    layouts = {layout.name: layout for layout in map(read_layout, whole.rows("layout", True))}
    whole.done()
    whole.raise_mistakes()
    return layouts


def read_layouts(site: Table) -> dict[str, Layout]:
    """Shipped layouts and those of the site file; a site's own may not take a shipped name."""
    layouts = shipped_layouts()
    for row in site.rows("layout"):
        layout = read_layout(row)
        if layout.name in layouts:
            row.wrong(f'a layout named "{layout.name}" exists: give this one another', "name")
        layouts[layout.name] = layout
    return layouts
