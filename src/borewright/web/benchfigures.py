"""Drawings that go with a calculation on the bench; most have none."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from markupsafe import Markup

__all__ = ["bench_figure"]


def bench_figure(answered: Mapping[str, Any] | None) -> Markup:
    """Return the drawing of an answer, or nothing."""
    maker = _FIGURES.get(answered["calculation"]) if answered else None
    return Markup(maker({name: one["value"] for name, one in answered["inputs"].items()})) if maker and answered else Markup("")


def _grading(given: Mapping[str, Any]) -> str:
    from borewright.construction import filter_pack
    from borewright.drawing.designcharts import grading_chart

    samples = [(given["sieves"], given["passing"])]
    pack = filter_pack(samples, pack_uniformity=given["pack_uniformity"])
    return grading_chart(samples, pack.envelope, aperture=pack.aperture, width=460.0, height=300.0)


_FIGURES = {"filter-pack": _grading}
