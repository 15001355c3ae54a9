"""Water: an analysis entered as the laboratory wrote it, what follows from its ions, guidelines by use, and what it means.

Concentrations in mg/L of the ion, conductivity in uS/cm at 25 degC, degC, pH. What others call::

    assess(values, use="drinking"|"stock"|"irrigation", guidelines=None, temperature=None) -> Assessment
        values: an Analysis, or rows {"name", "value" ("<0.001", "0.3" or a number), "unit", "below_detection"?, "form"?}
        Assessment: sentence, findings (past a guideline first), not_tested, indices, materials, treatments, retest, advisories
    assessment_as_dict(assessment) -> dict      plain JSON types: sentence, findings [{name, value, unit, verdict, guideline, sentence ...}],
        exceedances, not_tested, indices {name: {value, unit, meaning}}, materials, treatments, retest, guidelines, diagrams, advisories
    result(name, value, unit, form=), analysis_of(results), analysis_from_values(rows), read_analysis_csv(text) -> Analysis
    ion_balance, hardness, hardness_class, alkalinity, dissolved_solids, solids_from_conductivity, adjusted_conductivity,
    sodium_adsorption_ratio(sodium, calcium, magnesium in meq/L), residual_sodium_carbonate, langelier(...), saturation_indices(sample)
    guideline_sets(use), USES; PARAMETERS, parameter(name), units_for(name)
    diagram_data(sample) -> trilinear, radial and parallel points as plain numbers; equivalents, trilinear_points, water_type
    trend(time, values), step_change(values), meets(trend, limit, now=)

No result says that water is safe: it is within, above or below the guideline of a publisher and a year, for what was tested.
Nitrate, nitrite and phosphate must say their form ("as nitrogen", or the unit "mg/L as N").
"""

from borewright.water.analysis import (
    Analysis,
    IonBalance,
    Result,
    adjusted_conductivity,
    alkalinity,
    analysis_from_values,
    analysis_of,
    check_analysis,
    dissolved_solids,
    hardness,
    hardness_class,
    ion_balance,
    read_analysis_csv,
    residual_sodium_carbonate,
    result,
    sample_sodium_adsorption_ratio,
    sheet_rows,
    sodium_adsorption_ratio,
    solids_from_conductivity,
)
from borewright.water.assessment import DRINKING_CAUTION, Assessment, Finding, assess, assessment_as_dict
from borewright.water.diagrams import (
    diagram_data,
    equivalents,
    parallel_points,
    radial_points,
    trilinear_points,
    water_type,
)
from borewright.water.guidelines import USES, GuidelineSet, Limit, guideline_sets
from borewright.water.history import Step, Trend, meets, step_change, trend
from borewright.water.indices import (
    CarbonateIndices,
    carbonate_indices,
    langelier,
    langelier_meaning,
    larson_ratio,
    ryznar_meaning,
    saturation_indices,
)
from borewright.water.meaning import Meaning, materials, retest, treatments
from borewright.water.species import PARAMETERS, Parameter, parameter, to_canonical, units_for

__all__ = [
    "DRINKING_CAUTION", "PARAMETERS", "USES", "Analysis", "Assessment", "CarbonateIndices", "Finding", "GuidelineSet", "IonBalance", "Limit", "Meaning", "Parameter", "Result",
    "Step", "Trend", "adjusted_conductivity", "alkalinity", "analysis_from_values", "analysis_of", "assess", "assessment_as_dict", "carbonate_indices", "check_analysis",
    "diagram_data", "dissolved_solids", "equivalents", "guideline_sets", "hardness", "hardness_class", "ion_balance", "langelier", "langelier_meaning", "larson_ratio", "materials",
    "meets", "parallel_points", "parameter", "radial_points", "read_analysis_csv", "residual_sodium_carbonate", "result", "retest", "ryznar_meaning", "sample_sodium_adsorption_ratio",
    "saturation_indices", "sheet_rows", "sodium_adsorption_ratio", "solids_from_conductivity", "step_change", "to_canonical", "treatments", "trend", "trilinear_points", "units_for", "water_type",
]
