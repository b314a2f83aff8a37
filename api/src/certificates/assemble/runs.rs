//! The runs of a certificate, with their dilution arithmetic, and the control runs beside them.

use super::{
    goods::Labels,
    person,
    results::{certified_factor, in_unit},
};
use crate::{
    certificates::evidence::Evidence,
    error::{Answer, ApiError},
    kept::Kept,
};
use domain::{
    certificates::{
        CertifiedRun, ControlReading, DilutionStep, KitLotUsed, ReaderUsed, RunReading, RunUse,
    },
    id::{ControlMaterialId, RunId},
    quality_control::judge_reading,
    quantity::Unit,
    results::{ComputedResult, ResultVersion, Use},
    runs::{Reading, ReadingKind, Run},
};
use rust_decimal::Decimal;

/// Every run of the result's sample and analyte.
pub(super) fn runs(
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
