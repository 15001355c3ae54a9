"""A bore that will stand, seal and let water in: casing, screen, seal, grout, the checks at each stage of building it, and sealing it up.

SI throughout; depths positive down from ground level; diameters outside unless named otherwise. What others call::

    design_from_expected(prospect: WaterProspect, column: ExpectedColumn, *, need [m3/s], total_depth=None, static_level=None,
                         pumping_level=None, settings=DesignSettings(), catalogue=standard_catalogue()) -> BoreDesign
    design_from_log(ground, strikes, *, total_depth, static_level, pumping_level, need, rockhead=None, settings=..., catalogue=...) -> BoreDesign
        ground: rows with from_depth, to_depth and ground_class (or words); strikes: (depth [m], flow [m3/s]) pairs
        hole=[(from, to, diameter), ...] as drilled and conductor=row as run (to_depth, outside_diameter, wall, material) are kept where given
    design_bore(ground, strikes, *, rockhead, total_depth, static_level, pumping_level, need, basis="by hand", settings=..., catalogue=...) -> BoreDesign
    check_design(design, *, catalogue=...) -> DesignCheck(rules, stages, advisories, passes)        every rule, live, after hand edits
    recheck(design, *, catalogue=...) -> BoreDesign          the same design with stages, volumes, bags, materials and advisories reckoned anew
    stage_profiles(design, *, step=0.5) -> tuple[StageProfile(stage, string, depth, pressure, resistance, factor, required)]   to draw margins
    profiles_as_dict(profiles) -> list of dict, plain JSON
    design_as_dict(design) -> dict; design_from_dict(dict) -> BoreDesign    keys strings slots hole annulus stages materials advisories
        differently (words) steps (order of work, words) centralisers headworks settings ground strikes notes and the numbers of a BoreDesign
    compare_casings(design, [casing name, ...]) -> tuple[CasingChoice]
    disinfection(design, *, product=, ph=) -> ChlorineDose          all the water of this bore; centralisers_of(design) spreads them anew
    read_settings(dict) -> DesignSettings, each value checked
    seal_hole(ground, strikes, *, hole=[(from, to, diameter), ...], water_level=None, casing_foot=None, way="grout throughout"|"fill and plugs",
              mix=, chips=, waste=, bag_mass=) -> SealingPlan(intervals, steps, grout_bags, ...); sealing_as_dict(plan)
    standard_catalogue(), read_catalogue(path) -> Catalogue; casing_of(catalogue, material, outside_diameter, wall) -> Casing
    collapse_resistance(casing, temperature=, long_term=, axial_stress=), burst_resistance(casing)
    slurry(mix, ...), grout_volume(...), seal_pellets(...), chlorine_dose(...), slotted_pipe(...), entrance(...), filter_pack(...)

Nothing here replaces the local code, a licensed driller or the supplier's tested figures; each result carries its cautions.
"""

from borewright.construction.catalogue import (
    Casing,
    Catalogue,
    Material,
    burst_resistance,
    casing_doubts,
    casing_of,
    collapse_resistance,
    read_catalogue,
    standard_catalogue,
)
from borewright.construction.chlorine import PRODUCTS, ChlorineDose, chlorine_dose
from borewright.construction.column import GroundInterval, Strike
from borewright.construction.design import (
    Annulus,
    BoreDesign,
    CasingString,
    DesignSettings,
    HoleInterval,
    MaterialItem,
    Slots,
    StageCheck,
    design_as_dict,
    design_from_dict,
    read_settings,
)
from borewright.construction.grout import (
    GroutJob,
    Mix,
    Slurry,
    TremieFlow,
    annulus_volume,
    check_slurry,
    grout_mix,
    grout_mixes,
    grout_volume,
    inside_volume,
    longest_lift,
    slurry,
    tremie_flow,
)
from borewright.construction.programme import centralisers_of, design_bore, design_from_expected, design_from_log
from borewright.construction.rules import (
    CasingChoice,
    DesignCheck,
    RuleCheck,
    check_design,
    compare_casings,
    recheck,
    what_differently,
)
from borewright.construction.screens import (
    Entrance,
    FilterPack,
    SlottedPipe,
    aperture_for,
    entrance,
    filter_pack,
    grain_size,
    slotted_pipe,
    uniformity,
)
from borewright.construction.seal import FILLS, SealJob, seal_pellets
from borewright.construction.sealing import SEALING_WAYS, SealedInterval, SealingPlan, seal_hole, sealing_as_dict
from borewright.construction.stages import (
    STAGES,
    StageProfile,
    check_stages,
    profiles_as_dict,
    shallowest_failure,
    stage_profiles,
)
from borewright.construction.strength import (
    buckling_load,
    encased_collapse,
    ovality_factor,
    pipe_area,
    plastic_burst,
    plastic_collapse,
    reduced_yield,
    self_buckling_length,
    slotted_share,
    steel_burst,
    steel_collapse,
    steel_collapse_limits,
    steel_collapse_regime,
)
from borewright.construction.volumes import disinfection

__all__ = [
    "FILLS", "PRODUCTS", "SEALING_WAYS", "STAGES", "Annulus", "BoreDesign", "Casing", "CasingChoice", "CasingString", "Catalogue",
    "ChlorineDose", "DesignCheck", "DesignSettings", "Entrance", "FilterPack", "GroundInterval", "GroutJob", "HoleInterval", "Material",
    "MaterialItem", "Mix", "RuleCheck", "SealJob", "SealedInterval", "SealingPlan", "Slots", "SlottedPipe", "Slurry", "StageCheck",
    "StageProfile", "Strike", "TremieFlow", "annulus_volume", "aperture_for", "buckling_load", "burst_resistance", "casing_doubts",
    "casing_of", "centralisers_of", "check_design", "check_slurry", "check_stages", "chlorine_dose", "collapse_resistance", "compare_casings",
    "design_as_dict", "design_bore", "design_from_dict", "design_from_expected", "design_from_log", "disinfection", "encased_collapse", "entrance",
    "filter_pack", "grain_size", "grout_mix", "grout_mixes", "grout_volume", "inside_volume", "longest_lift", "ovality_factor", "pipe_area",
    "plastic_burst", "plastic_collapse", "profiles_as_dict", "read_catalogue", "read_settings", "recheck", "reduced_yield", "seal_hole", "seal_pellets",
    "sealing_as_dict", "self_buckling_length", "shallowest_failure", "slotted_pipe", "slotted_share", "slurry", "stage_profiles",
    "standard_catalogue", "steel_burst", "steel_collapse", "steel_collapse_limits", "steel_collapse_regime", "tremie_flow", "uniformity",
    "what_differently",
]
