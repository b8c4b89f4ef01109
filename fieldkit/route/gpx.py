"""GPX 1.0 and 1.1 to raw lines: a hardened event parser that keeps line numbers.

The parser is the standard library's expat. Document types and entity declarations are refused before they are
read on, nesting is bounded, and nothing outside the file is ever opened. Names are taken by the table
``CHILDREN``: an element that is not listed under its parent is passed over with all it holds (times, extensions,
links, styles), so a track inside somebody's extension is no track of this file.
"""

from __future__ import annotations

import re
from math import isfinite, nan
from typing import Any, NoReturn
from xml.parsers import expat

from fieldkit.errors import Fault, InputFaults
from fieldkit.route.raw import RawFile, RawLine, RawPoint
from fieldkit.route.settings import ReadingFigures

#: What is looked at under each element; everything else is passed over.
CHILDREN: dict[str, frozenset[str]] = {
    "gpx": frozenset({"trk", "rte", "wpt"}),
    "trk": frozenset({"name", "trkseg"}),
    "trkseg": frozenset({"trkpt"}),
    "rte": frozenset({"name", "rtept"}),
    "trkpt": frozenset({"ele"}),
    "rtept": frozenset({"ele"}),
    "wpt": frozenset({"ele", "name"}),
    "ele": frozenset(),
    "name": frozenset(),
}
NAMESPACE = re.compile(r"^https?://www\.topografix\.com/GPX/1/[01]/?$", re.I)
_ENCODING = re.compile(rb"""^<\?xml[^>]*?encoding\s*=\s*["']([A-Za-z0-9._-]+)["']""")
_LONGEST_TEXT = 2_000


def parse_gpx(data: bytes, name: str, figures: ReadingFigures) -> RawFile:
    """A GPX file's bytes as raw lines and waypoints.

    Parameters
    ----------
    data : bytes
        The whole file, unpacked.
    name : str
        How messages call it.
    figures : ReadingFigures
        Limits of points and nesting.

    Raises
    ------
    InputFaults
        If the file is no GPX, not well-formed, broken off, declares entities or a document type, or is too large.
        Each message has a line number. Coordinates that are no numbers are kept as faults of the result.

    Notes
    -----
    Read with or without a namespace, a byte-order mark or a version; in UTF-8, UTF-16, Latin-1 or another declared
    encoding. An undeclared prefix is a warning: what stands under it is passed over.

    Examples
    --------
    >>> from fieldkit.route.settings import route_figures
    >>> text = b'<gpx><trk><trkseg><trkpt lat="1" lon="2"/></trkseg></trk></gpx>'
    >>> parse_gpx(text, "a.gpx", route_figures().reading).lines[0].lat
    [1.0]
    """
    return _GpxParser(name, figures).run(data)


class _GpxParser:
    """One run over one file. ``inside`` is the path of open elements looked at, ``passing`` the depth passed over."""

    def __init__(self, name: str, figures: ReadingFigures) -> None:
        self.file = RawFile(name)
        self.figures = figures
        self.inside: list[str] = []
        self.passing = 0
        self.local: dict[str, str] = {}
        self.namespace = ""
        self.declared = {"xml"}
        self.undeclared: dict[str, int] = {}
        self.text: list[str] = []
        self.points = 0
        self.first_line = 0
        self.line: RawLine | None = None
        self.point: RawPoint | None = None
        self.parser: Any = None
        self.starters = {known: getattr(self, f"_start_{known}") for known in CHILDREN if known != "gpx"}
        self.enders = {"ele": self._end_ele, "name": self._end_name, "wpt": self._end_wpt}

    # ------------------------------------------------------------------------------------ running
    def run(self, data: bytes) -> RawFile:
        stripped = data.lstrip(b" \t\r\n") if not data.startswith((b"\xff\xfe", b"\xfe\xff")) else data
        self.first_line = data[: len(data) - len(stripped)].count(b"\n")
        text = self._decoded(stripped)
        self.parser = expat.ParserCreate()
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self.start
        self.parser.EndElementHandler = self.end
        self.parser.StartDoctypeDeclHandler = self._doctype
        self.parser.EntityDeclHandler = self._entity
        try:
            self.parser.Parse(text, True)
        except expat.ExpatError as odd:
            self._not_well_formed(odd, data)
        for prefix, line in self.undeclared.items():
            self.file.warnings.append(
                f"line {line}: the prefix '{prefix}' is not declared; what stands under it was passed over"
            )
        return self.file

    def _decoded(self, data: bytes) -> bytes | str:
        """Bytes as they are where expat knows the encoding; decoded here where it does not."""
        match = _ENCODING.match(data)
        known = {"utf-8", "utf8", "us-ascii", "ascii", "iso-8859-1", "utf-16"}
        if not match or match[1].decode().lower() in known:
            return data
        encoding = match[1].decode()
        try:
            return data.decode(encoding)
        except LookupError:
            self._refuse(f"the encoding '{encoding}' is not known", "a file saved as UTF-8", 1)
        except UnicodeDecodeError as odd:
            self._refuse(f"not {encoding} text", "the encoding named in line 1", data[: odd.start].count(b"\n") + 1)

    def _here(self) -> int:
        return int(self.parser.CurrentLineNumber) + self.first_line

    def _refuse(self, found: str, expected: str, line: int) -> NoReturn:
        raise InputFaults([*self.file.faults, Fault(f"{self.file.name}:{line}", found, expected)])

    def _doctype(self, *_: object) -> None:
        self._refuse("a document type or entity declaration", "a GPX file without <!DOCTYPE>", self._here())

    def _entity(self, *_: object) -> None:
        self._refuse("an entity declaration", "a GPX file without <!ENTITY>", self._here())

    def _not_well_formed(self, odd: expat.ExpatError, data: bytes) -> NoReturn:
        line = odd.lineno + self.first_line
        message = expat.ErrorString(odd.code)
        cut = {expat.errors.XML_ERROR_NO_ELEMENTS, expat.errors.XML_ERROR_UNCLOSED_TOKEN}
        if message in cut or (message == expat.errors.XML_ERROR_UNCLOSED_CDATA_SECTION):
            last = max(line - 1, 1)
            self._refuse(
                f"the file breaks off here; line {last} is the last good one",
                "a whole file ending in </gpx>: copy it again",
                line,
            )
        if message == expat.errors.XML_ERROR_INVALID_TOKEN and not _is_text(data):
            self._refuse(
                "a byte that is not UTF-8 text", "a file saved as UTF-8, or its encoding named in line 1", line
            )
        self._refuse(f"not well-formed XML: {message}", "a GPX file as its device wrote it", line)

    # ------------------------------------------------------------------------------------ elements
    def start(self, name: str, attributes: dict[str, str]) -> None:
        local = self.local.get(name)
        if self.passing or local is None or local not in CHILDREN[self.inside[-1]]:
            self._foreign(name, attributes)
        elif "xmlns" in attributes and attributes["xmlns"] != self.namespace:
            self._pass_over()
        else:
            self.inside.append(local)
            self.starters[local](attributes)

    def end(self, _: str) -> None:
        if self.passing:
            self.passing -= 1
            return
        finish = self.enders.get(self.inside.pop())
        if finish is not None:
            self.parser.CharacterDataHandler = None
            text, self.text = "".join(self.text).strip(), []
            finish(text)

    def _foreign(self, name: str, attributes: dict[str, str]) -> None:
        if not self.inside:
            self._root(name, attributes)
            return
        self.declared.update(a[6:] for a in attributes if a.startswith("xmlns:"))
        prefix, colon, _ = name.partition(":")
        if colon and prefix not in self.declared:
            self.undeclared.setdefault(prefix, self._here())
        self._pass_over()

    def _pass_over(self) -> None:
        self.passing += 1
        if len(self.inside) + self.passing > self.figures.deepest:
            self._refuse(f"elements nested deeper than {self.figures.deepest}", "a GPX file", self._here())

    def _root(self, name: str, attributes: dict[str, str]) -> None:
        prefix, colon, local = name.rpartition(":")
        if local != "gpx":
            self._refuse(f"a <{name}> file", "a GPX file, whose outermost element is <gpx>", self._here())
        self.local = {f"{prefix}{colon}{known}": known for known in CHILDREN}
        self.namespace = attributes.get(f"xmlns:{prefix}" if colon else "xmlns", "")
        self.declared.update(a[6:] for a in attributes if a.startswith("xmlns:"))
        self.inside.append("gpx")
        if self.namespace and not NAMESPACE.match(self.namespace):
            self.file.warnings.append(
                f"line {self._here()}: the namespace is not that of GPX 1.0 or 1.1; read all the same"
            )

    # --------------------------------------------------------------------------- one method an element
    def _start_trk(self, _: dict[str, str]) -> None:
        self.line = RawLine("track")
        self.file.lines.append(self.line)

    def _start_rte(self, _: dict[str, str]) -> None:
        self.line = RawLine("route", starts=[0], segments=1)
        self.file.lines.append(self.line)

    def _start_trkseg(self, _: dict[str, str]) -> None:
        assert self.line is not None
        self.line.starts.append(len(self.line.lat))
        self.line.segments += 1

    def _start_trkpt(self, attributes: dict[str, str]) -> None:
        line = self.line
        assert line is not None
        here = self.parser.CurrentLineNumber + self.first_line
        lat, lon = self._degrees(attributes, here)
        line.lat.append(lat)
        line.lon.append(lon)
        line.height.append(nan)
        line.places.append(here)
        self.points += 1
        if self.points > self.figures.most_points:
            self._refuse(f"more than {self.figures.most_points} points", "a thinned track", here)

    _start_rtept = _start_trkpt

    def _start_wpt(self, attributes: dict[str, str]) -> None:
        here = self._here()
        lat, lon = self._degrees(attributes, here)
        self.point = RawPoint(lat, lon, nan, here)
        self.points += 1
        if self.points > self.figures.most_points:
            self._refuse(f"more than {self.figures.most_points} points", "fewer waypoints", here)

    def _start_ele(self, _: dict[str, str]) -> None:
        self.parser.CharacterDataHandler = self._keep

    _start_name = _start_ele

    def _keep(self, text: str) -> None:
        if len(self.text) < _LONGEST_TEXT:
            self.text.append(text[:_LONGEST_TEXT])

    def _end_wpt(self, _: str) -> None:
        assert self.point is not None
        self.file.waypoints.append(self.point)

    def _end_ele(self, text: str) -> None:
        try:
            height = float(text) if text else nan
        except ValueError:
            self._fault(f"height '{_short(text)}'", "metres, or no <ele> at all")
            return
        if not isfinite(height):
            return
        if self.inside[-1] == "wpt" and self.point:
            self.point.height = height
        elif self.line:
            self.line.height[-1] = height

    def _end_name(self, text: str) -> None:
        name = _short(" ".join(text.split()), 200)
        if self.inside[-1] == "wpt" and self.point:
            self.point.name = name
        elif self.line:
            self.line.name = name

    def _degrees(self, attributes: dict[str, str], here: int) -> tuple[float, float]:
        try:
            return float(attributes["lat"]), float(attributes["lon"])
        except (KeyError, ValueError):
            for key in ("lat", "lon"):
                self._check_degrees(key, attributes.get(key), here)
            return nan, nan

    def _check_degrees(self, key: str, text: str | None, here: int) -> None:
        word = "latitude" if key == "lat" else "longitude"
        if text is None:
            self._fault(f"a point without {key}", f"{key} in degrees", here)
            return
        try:
            float(text)
        except ValueError:
            self._fault(f"{word} '{_short(text)}'", "decimal degrees with a point, such as -24.105", here)

    def _fault(self, found: str, expected: str, here: int | None = None) -> None:
        self.file.faults.append(Fault(f"{self.file.name}:{here or self._here()}", found, expected))


def _short(text: str, most: int = 40) -> str:
    return text if len(text) <= most else text[: most - 1] + "…"


def _is_text(data: bytes) -> bool:
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True
