"""Settings and rate cards: read back as they were written, refused by name when they cannot stand, whole or absent."""

from __future__ import annotations

import math
from dataclasses import fields, replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from borewright.errors import BadInput, NotFound, StoreError
from borewright.pricing import card_as_dict, card_from_dict, card_version, sample_card
from borewright.storage import (
    Settings,
    current_rate_card,
    load_settings,
    rate_card,
    rate_card_versions,
    save_rate_card,
    save_settings,
    settings_from_dict,
)

FULL = {
    "firm": "Hollow Reed Bores", "owner": "R. Reed", "address": "1 Invented Road\nOrrin Vale", "phone": "0000 000 000", "email": "reed@example.org",
    "licence": "D-000", "language": "fr", "word": "well", "units": "us", "paper": "Letter", "currency": "USD", "zone": "America/Denver", "bag_mass": 42.6, "logo": "logo.png",
    "colour": "#123abc", "quote_valid_days": 14, "keep_backups": 30, "terms": 'Pay in "14 days".\nThanks.',
    "owner_page": "https://example.org/bores/{job}", "start_of_day": ("lines", "hoses"), "rods": ("3 1/2 in",), "compressors": ("900 cfm at 350 psi", "25 m3/min at 2400 kPa"),
}


def test_every_setting_goes_out_and_comes_back(tmp_path):
    assert set(FULL) == {f.name for f in fields(Settings)}
    assert all(FULL[f.name] != getattr(Settings(), f.name) for f in fields(Settings))
    kept = settings_from_dict(FULL)
    assert save_settings(kept, tmp_path) == tmp_path / "settings.toml"
    assert load_settings(tmp_path) == kept
    assert kept.unit_system == "US"
    assert [p.name for p in tmp_path.iterdir()] == ["settings.toml"]


def test_the_kit_is_read_into_si():
    kept = settings_from_dict(FULL)
    assert kept.rod_diameters == pytest.approx((0.0889,)) and kept.compressor_values[1] == pytest.approx((25 / 60, 2.4e6))
    assert kept.compressor_values[0] == pytest.approx((900 * 0.3048**3 / 60, 350 * 6894.757), rel=1e-6)


def test_without_a_file_the_defaults_stand(tmp_path):
    assert load_settings(tmp_path) == Settings()
    assert Settings().unit_system == "metric"


@given(st.text(alphabet=st.characters(blacklist_categories=("Cs", "Cc", "Cf", "Zl", "Zp", "Zs", "Co", "Cn")) | st.sampled_from(' \n\t"\\#=[]'), max_size=60))
@settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_words_come_back_letter_for_letter(tmp_path_factory, words):
    folder = tmp_path_factory.mktemp("words")
    kept = Settings(firm=words, address=words, terms=words)
    save_settings(kept, folder)
    assert load_settings(folder) == kept


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"start_of_day": ()}, "start_of_day"), ({"start_of_day": "hoses"}, "start_of_day"), ({"start_of_day": ["a", "a"]}, "start_of_day"), ({"start_of_day": [" "]}, "start_of_day"),
        ({"rods": ["89"]}, "rods"), ({"rods": ["9 m"]}, "rods"), ({"compressors": ["25 m3/min"]}, "compressors"), ({"compressors": ["25 L at 2400 kPa"]}, "compressors"),
        ({"compressors": ["25 m3/min at 2 Pa"]}, "compressors"),
        ({"word": "hole"}, "word"), ({"units": "cubits"}, "units"), ({"units": "US"}, "units"), ({"paper": "A3"}, "paper"), ({"currency": "dollars"}, "currency"),
        ({"zone": "Mars/Olympus"}, "zone"), ({"zone": "../../etc/passwd"}, "zone"), ({"zone": ""}, "zone"), ({"bag_mass": 0}, "bag_mass"),
        ({"bag_mass": math.nan}, "bag_mass"), ({"bag_mass": "20"}, "bag_mass"), ({"bag_mass": True}, "bag_mass"), ({"email": "nobody"}, "email"),
        ({"colour": "red"}, "colour"), ({"firm": 7}, "firm"), ({"firm": "x" * 201}, "firm"), ({"firm": "a\x00b"}, "firm"), ({"keep_backups": 0}, "keep_backups"),
        ({"keep_backups": 2.5}, "keep_backups"), ({"quote_valid_days": 366}, "quote_valid_days"), ({"favourite": "x"}, "favourite"),
    ],
)
def test_bad_settings_are_refused_by_name_from_a_form_and_from_the_file(tmp_path, change, field):
    import tomli_w

    with pytest.raises(BadInput) as caught:
        settings_from_dict(FULL | change)
    assert caught.value.field == field
    if "\x00" not in str(change.values()):
        (tmp_path / "settings.toml").write_text(tomli_w.dumps(FULL | change), encoding="utf-8")
        with pytest.raises(BadInput) as caught:
            load_settings(tmp_path)
        assert caught.value.field == field


def test_a_file_that_is_not_toml_is_named(tmp_path):
    for data in (b"firm = ", b"\xff\xfe"):
        (tmp_path / "settings.toml").write_bytes(data)
        with pytest.raises(BadInput, match="is not TOML"):
            load_settings(tmp_path)


def _dearer(card, name="Dearer (invented)"):
    table = card_as_dict(card)
    table["name"] = name
    return card_from_dict(table)


def test_rate_cards_are_kept_for_ever_under_their_version(tmp_path):
    assert current_rate_card(tmp_path) is None
    assert rate_card_versions(tmp_path) == []
    first, second = sample_card(), _dearer(sample_card())
    a = save_rate_card(first, tmp_path)
    b = save_rate_card(second, tmp_path)
    assert a == card_version(first) != b
    assert current_rate_card(tmp_path) == second
    assert rate_card(a, tmp_path) == first
    listed = {v.version: v for v in rate_card_versions(tmp_path)}
    assert {key: v.current for key, v in listed.items()} == {a: False, b: True}
    assert listed[b].name == "Dearer (invented)"
    kept = (tmp_path / "rate_cards" / f"{a}.toml").stat().st_mtime_ns
    assert save_rate_card(first, tmp_path) == a
    assert current_rate_card(tmp_path) == first
    assert (tmp_path / "rate_cards" / f"{a}.toml").stat().st_mtime_ns == kept
    assert len(rate_card_versions(tmp_path)) == 2


def test_a_rate_card_that_is_gone_changed_or_named_by_a_path(tmp_path):
    version = save_rate_card(sample_card(), tmp_path)
    with pytest.raises(NotFound):
        rate_card("0" * 16, tmp_path)
    with pytest.raises(BadInput):
        rate_card("../settings", tmp_path)
    path = tmp_path / "rate_cards" / f"{version}.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("950.00", "960.00"), encoding="utf-8")
    with pytest.raises(StoreError, match="has been changed since"):
        current_rate_card(tmp_path)
    path.write_text("not = toml = at all", encoding="utf-8")
    with pytest.raises(StoreError, match="can no longer be read"):
        current_rate_card(tmp_path)


def test_settings_never_change_in_place():
    with pytest.raises(AttributeError):
        Settings().firm = "x"
    with pytest.raises(BadInput):
        replace(Settings(), units="cubits")
