//! How control charts are shown.

use super::{
    Wanted,
    gather::{Doubt, Gathered, LeftOut},
    store::MOST_IN_DOUBT,
};
use domain::{
    analytes::Analyte,
    control_charts::{ChartSettings, ControlChart, DoubtfulStretch, MOST_CHARTED},
    id::{ControlMaterialId, KitLotId, ProcedureId, ReaderId},
    quality_control::ControlExclusion,
    time::Moment,
};
use serde::Serialize;
use uuid::Uuid;

/// What there are control runs of.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ControlChartItem {
    /// The control material.
    pub control_material: ControlMaterialId,
    /// Its code.
    pub control_material_code: String,
    /// The procedure.
    pub procedure: ProcedureId,
    /// Its code.
    pub procedure_code: String,
    /// What was measured.
    pub analyte: Analyte,
    /// The kit lots and readers, each pair by itself.
    pub groups: Vec<ControlGroupView>,
    /// Control runs recorded, those that are on no chart included.
    pub runs: i64,
    /// When the first was read.
    pub first_read_at: Moment,
    /// When the last was read.
    pub last_read_at: Moment,
    /// Where the chart is.
    pub link: String,
}

/// Control runs of one kit lot and reader.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ControlGroupView {
    /// The kit lot.
    pub kit_lot: KitLotId,
    /// The number on its box.
    pub kit_lot_code: String,
    /// The reader.
    pub reader: ReaderId,
    /// Its serial number.
    pub reader_serial: String,
    /// Control runs recorded.
    pub runs: i64,
}

/// What there are control runs of, the one that was read last first.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ControlChartList {
    /// One for each material, procedure and analyte.
    pub items: Vec<ControlChartItem>,
}

/// A control run that is not on the chart.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct LeftOutView {
    /// The run.
    pub run: Uuid,
    /// Its version.
    pub version: i32,
    /// Its sample.
    pub sample: Uuid,
    /// When it was read.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub read_at: Option<Moment>,
    /// Why it is left out.
    pub reason: ControlExclusion,
    /// The same in words.
    pub detail: &'static str,
    /// Where the run is.
    pub link: String,
}

/// A result in doubt.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ResultInDoubt {
    /// The result.
    pub result: Uuid,
    /// Its version.
    pub version: i32,
    /// Its state.
    pub state: String,
    /// Where it is.
    pub link: String,
}

/// A run in doubt.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct RunInDoubt {
    /// The run.
    pub run: Uuid,
    /// Its version.
    pub version: i32,
    /// When it was read.
    pub read_at: Moment,
    /// Its sample, where it is of one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sample: Option<Uuid>,
    /// The sample's code.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sample_code: Option<String>,
    /// The results of the sample for the analyte.
    pub results: Vec<ResultInDoubt>,
    /// Where the run is.
    pub link: String,
}

/// What failed control runs put in doubt.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ControlDoubtView {
    /// From which control run to which, on which reader, with which kit lot.
    #[serde(flatten)]
    pub stretch: DoubtfulStretch,
    /// How many runs lie between.
    pub runs_in_doubt: i64,
    /// The first of them, as many as are listed.
    pub runs: Vec<RunInDoubt>,
}

/// A control chart.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ControlChartView {
    /// The control material.
    pub control_material: ControlMaterialId,
    /// Its version; what is assigned there is compared with every control run, also with those that
    /// were read before it was changed.
    pub control_material_version: i32,
    /// Its code.
    pub control_material_code: String,
    /// The procedure.
    pub procedure: ProcedureId,
    /// Its code.
    pub procedure_code: String,
    /// What was measured.
    pub analyte: Analyte,
    /// The kit lot, where only its control runs were asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kit_lot: Option<KitLotId>,
    /// The reader, where only its control runs were asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reader: Option<ReaderId>,
    /// Since when.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub from: Option<Moment>,
    /// Before when.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub before: Option<Moment>,
    /// How the charts are set up.
    pub settings: ChartSettings,
    /// Control runs of the period, charted or left out.
    pub runs_in_period: i64,
    /// Most control runs that are looked at: the newest ones.
    pub most_charted: usize,
    /// The charts.
    #[serde(flatten)]
    pub chart: ControlChart,
    /// Control runs that are not on them, and why.
    pub left_out: Vec<LeftOutView>,
    /// What failed control runs put in doubt.
    pub doubts: Vec<ControlDoubtView>,
    /// Most runs that are listed of one stretch in doubt.
    pub most_in_doubt: usize,
}

impl ControlChartView {
    pub(super) fn of(slug: &str, wanted: &Wanted, gathered: Gathered) -> Self {
        let reference = &gathered.reference;
        let material = reference.control_materials.get(&wanted.material.0);
        let procedure = reference.procedures.get(&wanted.procedure.0);
        let at = |word: &str, id: Uuid| format!("/v1/laboratories/{slug}/{word}/{id}");
        Self {
            control_material: wanted.material,
            control_material_version: material.map_or(1, |one| one.version),
            control_material_code: material
                .map(|one| one.content.code.clone())
                .unwrap_or_default(),
            procedure: wanted.procedure,
            procedure_code: procedure
                .map(|one| one.content.entry.code.clone())
                .unwrap_or_default(),
            analyte: wanted.analyte,
            kit_lot: wanted.kit_lot,
            reader: wanted.reader,
            from: wanted.from,
            before: wanted.before,
            settings: wanted.settings,
            runs_in_period: gathered.in_period,
            most_charted: MOST_CHARTED,
            left_out: gathered
                .left_out
                .into_iter()
                .map(|one| left_out(one, &at))
                .collect(),
            doubts: gathered
                .doubts
                .into_iter()
                .map(|one| doubt(one, &at))
                .collect(),
            most_in_doubt: MOST_IN_DOUBT,
            chart: gathered.chart,
        }
    }
}

fn left_out(one: LeftOut, at: &impl Fn(&str, Uuid) -> String) -> LeftOutView {
    let control = one.control;
    LeftOutView {
        run: control.id,
        version: control.version,
        sample: control.sample,
        read_at: control.run.entry.read_at,
        reason: one.why,
        detail: one.why.words(),
        link: at("runs", control.id),
    }
}

fn doubt(one: Doubt, at: &impl Fn(&str, Uuid) -> String) -> ControlDoubtView {
    let runs_in_doubt = one.rows.first().map_or(0, |row| row.runs);
    let mut runs: Vec<RunInDoubt> = Vec::new();
    for row in one.rows {
        if runs.last().is_none_or(|last| last.run != row.run_id) {
            runs.push(RunInDoubt {
                run: row.run_id,
                version: row.version,
                read_at: row.read_at.into(),
                sample: row.sample_id,
                sample_code: row.sample_code,
                results: Vec::new(),
                link: at("runs", row.run_id),
            });
        }
        if let (Some(last), Some(result), Some(version), Some(state)) = (
            runs.last_mut(),
            row.result_id,
            row.result_version,
            row.result_state,
        ) {
            last.results.push(ResultInDoubt {
                result,
                version,
                state,
                link: at("results", result),
            });
        }
    }
    ControlDoubtView {
        stretch: one.stretch,
        runs_in_doubt,
        runs,
    }
}
