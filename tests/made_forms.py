"""Fillable forms for the tests, made here: no authority's."""

from __future__ import annotations

import io

import pypdf
from pypdf.generic import ArrayObject, DictionaryObject, FloatObject, NameObject, NumberObject, TextStringObject


def fillable(*names: str) -> bytes:
    """Return a PDF with a text field of each name."""
    writer = pypdf.PdfWriter()
    page = writer.add_blank_page(400, 700)
    found = ArrayObject()
    for n, name in enumerate(names):
        field = DictionaryObject({
            NameObject("/FT"): NameObject("/Tx"), NameObject("/T"): TextStringObject(name), NameObject("/Type"): NameObject("/Annot"), NameObject("/Subtype"): NameObject("/Widget"),
            NameObject("/Rect"): ArrayObject([FloatObject(20), FloatObject(650 - 25 * n), FloatObject(300), FloatObject(670 - 25 * n)]), NameObject("/F"): NumberObject(4),
            NameObject("/DA"): TextStringObject("/Helv 10 Tf 0 g"),
        })
        found.append(writer._add_object(field))
    page[NameObject("/Annots")] = found
    font = DictionaryObject({NameObject("/Type"): NameObject("/Font"), NameObject("/Subtype"): NameObject("/Type1"), NameObject("/BaseFont"): NameObject("/Helvetica")})
    writer.root_object[NameObject("/AcroForm")] = DictionaryObject({
        NameObject("/Fields"): found, NameObject("/DA"): TextStringObject("/Helv 10 Tf 0 g"),
        NameObject("/DR"): DictionaryObject({NameObject("/Font"): DictionaryObject({NameObject("/Helv"): writer._add_object(font)})}),
    })
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()
