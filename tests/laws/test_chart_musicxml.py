"""Laws of MusicXML lead sheets: what MusicXML can say comes back as it went."""

from dataclasses import replace
from functools import cache
from importlib.resources import files

from hypothesis import HealthCheck, given, settings
from lxml import etree

from changewright.chart.chart import Chart
from changewright.chart.musicxml import laid_out, read_musicxml, write_musicxml
from changewright.chart.unroll import unroll
from changewright.chart.written import WrittenBar
from tests.unit.chart.charts import charts


def without_pins(chart: Chart) -> Chart:
    """MusicXML has no word for a teacher's own reading."""

    def plain(bar: WrittenBar) -> WrittenBar:
        chords = tuple(replace(chord, scale=None) for chord in bar.chords)
        return replace(bar, pin=None, chords=chords)

    return replace(chart, bars=tuple(map(plain, chart.bars)))


@given(charts())
@settings(max_examples=50, deadline=None)
def test_a_chart_comes_back_from_musicxml(chart: Chart) -> None:
    plain = without_pins(laid_out(chart))
    assert read_musicxml(write_musicxml(chart).encode(), "tune.musicxml") == plain


@given(charts())
@settings(max_examples=30, deadline=None)
def test_writing_the_form_out_changes_nothing_that_is_played(chart: Chart) -> None:
    chart = replace(chart, solos=())
    ours, out = unroll(chart), unroll(laid_out(chart))
    played = [[(c.onset, c.duration, c.text) for c in bar.changes] for bar in ours.bars]
    assert played == [[(c.onset, c.duration, c.text) for c in bar.changes] for bar in out.bars]
    assert ours.melody == out.melody


@cache
def schema() -> etree.XMLSchema:
    """The published MusicXML 4.0 schema (W3C Community Group Final Specification), as carried by
    the test dependency ``musicxml``; its two imports are replaced by declarations of the names
    that it uses from them."""
    folder = files("musicxml")
    found = next(p for p in folder.rglob("musicxml_4_0.xsd"))  # type: ignore[attr-defined]
    return _compiled(found.read_bytes())


def _compiled(text: bytes) -> etree.XMLSchema:
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(_Imports())
    return etree.XMLSchema(etree.fromstring(text, parser))


class _Imports(etree.Resolver):
    """Stand in for the two schemas that MusicXML imports by address."""

    def resolve(self, url: str, public_id: str, context: object) -> object:
        if url.endswith("xml.xsd"):
            return self.resolve_string(_XML, context)
        if url.endswith("xlink.xsd"):
            return self.resolve_string(_XLINK, context)
        return None


_HEAD = '<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="{}">{}</xs:schema>'
_XML = _HEAD.format(
    "http://www.w3.org/XML/1998/namespace",
    '<xs:attribute name="lang" type="xs:language"/><xs:attribute name="space" type="xs:NCName"/>',
)
_XLINK = _HEAD.format(
    "http://www.w3.org/1999/xlink",
    '<xs:attribute name="type" type="xs:string" fixed="simple"/>'
    + "".join(
        f'<xs:attribute name="{name}" type="xs:string"/>'
        for name in ("href", "role", "title", "show", "actuate")
    ),
)


@given(charts())
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_what_is_written_is_valid_by_the_published_schema(chart: Chart) -> None:
    schema().assertValid(etree.fromstring(write_musicxml(chart).encode()))
