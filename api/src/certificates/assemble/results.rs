//! The results of a certificate: value, range, decisions; and the holds that were accepted.

use super::{goods::Labels, person, runs, sentences};
use crate::{
    certificates::{evidence::Evidence, refusal::incomplete},
    error::{Answer, ApiError},
    kept::Kept,
};
use domain::{
    certificates::{
        AccreditationStatus, CertifiedDecision, CertifiedLimit, CertifiedResult, CertifiedRun,
        CertifiedUncertainty, DecisionRuleUsed, DecisionTerm, Factor, LiftedHold, MeasuringRange,
        Signature,
    },
    decisions::{Decision, PROBABILITY, Verdict},
    dilution,
    holds::LiftedBy,
    id::{HoldId, LimitId, LotId, ResultId},
    limits::{Authority, Comparison, Limit},
    procedures::ProcedureEntry,
    quantity::{Concentration, Unit},
    results::{self, ComputedResult, ResultVersion},
    reviews::Review,
};
use rust_decimal::Decimal;
use uuid::Uuid;

/// One result as it is certified.
pub(super) fn result(
    evidence: &Evidence,
    labels: &Labels,
    result: &Kept<ResultVersion>,
) -> Answer<CertifiedResult> {
    let computed = &result.content.computed;
    let incomplete = |what: &str| incomplete(format!("result {} {what}", result.id));
    let used = computed
        .procedure
        .ok_or_else(|| incomplete("names no procedure"))?;
    let procedure = evidence
        .procedures
        .get(&(used.id.0, used.version))
        .ok_or_else(|| ApiError::internal("a procedure that was read is not there"))?;
    let finding = computed
        .finding
        .ok_or_else(|| incomplete("says nothing yet"))?;
    let unit = computed.unit;
    let runs = runs::runs(evidence, labels, computed)?;
    let (began, ended) = times(&runs).ok_or_else(|| incomplete("stands on no run"))?;
    Ok(CertifiedResult {
        id: ResultId(result.id),
        version: u64::try_from(result.version).map_err(ApiError::internal)?,
        lot: LotId(evidence.lot.0),
        sample: computed.sample,
        analyte: computed.analyte,
        analyte_name: capitalised(computed.analyte.name()),
        procedure: used.id,
        finding,
        value: computed
            .concentration
            .map(|value| in_unit(value, unit))
            .transpose()?,
        reported: computed.reported.clone().unwrap_or_default(),
        unit,
        rounding: sentences::rounding(&procedure.rounding),
        basis: "as received".to_owned(),
        recovery_corrected: procedure.recovery_of(computed.analyte).is_some(),
        uncertainty: uncertainty(computed, procedure)?,
        lot_doubt: computed.lot.clone(),
        ranges: ranges(evidence, computed, procedure)?,
        began_at: began,
        ended_at: ended,
        derivation: sentences::derivation(computed, &runs, printed(unit)),
        runs,
        decisions: computed
            .decisions
            .iter()
            .map(|decision| certified_decision(evidence, decision, computed, unit))
            .collect::<Answer<_>>()?,
        accreditation: AccreditationStatus::NoneClaimed,
        released: release(evidence, result.id),
    })
}

/// The signature that released a result.
pub(super) fn release(evidence: &Evidence, result: Uuid) -> Option<Signature> {
    let review: &Review = evidence.releases.get(&result)?;
    Some(Signature {
        by: person(evidence, review.reviewer),
        signed_at: review.signed_at,
        meaning: domain::certificates::Meaning::Released,
        comment: review.comment.clone(),
    })
}

fn capitalised(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// A concentration in a unit, exactly, without zeros that say nothing.
pub(super) fn in_unit(value: Concentration, unit: Unit) -> Answer<Decimal> {
    let per_unit = unit.in_ug_per_kg();
    if per_unit == Decimal::ONE {
        return Ok(value.ug_per_kg());
    }
    value
        .ug_per_kg()
        .checked_div(per_unit)
        .ok_or_else(|| ApiError::internal("a concentration leaves the range of its unit"))
}

const fn printed(unit: Unit) -> &'static str {
    match unit {
        Unit::UgPerKg => "µg/kg",
        Unit::MgPerKg => "mg/kg",
        Unit::NgPerG => "ng/g",
        Unit::UgPerG => "µg/g",
    }
}

fn times(runs: &[CertifiedRun]) -> Option<(domain::time::Moment, domain::time::Moment)> {
    let began = runs
        .iter()
        .map(|run| run.began_at.unwrap_or(run.read_at))
        .min()?;
    let ended = runs.iter().map(|run| run.read_at).max()?;
    Some((began, ended))
}

fn uncertainty(
    computed: &ComputedResult,
    procedure: &ProcedureEntry,
) -> Answer<Option<CertifiedUncertainty>> {
    let Some(place) = &computed.uncertainty else {
        return Ok(None);
    };
    let expanded = in_unit(place.expanded, computed.unit)?;
    let rounded = procedure
        .rounding
        .apply(expanded)
        .map_err(ApiError::internal)?;
    Ok(Some(CertifiedUncertainty {
        expanded,
        reported: rounded.to_string(),
        coverage_factor: place.coverage_factor.0,
        covers: "the analysis of the test portion; sampling is not included".to_owned(),
        budget: place.lines.clone(),
    }))
}

/// The measuring range undiluted, and once more for each dilution of a run.
fn ranges(
    evidence: &Evidence,
    computed: &ComputedResult,
    procedure: &ProcedureEntry,
) -> Answer<Vec<MeasuringRange>> {
    let kit_lot = computed
        .runs
        .iter()
        .filter(|run| run.standing)
        .filter_map(|run| evidence.runs.get(&run.run.0)?.content.entry.kit_lot)
        .find_map(|id| evidence.kit_lots.get(&id.0));
    let range = results::MeasuringRange::of(
        procedure.range_of(computed.analyte),
        kit_lot.and_then(|lot| lot.content.entry.range_of(computed.analyte)),
    );
    let Some(range) = range else {
        return Ok(Vec::new());
    };
    let one = dilution::factor_of(&[]).map_err(ApiError::internal)?;
    let mut factors = vec![one];
    for run in &computed.runs {
        if !factors.contains(&run.factor) {
            factors.push(run.factor);
        }
    }
    factors
        .into_iter()
        .map(|factor| {
            let scaled = range.scaled(factor).map_err(ApiError::internal)?;
            let end = |end| in_unit(end, computed.unit).map(|end| end.normalize());
            Ok(MeasuringRange {
                dilution: certified_factor(factor).label(),
                lod: end(scaled.lod)?,
                loq: end(scaled.loq)?,
                upper: end(scaled.upper)?,
            })
        })
        .collect()
}

pub(super) fn certified_factor(factor: dilution::Factor) -> Factor {
    Factor {
        numerator: Decimal::from(factor.numerator()),
        denominator: Decimal::from(factor.denominator()),
    }
}

fn certified_decision(
    evidence: &Evidence,
    decision: &Decision,
    computed: &ComputedResult,
    unit: Unit,
) -> Answer<CertifiedDecision> {
    let (id, limit) = evidence
        .limits
        .get(&decision.limit)
        .ok_or_else(|| ApiError::internal("a limit that a decision names is not there"))?;
    let band = decision
        .guard_band
        .map(|band| in_unit(band, unit))
        .transpose()?;
    Ok(CertifiedDecision {
        limit: certified_limit(*id, limit, decision, unit)?,
        rule: DecisionRuleUsed {
            code: decision.rule.code().to_owned(),
            words: decision.rule.words().to_owned(),
            guard_band: band,
        },
        decision: DecisionTerm::from(&decision.decision),
        explanation: explanation(&decision.decision),
        statement: statement(decision),
        probability_of_conformity: decision.probability_of_conformity.map(|p| p.0),
        probability_lot_above: computed
            .lot
            .as_ref()
            .and_then(|lot| lot.chance_of(&decision.limit)?.probability_above)
            .map(|probability| probability.0),
    })
}

/// The term, and what it means.
fn explanation(verdict: &Verdict) -> String {
    let meaning = match verdict {
        Verdict::Undecided { reason } => reason.explanation(),
        Verdict::Pass
        | Verdict::ConditionalPass
        | Verdict::ConditionalFail
        | Verdict::Fail
        | Verdict::Negative
        | Verdict::Suspect => verdict.explanation(),
    };
    format!("{}: {meaning}", capitalised(verdict.name()))
}

/// Why it was decided so. The sentences of the rule's zones and of the probability are left out:
/// rule, limit, guard band and probability stand beside it.
fn statement(decision: &Decision) -> String {
    let reasons: Vec<&str> = decision
        .reasons
        .iter()
        .map(String::as_str)
        .filter(|reason| !reason.starts_with("Rule: "))
        .filter(|reason| !reason.starts_with(PROBABILITY))
        .collect();
    reasons.join(" ")
}

fn certified_limit(
    id: Uuid,
    limit: &Limit,
    decision: &Decision,
    unit: Unit,
) -> Answer<CertifiedLimit> {
    let (name, authority, jurisdiction) = match &limit.authority {
        Authority::Law {
            jurisdiction,
            authority_kind,
        } => (
            capitalised(&limit.intended_use),
            authority_kind.name(),
            Some(jurisdiction.to_string()),
        ),
        Authority::Contract { .. } => ("Contract".to_owned(), "contract", None),
        Authority::Intake { .. } => ("Intake".to_owned(), "intake", None),
    };
    Ok(CertifiedLimit {
        id: LimitId(id),
        name,
        authority: authority.to_owned(),
        jurisdiction,
        intended_use: limit.intended_use.clone(),
        commodity: limit.commodity.clone(),
        value: in_unit(decision.limit_value, unit)?.normalize(),
        unit,
        basis: decision.basis.to_string(),
        comparison: match decision.comparison {
            Comparison::Exceeds => "exceeds",
            Comparison::AtOrAbove => "reaches",
        }
        .to_owned(),
        effective_from: limit.effective_from.map(|from| from.first_day()),
        source: limit.source.clone(),
    })
}

/// Holds that somebody lifted by accepting them with a reason.
pub(super) fn lifted_holds(evidence: &Evidence) -> Vec<LiftedHold> {
    evidence
        .holds
        .iter()
        .filter_map(|(id, hold)| {
            let hold = &hold.content;
            let lifted = hold
                .lifted
                .as_ref()
                .filter(|lifted| lifted.how == LiftedBy::Acceptance)?;
            Some(LiftedHold {
                id: HoldId(*id),
                kind: hold.kind.word().to_owned(),
                words: format!("{} {}", hold.kind.explanation(), hold.detail),
                reason: lifted.reason.clone(),
                accepted_by: person(evidence, lifted.by?),
                accepted_at: lifted.at,
            })
        })
        .collect()
}
