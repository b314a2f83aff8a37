//! Gathers what a chart is made from: control runs, what is assigned to their material, and the
//! runs that failed ones put in doubt.

use super::{
    Wanted,
    store::{self, ControlRun, DoubtRow},
};
use crate::{
    db::Tx,
    error::{Answer, ApiError},
    results::Reference,
};
use domain::{
    control_charts::{
        ChartInput, ControlChart, DoubtfulStretch, JudgedControl, control_chart, stretches,
    },
    control_materials::ControlMaterial,
    id::RunId,
    quality_control::{
        ControlExclusion, ControlValue, ControlVerdict, control_values, control_verdicts,
        judge_by_rules, why_excluded,
    },
    results::Facts,
    runs::RunState,
    versions::SubjectVersion,
};
use std::{
    collections::{BTreeSet, HashMap},
    sync::Arc,
};
use uuid::Uuid;

/// A control run that is not on the chart, and why.
pub(super) struct LeftOut {
    pub(super) control: ControlRun,
    pub(super) why: ControlExclusion,
}

/// A stretch in doubt, with its runs.
pub(super) struct Doubt {
    pub(super) stretch: DoubtfulStretch,
    pub(super) rows: Vec<DoubtRow>,
}

/// What a chart shows.
pub(super) struct Gathered {
    pub(super) reference: Arc<Reference>,
    pub(super) chart: ControlChart,
    pub(super) left_out: Vec<LeftOut>,
    pub(super) doubts: Vec<Doubt>,
    /// Control runs of the period, charted or left out, whether or not there is room for them.
    pub(super) in_period: i64,
    /// The control runs that are charted, by their ids.
    pub(super) controls: HashMap<Uuid, ControlRun>,
}

/// Gathers it.
pub(super) async fn gather(tx: &mut Tx, wanted: &Wanted) -> Answer<Gathered> {
    let reference = tx.reference().await?;
    let material = reference.control_materials.get(&wanted.material.0);
    let missing = || ApiError::missing("control material", wanted.material);
    let material = material.ok_or_else(missing)?.facts(wanted.material.0);
    if !reference.procedures.contains_key(&wanted.procedure.0) {
        return Err(ApiError::missing("procedure", wanted.procedure));
    }
    let assigned = material.content.assigned(wanted.analyte).ok_or_else(|| {
        let detail = format!(
            "Nothing is assigned to control material {} for {}. Ask for another analyte, or revise \
             the material.",
            material.content.code, wanted.analyte
        );
        ApiError::field("/analyte", detail)
    })?;
    let (controls, in_period) = store::controls(tx, wanted).await?;
    let values = values(&controls, material, wanted);
    let charted: BTreeSet<RunId> = controls
        .iter()
        .filter(|control| control.charted)
        .map(|control| RunId(control.id))
        .collect();
    let chart = control_chart(&ChartInput {
        material: wanted.material,
        assigned,
        values: &values,
        charted: &charted,
        settings: wanted.settings,
    });
    let mut doubtful = stretches(&judged(&controls, material.content, wanted, &values));
    doubtful.retain(|stretch| stretch.failed.iter().any(|one| charted.contains(&one.run)));
    let mut rows = store::in_doubt(tx, wanted, &doubtful).await?;
    let numbered = (1_i64..).zip(doubtful);
    let doubts = numbered.map(|(number, stretch)| Doubt {
        stretch,
        rows: rows.extract_if(.., |row| row.stretch == number).collect(),
    });
    let doubts = doubts.collect();
    let mut left_out = Vec::new();
    let mut kept = HashMap::new();
    for control in controls.into_iter().filter(|control| control.charted) {
        match why_excluded(&control.run, wanted.analyte, material.content) {
            Some(why) => left_out.push(LeftOut { control, why }),
            None => drop(kept.insert(control.id, control)),
        }
    }
    Ok(Gathered {
        chart,
        left_out,
        doubts,
        in_period,
        controls: kept,
        reference: Arc::clone(&reference),
    })
}

fn values(
    controls: &[ControlRun],
    material: Facts<'_, ControlMaterial>,
    wanted: &Wanted,
) -> Vec<ControlValue> {
    let mut found = Vec::new();
    let standing = controls
        .iter()
        .filter(|control| control.run.state == RunState::Recorded);
    for control in standing {
        let version = |subject: Uuid, version: i32| SubjectVersion {
            subject,
            version: u32::try_from(version).unwrap_or(1),
        };
        let from = [
            version(control.id, control.version),
            version(control.sample, control.sample_version),
        ];
        let values = control_values(RunId(control.id), &control.run, material, &from);
        found.extend(values.into_iter().filter(|one| {
            one.group.analyte == wanted.analyte && one.group.procedure == wanted.procedure
        }));
    }
    found
}

/// The control runs that say something of the analyte, as holds take them: by the window and by the
/// rules.
fn judged(
    controls: &[ControlRun],
    material: &ControlMaterial,
    wanted: &Wanted,
    values: &[ControlValue],
) -> Vec<JudgedControl> {
    let standing = controls.iter().filter(|control| {
        control.run.state == RunState::Recorded
            && control.run.entry.procedure == Some(wanted.procedure)
    });
    let judged = standing.filter_map(|control| {
        let entry = &control.run.entry;
        let mut verdicts = control_verdicts(&control.run, Some(material)).into_iter();
        let mut failed_by = match verdicts.find(|one| one.0 == wanted.analyte)?.1 {
            ControlVerdict::Accepted => Vec::new(),
            ControlVerdict::Out { detail } => vec![detail],
            ControlVerdict::Missing { .. } => return None,
        };
        let signals = judge_by_rules(RunId(control.id), values).signals;
        failed_by.extend(
            signals
                .iter()
                .map(|signal| format!("it completes rule {}", signal.rule.word())),
        );
        Some(JudgedControl {
            run: RunId(control.id),
            read_at: entry.read_at?,
            kit_lot: entry.kit_lot?,
            reader: entry.reader?,
            failed_by,
        })
    });
    judged.collect()
}
