//! The runs of one result, with their readings and the dilution arithmetic written out.

use crate::{
    pages::{Frame, aligned, shown},
    results::{Dossier, Reference},
};
use domain::{
    decisions::Finding,
    dilution::{DilutionStep, Factor},
    results::{ResultVersion, RunUse},
    runs::{InvalidReason, Reading, ReadingKind, Run},
};

/// A run, as a row.
pub(super) struct RunView {
    /// When it was read, as HTML.
    pub(super) read_at: String,
    /// Reader and port.
    pub(super) port: String,
    /// The kit lot's number.
    pub(super) kit_lot: String,
    /// Who worked.
    pub(super) analyst: String,
    /// What the reader gave, with its unit.
    pub(super) reading: String,
    /// Volumes to factor, and reading times factor.
    pub(super) arithmetic: Vec<String>,
    /// What it says of the sample, in µg/kg, aligned.
    pub(super) says: String,
    /// Whether the result stands on it.
    pub(super) standing: bool,
    /// What became of it.
    pub(super) why: &'static str,
}

/// The runs of a result in the order they were read.
pub(super) fn of_result(
    frame: &Frame,
    reference: &Reference,
    dossier: &Dossier,
    result: &ResultVersion,
) -> Vec<RunView> {
    let computed = &result.computed;
    let says: Vec<String> = computed.runs.iter().map(said).collect();
    computed
        .runs
        .iter()
        .zip(aligned(&says))
        .filter_map(|(used, says)| {
            let kept = dossier.runs.iter().find(|run| run.id == used.run.0)?;
            let run = &kept.content;
            let reading = run.reading_of(computed.analyte)?;
            Some(RunView {
                read_at: run
                    .entry
                    .read_at
                    .map(|at| frame.moment(at))
                    .unwrap_or_default(),
                port: port(reference, run),
                kit_lot: kit_lot(reference, run),
                analyst: run
                    .entry
                    .analyst
                    .and_then(|id| reference.accounts.get(&id.0))
                    .map_or_else(
                        || "not known".to_owned(),
                        |account| account.content.printed_name.clone(),
                    ),
                reading: read(reading),
                arithmetic: arithmetic(run, reading, used),
                says,
                standing: used.standing,
                why: used.why.explanation(),
            })
        })
        .collect()
}

fn port(reference: &Reference, run: &Run) -> String {
    let serial = run
        .entry
        .reader
        .and_then(|id| reference.readers.get(&id.0))
        .map(|reader| reader.content.serial.clone())
        .or_else(|| run.entry.reader_serial.clone());
    match serial {
        Some(serial) => format!("{serial}, port {}", run.entry.port),
        None => format!("reader not known, port {}", run.entry.port),
    }
}

fn kit_lot(reference: &Reference, run: &Run) -> String {
    run.entry
        .kit_lot
        .and_then(|id| reference.kit_lots.get(&id.0))
        .map(|lot| lot.content.entry.code.clone())
        .or_else(|| run.entry.kit_lot_code.clone())
        .unwrap_or_else(|| "not known".to_owned())
}

/// A unit as it is printed.
const fn unit(reading: &Reading) -> &'static str {
    match reading.unit {
        domain::quantity::Unit::UgPerKg => "µg/kg",
        domain::quantity::Unit::MgPerKg => "mg/kg",
        domain::quantity::Unit::NgPerG => "ng/g",
        domain::quantity::Unit::UgPerG => "µg/g",
    }
}

/// What the reader gave.
pub(super) fn read(reading: &Reading) -> String {
    let value = reading
        .value
        .map(|value| format!("{value} {}", unit(reading)))
        .unwrap_or_default();
    match reading.kind {
        ReadingKind::Number => value,
        ReadingKind::Below => format!("< {value}"),
        ReadingKind::Above => format!("> {value}"),
        ReadingKind::NotDetected => "not detected".to_owned(),
        ReadingKind::Invalid => match reading.reason {
            Some(InvalidReason::NoControlLine) => "invalid: no control line".to_owned(),
            Some(InvalidReason::PortFault) => "invalid: port fault".to_owned(),
            Some(InvalidReason::UnreadableStrip) => "invalid: strip not readable".to_owned(),
            Some(InvalidReason::BrokenOff) => "invalid: broken off".to_owned(),
            Some(InvalidReason::Other) | None => "invalid".to_owned(),
        },
    }
}

fn said(used: &RunUse) -> String {
    match used.finding {
        None => String::new(),
        Some(Finding::Quantified { value }) => shown(value.ug_per_kg()),
        Some(Finding::NotDetected { below }) => {
            format!("not detected, < {}", shown(below.ug_per_kg()))
        }
        Some(Finding::DetectedBelow { loq: bound, .. } | Finding::Below { bound }) => {
            format!("< {}", shown(bound.ug_per_kg()))
        }
        Some(Finding::Above { bound }) => format!("> {}", shown(bound.ug_per_kg())),
    }
}

/// `(100 µL + 500 µL) / 100 µL = 6`, then `12.5 µg/kg × 6 = 75 µg/kg`.
fn arithmetic(run: &Run, reading: &Reading, used: &RunUse) -> Vec<String> {
    if run.factor.is_one() && run.entry.dilution.is_empty() {
        return vec!["undiluted".to_owned()];
    }
    let mut lines = vec![factor(&run.entry.dilution, run.factor)];
    let (Some(value), Some(Finding::Quantified { value: product })) = (reading.value, used.finding)
    else {
        return lines;
    };
    let (unit, product) = (unit(reading), shown(product.ug_per_kg()));
    lines.push(if run.entry.value_includes_factor {
        format!("{value} {unit}, × {} included already", run.factor)
    } else {
        format!("{value} {unit} × {} = {product} µg/kg", run.factor)
    });
    lines
}

fn factor(steps: &[DilutionStep], factor: Factor) -> String {
    let steps: Vec<String> = steps
        .iter()
        .map(|step| {
            format!(
                "({0} µL + {1} µL {2}) / {0} µL",
                step.sample_volume_ul, step.diluent_volume_ul, step.diluent
            )
        })
        .collect();
    format!("{} = {factor}", steps.join(" × "))
}
