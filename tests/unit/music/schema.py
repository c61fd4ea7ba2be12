"""The published schema of MusicXML, for tests that validate against it."""

import re
from importlib.resources import files
from pathlib import Path

from lxml import etree

_XML = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema"
 targetNamespace="http://www.w3.org/XML/1998/namespace">
 <xs:attribute name="lang" type="xs:language"/><xs:attribute name="space" type="xs:NCName"/>
</xs:schema>"""
_XLINK = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema"
 targetNamespace="http://www.w3.org/1999/xlink">
 {attributes}
</xs:schema>""".format(
    attributes="".join(
        f'<xs:attribute name="{n}" type="xs:string"/>'
        for n in ("href", "type", "role", "title", "show", "actuate")
    )
)


def published_schema(folder: Path) -> etree.XMLSchema:
    """W3C's MusicXML 4.0 schema, as the test dependency ``musicxml`` carries it.

    The two small schemas that it fetches from the network are stood in for here.
    """
    text = files("musicxml").joinpath("generate_classes/musicxml_4_0.xsd").read_text("utf-8")
    local = re.sub(r'schemaLocation="[^"]*/(xml|xlink)\.xsd"', r'schemaLocation="\1.xsd"', text)
    (folder / "musicxml.xsd").write_text(local, "utf-8")
    (folder / "xml.xsd").write_text(_XML, "utf-8")
    (folder / "xlink.xsd").write_text(_XLINK, "utf-8")
    return etree.XMLSchema(etree.parse(str(folder / "musicxml.xsd")))
