"""Any file that this program can read in: the format is found by what is in it, not by its name."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from borewright.errors import BadInput
from borewright.exchange.archive import Archive, read_archive
from borewright.exchange.bore import Bore

__all__ = ["Import", "read_any"]

MOST_BYTES = 250 * 2**20  # of a file that is read whole; an archive is not
_WANT = "a CSV set or table of bores, GeoJSON, GeoPackage, GroundWaterML 2.2, WaterML 2.0 levels, or an archive of this program"


@dataclass(frozen=True, slots=True)
class Import:
    """What a file held: `format` ("csv", "geojson", "gpkg", "gwml2", "waterml" or "archive"), and its bores, or its archive."""

    format: str
    bores: tuple[Bore, ...] = ()
    archive: Archive | None = None


def read_any(path: Path) -> Import:
    """Return what a file holds, checked whole; raise BadInput for what this program cannot read."""
    if not path.is_file():
        raise BadInput("file", str(path), "is not there", "the path of a file")
    with path.open("rb") as stream:
        head = stream.read(4096)
    if head.startswith(b"PK"):
        if _is_archive(path):
            return Import("archive", archive=read_archive(path))
        from borewright.exchange.csvset import read_csv_set

        return Import("csv", tuple(read_csv_set(_whole(path))))
    if head.startswith(b"SQLite format 3\0"):
        from borewright.exchange.geopackage_read import read_geopackage

        _bounded(path)
        return Import("gpkg", tuple(read_geopackage(path)))
    text = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    if text.startswith((b"{", b"[")):
        from borewright.exchange.geojson import read_geojson

        return Import("geojson", tuple(read_geojson(_whole(path))))
    if text.startswith(b"<"):
        return _xml(_whole(path))
    if b"bore_id" in text.split(b"\n", 1)[0]:
        from borewright.exchange.csvset import read_bores_csv

        return Import("csv", tuple(read_bores_csv(_whole(path))))
    raise BadInput("file", path.name, "is none of the formats that can be read", _WANT)


def _xml(data: bytes) -> Import:
    from borewright.exchange.ogc import tag
    from borewright.exchange.xmlsafe import parse_xml

    root = parse_xml(data)
    if root.tag == tag("wml2:Collection"):
        from borewright.exchange.waterml_read import levels_in

        return Import("waterml", tuple(levels_in(root)))
    from borewright.exchange.gwml2_read import wells_in

    return Import("gwml2", tuple(wells_in(root)))


def _is_archive(path: Path) -> bool:
    from borewright.exchange.archive import MOST_MEMBERS
    from borewright.exchange.zips import open_zip

    with path.open("rb") as source, open_zip(source, most_members=MOST_MEMBERS) as archive:
        return "manifest.json" in archive.namelist()


def _bounded(path: Path) -> None:
    size = path.stat().st_size
    if size > MOST_BYTES:
        raise BadInput("file", size, "is too large", f"at most {MOST_BYTES} bytes")


def _whole(path: Path) -> bytes:
    _bounded(path)
    return path.read_bytes()
