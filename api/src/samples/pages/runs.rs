//! The runs of one result, with their readings and the dilution arithmetic written out.

use super::store::Names;
use crate::{
    pages::{Frame, aligned, shown},
    results::{
        Dossier, Reference,
        pages::{kit_lot, port, read_out, unit},
    },
};
use domain::{
    decisions::Finding,
    dilution::{DilutionStep, Factor},
    results::{ResultVersion, RunUse},
    runs::{Reading, Run},
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
    names: &Names,
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
                    .map_or_else(|| "not known".to_owned(), |id| names.of(id.0).to_owned()),
                reading: read_out(reading),
                arithmetic: arithmetic(run, reading, used),
                says,
                standing: used.standing,
                why: used.why.explanation(),
            })
        })
        .collect()
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
