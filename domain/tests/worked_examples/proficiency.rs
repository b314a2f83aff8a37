//! Proficiency testing and robust statistics: `04_proficiency.toml`.

use super::call::{proficiency_scores, robust_figures, robust_scales};
use super::case::{Answers, Case, Failure};
use super::gather::Gather;
use domain::quantity::Number;
use domain::statistics::proficiency::{
    AssessmentDeviation, ParticipantResult, ProficiencyRound, StatedUncertainty,
};
use domain::statistics::robust::{QuartileRule, RobustConstants, RobustInput, RobustScalesInput};

pub(crate) fn compute(case: &Case) -> Result<Answers, Failure> {
    if case.has("X") {
        return scores(case);
    }
    if case.has("iqr") {
        return scales(case);
    }
    if case.has("x") {
        return robust(case);
    }
    Err(Failure::Unknown)
}

fn robust(case: &Case) -> Result<Answers, Failure> {
    let with = |constants: RobustConstants| {
        robust_figures(&RobustInput {
            values: case.many("x")?,
            constants,
            quartiles: QuartileRule::default(),
        })
        .map_err(Failure::from)
    };
    let (exact, iso) = (with(RobustConstants::Exact)?, with(RobustConstants::Iso)?);
    Ok(Gather::of(case)
        .put("mean", exact.robust_mean)
        .put("s", exact.robust_standard_deviation)
        .put("mean_iso_constants", iso.robust_mean)
        .put("s_iso_constants", iso.robust_standard_deviation)
        .put("median", exact.median)
        .put("scaled_mad", exact.scaled_mad)
        .put("arithmetic_mean", exact.arithmetic_mean)
        .done())
}

fn scales(case: &Case) -> Result<Answers, Failure> {
    let said = robust_scales(&RobustScalesInput {
        iqr: case.one("iqr")?,
        mad: case.one("mad")?,
        robust_standard_deviation: case.one("s_star")?,
        participants: case.whole("p")?,
    })?;
    Ok(Gather::of(case)
        .put("mad_constant", said.mad_constant)
        .put("niqr_constant", said.niqr_constant)
        .put("madE", said.scaled_mad)
        .put("nIQR", said.normalised_iqr)
        .put("u_assigned", said.u_assigned)
        .done())
}

/// Whichever of a standard and an expanded uncertainty is there.
fn uncertainty(case: &Case, of: &str) -> Result<Option<StatedUncertainty>, Failure> {
    let expanded = case.maybe(&format!("U_{of}"))?;
    let standard = case.maybe(&format!("u_{of}"))?;
    let stated = expanded.map(|expanded| StatedUncertainty::Expanded {
        expanded,
        coverage_factor: None,
    });
    Ok(stated.or_else(|| {
        standard.map(|standard| StatedUncertainty::Standard {
            standard,
            coverage_factor: None,
        })
    }))
}

fn scores(case: &Case) -> Result<Answers, Failure> {
    let relative = case.maybe("sigma_rel")?.map(AssessmentDeviation::Relative);
    let absolute = case.maybe("sigma_pt")?.map(AssessmentDeviation::Absolute);
    let own = uncertainty(case, "x")?;
    let result = |value: Number| ParticipantResult {
        value,
        uncertainty: own,
    };
    let said = proficiency_scores(&ProficiencyRound {
        assigned_value: case.one("X")?,
        assigned_uncertainty: uncertainty(case, "X")?,
        assessment_deviation: relative.or(absolute),
        results: case.many("x")?.into_iter().map(result).collect(),
    })?;
    let all = &said.participants;
    let score = |take: &dyn Fn(usize) -> Option<Number>| -> Vec<Number> {
        (0..all.len()).filter_map(take).collect()
    };
    let of = |at: usize| all.get(at);
    Ok(Gather::of(case)
        .put_some("sigma_pt", said.sigma_pt)
        .put_some("uncertainty_negligible", said.uncertainty_negligible)
        .put_each("z", score(&|at| Some(of(at)?.z?.value)))
        .put_each("z_prime", score(&|at| Some(of(at)?.z_prime?.value)))
        .put_each("zeta", score(&|at| Some(of(at)?.zeta?.value)))
        .put_each("En", score(&|at| Some(of(at)?.en?.value)))
        .done())
}
