"""Sound files damaged at random: each is read, or refused in four words; nothing else ever comes out."""

import io
import random
import zipfile
from datetime import UTC, datetime

import pytest

from borewright.errors import BadInput
from borewright.exchange import entries_of, read_any, write_csv_set, write_geojson, write_gwml2
from borewright.exchange.zips import zip_of

NOW = datetime(2026, 5, 1, 9, 0, tzinfo=UTC)
WORDS = (b"-1", b"1e308", b"NaN", b"null", b"[]", b'"', b"<", b"&", b",", b"\n", b"0", b"99999999999999999999", b"\xff", b"true", b"2026-13-45", b"''", b"{}")


def damaged(data: bytes, chance: random.Random) -> bytes:
    """The data with a few pieces cut out, doubled, or replaced by something that does not belong."""
    out = bytearray(data)
    for _ in range(chance.randint(1, 3)):
        start = chance.randrange(len(out))
        end = min(len(out), start + chance.choice((1, 2, 5, 40)))
        out[start:end] = chance.choice((b"", bytes(out[start:end]) * 2, chance.choice(WORDS)))
    return bytes(out)


def files(bore, chance):
    yield damaged(write_geojson([bore]).encode(), chance)
    yield damaged(write_gwml2(bore), chance)
    with zipfile.ZipFile(io.BytesIO(write_csv_set([bore]))) as archive:
        members = [(i.filename, archive.read(i)) for i in archive.infolist()]
    hit = chance.randrange(len(members))
    yield zip_of((n, damaged(d, chance) if k == hit else d) for k, (n, d) in enumerate(members))


@pytest.mark.parametrize("seed", range(40))
def test_damage_is_read_or_refused(bore, tmp_path, seed):
    chance = random.Random(seed)
    for number, data in enumerate(files(bore, chance)):
        path = tmp_path / str(number)
        path.write_bytes(data)
        try:
            for one in read_any(path).bores:
                assert entries_of(one, by="office", at=NOW)
        except BadInput as error:
            told = error.as_dict()
            assert told["field"] and told["problem"] and told["want"]


def test_the_damage_is_real(bore, tmp_path):
    # Of 60 damaged files a good part is refused and a good part still reads: the test above sees both ways.
    refused = 0
    for seed in range(20):
        for data in files(bore, random.Random(seed)):
            path = tmp_path / "x"
            path.write_bytes(data)
            try:
                for one in read_any(path).bores:
                    entries_of(one, by="office", at=NOW)
            except BadInput:
                refused += 1
    assert 20 < refused < 60
