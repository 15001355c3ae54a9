"""The schemas of tests/reference/ogc, for lxml, with no network."""

from functools import cache
from pathlib import Path

from lxml import etree

FOLDER = Path(__file__).parents[1] / "reference" / "ogc"
MAIN = {"gwml2": "schemas.opengis.net/gwml/2.2/gwml2.xsd", "waterml": "schemas.opengis.net/waterml/2.0/waterml2.xsd"}


class _Local(etree.Resolver):
    def resolve(self, url, public, context):
        if url.startswith(("http://", "https://")):
            path = FOLDER / "xsd" / url.split("://", 1)[1]
            assert path.is_file(), f"{url} is not among the reference schemas"
            return self.resolve_filename(str(path), context)
        return None


@cache
def schema(name):
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(_Local())
    return etree.XMLSchema(etree.parse(str(FOLDER / "xsd" / MAIN[name]), parser))


def errors(name, data):
    """What the schema has against a document, as text; nothing for a valid one."""
    made = schema(name)
    made.validate(etree.fromstring(data))
    return [f"line {e.line}: {e.message}" for e in made.error_log]
