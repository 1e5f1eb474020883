"""Figures as small SVG pictures inside the page, whose colours follow a dark screen.

Matplotlib writes shapes of letters, six decimals and colours; here letters are text, coordinates
have the decimals that can be seen, and a colour of the palette is named after its meaning, so that
the picture has it in both schemes.
"""

from __future__ import annotations

import io
import re
from collections import Counter
from dataclasses import asdict
from typing import TYPE_CHECKING
from urllib.parse import quote

from matplotlib.backends.backend_svg import FigureCanvasSVG

from fishdown.figures.files import save_figure
from fishdown.palette import DARK, PAGE

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from fishdown.palette import Palette

# As wide as the letters for which Matplotlib has made room, or narrower.
_FONTS = "'DejaVu Sans',Verdana,system-ui,sans-serif"
_MEANINGS = ("paper", "ink", "quiet", "grid", "estimate", "other", "threshold")
_VARIABLES = {asdict(PAGE)[name]: f"var(--{name[0]})" for name in _MEANINGS} | {
    "#000000": "var(--i)"
}


def _values(palette: Palette) -> str:
    return ";".join(f"--{name[0]}:{asdict(palette)[name]}" for name in _MEANINGS)


_STYLE = (
    f"*{{stroke-linejoin:round}}text{{font-family:{_FONTS};fill:var(--i);white-space:pre}}"
    f":root{{{_values(PAGE)}}}@media(prefers-color-scheme:dark){{:root{{{_values(DARK)}}}}}"
)


def picture_source(figure: Figure) -> str:
    """Return a figure in the palette of the page as a data URI, free of what HTML would read."""
    # Laid out by hand: for a figure that has yet to be laid out Matplotlib draws all of it twice.
    FigureCanvasSVG(figure)
    layout = figure.get_layout_engine()
    if layout is not None:
        layout.execute(figure)
        figure.set_layout_engine(None)
    file = io.BytesIO()
    save_figure(figure, file, "svg", text=True)
    small = compact(file.getvalue().decode("utf-8"))
    return f"data:image/svg+xml,{quote(small, safe=_READABLE)}"


# Neither quotes nor ampersands nor brackets of tags; %, # and ? have a meaning in addresses.
_READABLE = " !$'()*+,-./:;=@[]_{|}~"


def compact(svg: str) -> str:
    """Return a picture by Matplotlib with fewer letters, and its colours by their meaning."""
    body = svg[svg.index("<svg") :]
    body = re.sub(r"\s*<metadata>.*?</metadata>", "", body, flags=re.DOTALL)
    head, _, rest = re.split(r"(<style.*?</style>)", body, maxsplit=1, flags=re.DOTALL)
    rules, drawn = _classes(_outside(rest))
    return f"{_outside(head)}<style>{_STYLE}{rules}</style>{drawn}"


def _outside(part: str) -> str:
    """Shorten the tags of a part, and leave words between them as they are."""
    groups: list[bool] = []

    def shortened(found: re.Match[str]) -> str:
        tag = _tag(found)
        if tag.startswith("<g") and not tag.endswith("/>"):
            groups.append(tag != "<g>")
            return tag if groups[-1] else ""
        return "" if tag == "</g>" and not groups.pop() else tag

    return re.sub(r"<[^>]+>\s*(?=<)|<[^>]+>", shortened, part).strip()


def _classes(drawn: str) -> tuple[str, str]:
    """Return rules for what several elements look like, and the elements with their classes."""
    looks = Counter(re.findall(r" style='([^']*)'", drawn))
    names = {look: f"c{place}" for place, look in enumerate(looks) if looks[look] > 1}
    rules = "".join(f".{name}{{{look}}}" for look, name in names.items())

    def named(found: re.Match[str]) -> str:
        return f" class='{names[found[1]]}'" if found[1] in names else found[0]

    return rules, re.sub(r" style='([^']*)'", named, drawn)


def _tag(found: re.Match[str]) -> str:
    tag = " ".join(found[0].split())
    if tag.startswith("<g "):
        tag = re.sub(r' id="[^"]*"', "", tag)
    tag = re.sub(r'font-family: [^;"]*;? ?| transform="rotate\(-0 [^"]*\)"', "", tag)
    tag = re.sub(r"#[0-9a-f]{6}\b", lambda colour: _VARIABLES.get(colour[0], colour[0]), tag)
    tag = re.sub(r"-?\d+\.\d{3,}(?:e-\d+)?", lambda number: _rounded(number[0]), tag)
    tag = re.sub(r' d="[^"]*"', lambda path: _path(path[0]), tag)
    tag = tag.replace(' xmlns:xlink="http://www.w3.org/1999/xlink"', "").replace("xlink:", "")
    return re.sub(r"(?<=[;:]) | (?=/?>)", "", tag).replace('"', "'")


def _rounded(number: str) -> str:
    """Round to what is seen: a tenth of a point in places, a hundredth in markers and widths."""
    value = float(number)
    return f"{value:.{2 if abs(value) < 10.0 else 1}f}".rstrip("0").rstrip(".")


def _path(path: str) -> str:
    """Leave out the letter of a straight line where it follows from what comes before."""
    return path if re.search("[CQ]", path) else path.replace(" L ", " ")
