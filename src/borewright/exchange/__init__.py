"""Open formats, both ways. Pure functions: a job (or bores, or entries) in, bytes or text out, and back.

What others call::

    bores_of(job) -> [Bore]                     one for each hole of a folded job; what the open formats can carry, SI inside
    entries_of(bore, *, by, at) -> [Entry]      the entries of a new job, checked; the same bore gives the same ids, so a repeat adds nothing
    write_csv_set(bores) -> bytes               zip of CSV tables with a Frictionless datapackage.json; bores.csv, strikes.csv and
    read_csv_set(data) -> [Bore]                intervals.csv also load as a register
    write_geojson(bores) -> str                 RFC 7946
    read_geojson(data) -> [Bore]
    write_gwml2(bore) -> bytes                  OGC GroundWaterML 2.2, gwml2w:GW_Well
    read_gwml2(data) -> [Bore]
    write_geopackage(bores, path) -> None       OGC GeoPackage 1.3
    read_geopackage(path) -> [Bore]
    write_levels(bore) -> bytes                 OGC WaterML 2.0 part 1: dips and test levels as series
    read_levels(data) -> [Bore]                 a bore for each feature of interest, with its levels and tests
    check_depths(bore) -> None                  what every file from elsewhere must pass: no depth crosses another or lies below the bottom
    write_calendar(jobs, *, made) -> bytes      RFC 5545: rig days done, accepted jobs still to drill, quotes that run out
    write_archive(entries, attachments, stream, *, made) -> None        everything of a firm or a job, to restore byte for byte
    read_archive(path) -> Archive(entries, attachments; .each_attachment())
    read_any(path) -> Import(format, bores | archive)                   finds the format by content, not by name
    map_as_geojson(odds_map) -> str             a map of odds: a polygon a cell
    map_as_geotiff(odds_map) -> bytes           the same as four bands
    map_as_geopackage(odds_map) -> bytes        the same as a layer of cells
    write_jobs(book, jobs, format, path, *, hole=None) -> size          what a page or command does to write; FORMATS says ending and words
    bring_in(book, path, *, by, dry_run=False) -> Brought               and to read in: all of a file, or nothing

Every reader refuses a file whole, with the field, the value, what is wrong and what would be right; nothing it returns is half a file.
The open formats leave out the customer's name, address and money; only the archive holds those.
"""

from borewright.faces import loaded_when_asked

_WHERE = {
    "doors": ("FORMATS", "Brought", "bring_in", "write_jobs"),
    "bore": ("Bore", "TABLES", "bores_of", "entries_of"),
    "csvset": ("read_csv_set", "write_csv_set"),
    "geojson": ("read_geojson", "write_geojson"),
    "gwml2": ("write_gwml2",),
    "gwml2_read": ("read_gwml2",),
    "geopackage": ("write_geopackage",),
    "geopackage_read": ("read_geopackage",),
    "waterml": ("write_levels",),
    "waterml_read": ("read_levels",),
    "depths": ("check_depths",),
    "ics": ("write_calendar",),
    "archive": ("Archive", "read_archive", "write_archive"),
    "oddsmap": ("map_as_geojson", "map_as_geotiff"),
    "mapgpkg": ("map_as_geopackage",),
    "reading": ("Import", "read_any"),
}
__all__ = sorted(name for names in _WHERE.values() for name in names)  # noqa: PLE0605

__getattr__ = loaded_when_asked(__name__, _WHERE)
