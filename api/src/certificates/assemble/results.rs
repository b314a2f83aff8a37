//! The results of a certificate: value, range, runs, decisions; and the controls and holds behind
//! them.

use super::{goods::Labels, person, sentences};
use crate::{
    certificates::{evidence::Evidence, refusal::incomplete},
    error::{Answer, ApiError},
    kept::Kept,
};
use domain::{
    certificates::{
        AccreditationStatus, CertifiedDecision, CertifiedLimit, CertifiedResult, CertifiedRun,
        CertifiedUncertainty, ControlReading, DecisionRuleUsed, DecisionTerm, DilutionStep, Factor,
        KitLotUsed, LiftedHold, MeasuringRange, ReaderUsed, RunReading, RunUse, Signature,
    },
    decisions::{Decision, Verdict},
    dilution,
    holds::LiftedBy,
    id::{ControlMaterialId, HoldId, LimitId, LotId, ResultId, RunId},
    limits::{Authority, Comparison, Limit},
    procedures::ProcedureEntry,
    quality_control::judge_reading,
    quantity::{Concentration, Unit},
    results::{self, ComputedResult, ResultVersion, Use},
    reviews::Review,
    runs::{Reading, ReadingKind, Run},
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
    let runs = runs(evidence, labels, computed)?;
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
        recovery_corrected: false,
        uncertainty: uncertainty(computed, procedure)?,
        ranges: ranges(evidence, computed, procedure)?,
        began_at: began,
        ended_at: ended,
        derivation: sentences::derivation(computed, &runs, printed(unit)),
        runs,
        decisions: computed
            .decisions
            .iter()
            .map(|decision| certified_decision(evidence, decision, unit))
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
fn in_unit(value: Concentration, unit: Unit) -> Answer<Decimal> {
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
        budget: Vec::new(),
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

fn certified_factor(factor: dilution::Factor) -> Factor {
    Factor {
        numerator: Decimal::from(factor.numerator()),
        denominator: Decimal::from(factor.denominator()),
    }
}

fn runs(
    evidence: &Evidence,
    labels: &Labels,
    computed: &ComputedResult,
) -> Answer<Vec<CertifiedRun>> {
    let standing = computed.runs.iter().filter(|run| run.standing).count();
    let mut certified = Vec::with_capacity(computed.runs.len());
    for used in &computed.runs {
        let Some(found) = evidence.runs.get(&used.run.0) else {
            return Err(ApiError::internal("a run that a result names is not there"));
        };
        let Some(reading) = found.content.reading_of(computed.analyte) else {
            continue;
        };
        let entry = &found.content.entry;
        let what = match used.why {
            Use::Stands if standing > 1 => RunUse::Replicate,
            Use::Stands => RunUse::Reported,
            Use::OverRange => RunUse::OverRange,
            Use::Withdrawn
            | Use::Invalid
            | Use::AnotherProcedure
            | Use::NoRange
            | Use::Uncomputable
            | Use::DilutedTooFar
            | Use::LowerDilutionInRange
            | Use::ReplicateOverRange => RunUse::NotUsed,
        };
        let mut run = CertifiedRun {
            id: used.run,
            version: u64::try_from(found.version).map_err(ApiError::internal)?,
            used: what,
            series: entry.series,
            extract: entry
                .extract
                .and_then(|id| labels.get(&id.0).cloned())
                .unwrap_or_else(|| "not recorded".to_owned()),
            reading: certified_reading(reading, computed.unit)?,
            already_multiplied: entry.value_includes_factor,
            dilution: entry
                .dilution
                .iter()
                .map(|step| DilutionStep {
                    sample_volume_ul: step.sample_volume_ul.0,
                    diluent_volume_ul: step.diluent_volume_ul.0,
                    diluent: step.diluent.clone(),
                })
                .collect(),
            factor: certified_factor(found.content.factor),
            concentration: None,
            kit_lot: kit_lot(evidence, &found.content),
            reader: reader(evidence, &found.content),
            analyst: entry.analyst.map(|account| person(evidence, account)),
            began_at: entry.begun_at,
            read_at: entry.read_at.or(entry.begun_at).unwrap_or(found.created_at),
        };
        run.concentration = run.expected_concentration();
        certified.push(run);
    }
    Ok(certified)
}

fn certified_reading(reading: &Reading, unit: Unit) -> Answer<RunReading> {
    let figure = || -> Answer<Decimal> {
        let value = reading
            .value
            .ok_or_else(|| ApiError::internal("a reading with a number has none"))?;
        if reading.unit == unit {
            return Ok(value.0);
        }
        value
            .0
            .checked_mul(reading.unit.in_ug_per_kg())
            .and_then(|value| value.checked_div(unit.in_ug_per_kg()))
            .ok_or_else(|| ApiError::internal("a reading leaves the range of its unit"))
    };
    Ok(match reading.kind {
        ReadingKind::Number => RunReading::Number { value: figure()? },
        ReadingKind::Below => RunReading::Below { value: figure()? },
        ReadingKind::Above => RunReading::Above { value: figure()? },
        ReadingKind::NotDetected => RunReading::NotDetected,
        ReadingKind::Invalid => RunReading::Invalid,
    })
}

fn kit_lot(evidence: &Evidence, run: &Run) -> Option<KitLotUsed> {
    let id = run.entry.kit_lot?;
    let lot = &evidence.kit_lots.get(&id.0)?.content.entry;
    Some(KitLotUsed {
        id,
        code: lot.code.clone(),
        expires_on: lot.expires_on,
    })
}

fn reader(evidence: &Evidence, run: &Run) -> Option<ReaderUsed> {
    let id = run.entry.reader?;
    let reader = &evidence.readers.get(&id.0)?.content;
    Some(ReaderUsed {
        id,
        serial: reader.serial.clone(),
        port: u32::from(run.entry.port),
    })
}

fn certified_decision(
    evidence: &Evidence,
    decision: &Decision,
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
        explanation: match &decision.decision {
            Verdict::Undecided { reason } => reason.explanation().to_owned(),
            verdict @ (Verdict::Pass
            | Verdict::ConditionalPass
            | Verdict::ConditionalFail
            | Verdict::Fail
            | Verdict::Negative
            | Verdict::Suspect) => verdict.explanation().to_owned(),
        },
        statement: decision.reasons.join(" "),
        probability_of_conformity: decision.probability_of_conformity.map(|p| p.0),
    })
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

/// The control runs of the series, for the analytes that are certified.
pub(super) fn controls(
    evidence: &Evidence,
    results: &[Kept<ResultVersion>],
) -> Answer<Vec<ControlReading>> {
    let mut controls = Vec::new();
    for control in &evidence.controls {
        let entry = &control.content.content.entry;
        let (Some(series), Some(material)) =
            (entry.series, evidence.materials.get(&control.material))
        else {
            continue;
        };
        for reading in &entry.readings {
            let certified = results
                .iter()
                .any(|result| result.content.computed.analyte == reading.analyte);
            let assigned = material.content.assigned(reading.analyte);
            let (true, Some(assigned)) = (certified, assigned) else {
                continue;
            };
            let end = |end| in_unit(end, reading.unit).map(|end| end.normalize());
            controls.push(ControlReading {
                series,
                run: RunId(control.run),
                material: ControlMaterialId(control.material),
                material_code: material.content.code.clone(),
                analyte: reading.analyte,
                assigned: end(assigned.assigned_value)?,
                lower: end(assigned.lower)?,
                upper: end(assigned.upper)?,
                reading: certified_reading(reading, reading.unit)?,
                unit: reading.unit,
                accepted: judge_reading(reading, assigned).is_accepted(),
                read_at: entry.read_at.unwrap_or(control.content.created_at),
            });
        }
    }
    Ok(controls)
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
