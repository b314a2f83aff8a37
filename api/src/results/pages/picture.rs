//! A result as the scale that pages and certificates share.

use super::limit_name;
use crate::results::{Dossier, Reference};
use crate::{
    pages::analyte,
    scale::{LimitMark, Position, Range, ResultMark, RunMark, Scale, Surface},
};
use domain::{
    decisions::{Decision, DecisionRule, Finding},
    dilution::Factor,
    results::{MeasuringRange, ResultVersion},
};
use rust_decimal::Decimal;

/// The scale of a result, all figures in µg/kg.
pub(crate) fn scale_of(
    reference: &Reference,
    dossier: &Dossier,
    result: &ResultVersion,
    key: &str,
) -> Scale {
    let computed = &result.computed;
    let runs: Vec<_> = computed
        .runs
        .iter()
        .filter_map(|run| run.finding.map(|finding| (run.factor, finding)))
        .collect();
    Scale {
        key: key.to_owned(),
        analyte: analyte(computed.analyte).to_owned(),
        unit: "µg/kg".to_owned(),
        ranges: undiluted(reference, dossier, result)
            .map(|range| ranges(range, runs.iter().map(|(factor, _)| *factor).collect()))
            .unwrap_or_default(),
        runs: runs
            .iter()
            .map(|(factor, finding)| RunMark {
                dilution: dilution(*factor),
                position: position(*finding),
            })
            .collect(),
        result: computed
            .finding
            .zip(computed.reported.clone())
            .map(|(finding, reported)| ResultMark {
                reported,
                uncertainty: computed.uncertainty.as_ref().map(|uncertainty| {
                    (
                        super::budget::reported(reference, computed, uncertainty),
                        uncertainty.expanded.ug_per_kg().normalize(),
                        uncertainty.coverage_factor.0,
                    )
                }),
                position: position(finding),
            }),
        limits: LimitMark::each_once(computed.decisions.iter().map(|decision| LimitMark {
            name: limit_name(reference, &decision.limit),
            value: decision.limit_value.ug_per_kg(),
            guard: guard(decision),
        })),
        surface: Surface::Screen,
    }
}

/// A dilution as it is written beside a run.
pub(crate) fn dilution(factor: Factor) -> String {
    if factor.is_one() {
        "undiluted".to_owned()
    } else {
        format!("× {factor}")
    }
}

const fn position(finding: Finding) -> Position {
    match finding {
        Finding::NotDetected { .. } => Position::NotDetected,
        Finding::DetectedBelow { loq: bound, .. } | Finding::Below { bound } => {
            Position::Below(bound.ug_per_kg())
        }
        Finding::Quantified { value } => Position::At(value.ug_per_kg()),
        Finding::Above { bound } => Position::Above(bound.ug_per_kg()),
    }
}

/// The range without dilution: that of the result where it has one, else what the papers say.
fn undiluted(
    reference: &Reference,
    dossier: &Dossier,
    result: &ResultVersion,
) -> Option<[Decimal; 3]> {
    let computed = &result.computed;
    if let (Some(range), Some(factor)) = (computed.range, computed.factor) {
        let end = |end: Decimal| factor.undo(end).ok();
        return Some([
            end(range.lod.ug_per_kg())?,
            end(range.loq.ug_per_kg())?,
            end(range.upper.ug_per_kg())?,
        ]);
    }
    let procedure = computed
        .procedure
        .and_then(|used| reference.procedures.get(&used.id.0))
        .and_then(|shared| shared.content.entry.range_of(computed.analyte));
    let kit_lot = dossier
        .runs
        .iter()
        .filter_map(|run| run.content.entry.kit_lot)
        .find_map(|id| reference.kit_lots.get(&id.0))
        .and_then(|shared| shared.content.entry.range_of(computed.analyte));
    let range = MeasuringRange::of(procedure, kit_lot)?;
    Some([range.lod, range.loq, range.upper].map(|end| end.ug_per_kg()))
}

/// The undiluted range first, then that of each dilution.
fn ranges(undiluted: [Decimal; 3], mut factors: Vec<Factor>) -> Vec<Range> {
    factors.push(Factor::ONE);
    factors.sort_unstable();
    factors.dedup();
    factors
        .into_iter()
        .filter_map(|factor| {
            let [lod, loq, upper] = undiluted.map(|end| factor.apply(end).ok());
            Some(Range {
                dilution: dilution(factor),
                lod: lod?,
                loq: loq?,
                upper: upper?,
            })
        })
        .collect()
}

/// Where a rule's guard band lies: below the limit, above it, or on both sides.
fn guard(decision: &Decision) -> Option<(Decimal, Decimal)> {
    let band = decision.guard_band?.ug_per_kg();
    let limit = decision.limit_value.ug_per_kg();
    let below = limit.checked_sub(band)?.max(Decimal::ZERO);
    let above = limit.checked_add(band)?;
    match decision.rule {
        DecisionRule::GuardedAcceptance { .. } => Some((below, limit)),
        DecisionRule::GuardedRejection { .. } => Some((limit, above)),
        DecisionRule::NonBinary { .. } => Some((below, above)),
        DecisionRule::Simple | DecisionRule::Rounded { .. } | DecisionRule::Screening { .. } => {
            None
        }
    }
}
