"""Photos on a customer's paper: by depth, each with its caption, and never with what the file knows besides the picture."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

from borewright.errors import BadInput, BorewrightError
from borewright.papers.wording import Wording, heading
from borewright.record.fold import Hole
from borewright.record.pictures import picture_facts, without_private_data

__all__ = ["Album", "photo_blocks"]

MOST_PHOTOS = 8
MOST_POINTS = 1200  # along the longer side: 350 to the inch over a column
LARGEST_OPENED = 80_000_000  # points; a larger one stays as it is
MOST_BYTES = 16 * 2**20  # of all photos on one paper: it is to be sent by mail
_ENDINGS = {"image/jpeg": "jpg", "image/png": "png", "image/webp": "webp"}


@dataclass(slots=True)
class Album:
    """Where photos come from and which a paper holds: name on the paper to the bytes that go into it."""

    find: Callable[[str], Path] | None
    held: dict[str, bytes]

    def take(self, attachment: str) -> tuple[str, float] | None:
        """Return (name, width ÷ height as it stands) of a photo ready for a customer, or None where it has not arrived, is no picture or is too large."""
        if self.find is None:
            return None
        try:
            clean = _smaller(without_private_data(self.find(attachment).read_bytes()))
            facts = picture_facts(clean)
        except (BadInput, BorewrightError, OSError):
            return None
        if sum(map(len, self.held.values())) + len(clean) > MOST_BYTES:
            return None
        name = f"photo-{sha256(clean).hexdigest()}.{_ENDINGS[facts.media_type]}"
        self.held[name] = clean
        turned = facts.orientation >= 5
        return name, facts.height / facts.width if turned else facts.width / facts.height


def _smaller(data: bytes) -> bytes:
    """Return a large photo as a JPEG of as many points as paper can show, upright; the same bytes where it is small or cannot be read."""
    facts = picture_facts(data)
    if max(facts.width, facts.height) <= MOST_POINTS or facts.width * facts.height > LARGEST_OPENED:
        return data
    from PIL import Image, ImageOps

    try:
        with Image.open(io.BytesIO(data)) as picture:
            picture.draft("RGB", (MOST_POINTS, MOST_POINTS))  # a JPEG is read no larger than it must be
            upright = ImageOps.exif_transpose(picture).convert("RGB")
            upright.thumbnail((MOST_POINTS, MOST_POINTS))
            out = io.BytesIO()
            upright.save(out, "JPEG", quality=82, optimize=True)
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        return data
    small = without_private_data(out.getvalue())
    return small if len(small) < len(data) else data


def photo_blocks(hole: Hole, w: Wording, album: Album | None, *, before: str = "") -> list[dict[str, Any]]:
    """Return the hole's photos as blocks, shallowest first and those of no depth last; nothing where there are none."""
    if album is None:
        return []
    facts = sorted(hole.photos, key=lambda f: (f.body.depth is None, f.body.depth or 0.0, f.entry.at))
    items = []
    for fact in facts:
        taken = album.take(fact.body.attachment) if len(items) < MOST_PHOTOS else None
        if taken is None:
            continue
        name, shape = taken
        said = " · ".join(p for p in (w.depth(fact.body.depth), fact.body.caption, w.day(fact.entry.at)) if p)
        items.append({"file": name, "shape": round(shape, 4), "caption": said[:300], "alt": w.say("photo_of", said=said[:300])})
    if not items:
        return []
    left = len(facts) - len(items)
    blocks: list[dict[str, Any]] = [{"kind": before}] if before else []
    blocks += [heading(w.say("Photos")), {"kind": "photos", "items": items}]
    return [*blocks, {"kind": "text", "text": w.say("photos_more", count=left)}] if left else blocks
