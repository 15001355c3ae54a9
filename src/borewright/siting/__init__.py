"""Where to drill and what to expect: registers of other bores, the odds they give, and how right those odds have been.

Public names::

    load_register(bores, *, name, strikes=None, intervals=None, columns=None, folder=None, progress=...) -> LoadReport
    open_register(name, folder=None) -> Register;  list_registers(folder=None) -> list of dict
    odds_at(register, latitude, longitude, *, need, depths=None, opinion=None) -> Odds    .prospect .column .by_depth .sentence
    odds_at_sites(register, latitude, longitude, *, need, depth) -> SiteOdds              arrays p, low, high, effective_records
    odds_as_dict, prospect_as_dict / prospect_from_dict, column_as_dict / column_from_dict
    map_of_odds(register, area, *, need, depth, cell, client=None, progress) -> OddsMap    p, low, high, effective_records on a grid
    bounds_of(register), coarser(map, most)              (files: exchange.map_as_geojson, map_as_geotiff; drawing: oddsmap.odds_map, picture)
    preview(bores, columns, *, rows=20) -> Preview       the first rows as they would be read, each with its refusal
    prove(register, *, need, boosting=False, ...) -> Proof;  proof_as_dict
    standing_of(register, need) -> Standing | None       what the kept track record found
    joined(register, other) -> Register                  two registers as one
    chance_of_enough(prospect, needs, depths) -> chances, shape (needs, depths)
    plane_from_points, plane_from_strike, cut_depths, collars_cutting_two                 beds and fractures
    apparent_resistivity, invert_sounding                                                 four-electrode soundings
    rank_spots, setback_breaches, sample_setbacks, expected_cost_to_success               candidate spots
    divining_trials() -> (trials, what is to be said of their sources)                    published, with their status words
    rate_from_counts(strikes, metres, ...) -> RateBelief                                  the driller's own few holes

What the bores say is fitted once when a register is loaded (strikes as a marked Poisson process in depth, smooth fields of its
local scale and yield over the ground) and kept beside it.
"""

from borewright.siting.columns import ColumnMap, column_map_from_toml, read_column_map
from borewright.siting.compound import chance_of_enough
from borewright.siting.keep import joined, list_registers, load_register, open_register, registers_folder
from borewright.siting.load import (
    LoadReport,
    Preview,
    PreviewRow,
    RefusedRow,
    preview,
    read_register,
)
from borewright.siting.odds import (
    DepthOdds,
    NearBore,
    Odds,
    Opinion,
    SiteOdds,
    odds_at,
    odds_at_sites,
    opinion_from_text,
)
from borewright.siting.oddsmap import OddsMap, bounds_of, coarser, map_of_odds, tile_odds
from borewright.siting.plain import column_as_dict, column_from_dict, odds_as_dict, prospect_as_dict, prospect_from_dict
from borewright.siting.planes import (
    CollarChoice,
    Plane,
    apparent_dip,
    collars_cutting_two,
    cut_depths,
    plane_from_points,
    plane_from_strike,
)
from borewright.siting.prospect import ExpectedColumn, WaterProspect
from borewright.siting.prove import PickRecord, Proof, ReliabilityBin, pick_record, proof_as_dict, prove
from borewright.siting.rate import RateBelief, rate_from_counts
from borewright.siting.register import Intervals, Register, Strikes
from borewright.siting.sounding import Layers, SoundingFit, apparent_resistivity, invert_sounding
from borewright.siting.spots import (
    Breach,
    Hazard,
    RankedSpot,
    Setback,
    Spot,
    expected_cost_to_success,
    rank_spots,
    sample_setbacks,
    setback_breaches,
    setbacks_from_toml,
)
from borewright.siting.standing import Standing, standing_of
from borewright.siting.trials import Trial, divining_trials

__all__ = [
    "Breach", "CollarChoice", "ColumnMap", "DepthOdds", "ExpectedColumn", "Hazard", "Intervals", "Layers", "LoadReport",
    "NearBore", "Odds", "OddsMap", "Opinion", "PickRecord", "Plane", "Preview", "PreviewRow", "Proof", "RankedSpot", "RateBelief",
    "RefusedRow", "Register", "ReliabilityBin", "Setback", "SiteOdds", "SoundingFit", "Spot", "Standing", "Strikes", "Trial", "WaterProspect",
    "apparent_dip", "apparent_resistivity", "bounds_of", "chance_of_enough", "coarser", "collars_cutting_two", "column_as_dict",
    "column_from_dict", "column_map_from_toml", "cut_depths", "divining_trials", "expected_cost_to_success", "invert_sounding", "joined", "list_registers",
    "load_register", "map_of_odds", "odds_as_dict", "odds_at", "odds_at_sites", "open_register", "opinion_from_text",
    "pick_record", "plane_from_points", "plane_from_strike", "preview", "proof_as_dict", "prospect_as_dict", "prospect_from_dict",
    "prove", "rank_spots", "rate_from_counts", "read_column_map", "read_register", "registers_folder", "sample_setbacks",
    "setback_breaches", "setbacks_from_toml", "standing_of", "tile_odds",
]
