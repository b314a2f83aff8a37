//! From a run as an export tells it to the run that is entered.
//!
//! Promises an entry that the rules of runs take: what those refuse was refused with the row. The
//! ids of sample, kit lot, reader and the like are left to whoever can look them up.

use super::grouping::ReadableRun;
use super::row::StatedVolumes;
use crate::dilution::DilutionStep;
use crate::quantity::Number;
use crate::runs::RunEntry;

/// Longest comment of a run, in characters.
const LONGEST_COMMENT: usize = 4_000;

/// The stated volumes as steps.
pub(super) fn dilution_steps(volumes: &[StatedVolumes], diluent: &str) -> Vec<DilutionStep> {
    volumes
        .iter()
        .map(|step| DilutionStep {
            sample_volume_ul: Number(step.sample_volume_ul),
            diluent_volume_ul: Number(step.diluent_volume_ul),
            diluent: diluent.to_owned(),
            pipette: None,
            diluent_pipette: None,
        })
        .collect()
}

impl ReadableRun {
    /// The entry of the run, its steps diluted with `diluent`. The time read keeps its own text,
    /// with the zone in brackets. Comments of several rows are joined, and cut where they are
    /// longer than a run's; the upload has them whole.
    ///
    /// ```
    /// use domain::column_maps::ColumnMap;
    /// use domain::imports::{group, parse};
    /// use domain::runs::RunContext;
    /// let map: ColumnMap = serde_json::from_str(r#"{
    ///     "name": "Reader of bay 2", "mode": "row_by_row",
    ///     "time_zone": "Europe/Vienna", "time_formats": ["%d.%m.%Y %H:%M"],
    ///     "columns": {"reader_serial": {"column": "reader"}, "port": {"column": "port"},
    ///                 "read_at": {"column": "time"}},
    ///     "readings": {"by_column": [{"column": "don", "analyte": "deoxynivalenol",
    ///                                 "unit": {"fixed": "ug/kg"}}]}
    /// }"#)?;
    /// let text = "reader,port,time,don\nR-1,1,07.03.2026 14:05,620\n";
    /// let export = group(parse(text.as_bytes(), &map.check().unwrap()).unwrap());
    /// let entry = export.runs[0].entry("water");
    /// assert_eq!(entry.read_at_source.as_deref(), Some("07.03.2026 14:05 [Europe/Vienna]"));
    /// assert!(entry.check(&RunContext::default()).is_ok());
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    #[must_use]
    pub fn entry(&self, diluent: &str) -> RunEntry {
        let run = &self.run;
        RunEntry {
            sample: None,
            sample_code: run.sample_code.clone(),
            lot_code: run.lot_code.clone(),
            extract: None,
            series: None,
            procedure: None,
            kit_lot: None,
            kit_lot_code: run.kit_lot_code.clone(),
            reader: None,
            reader_serial: Some(run.reader_serial.clone()),
            port: run.port,
            analyst: run.operator_account,
            operator: run.operator.clone(),
            begun_at: run.started_at.as_ref().map(|time| time.at),
            read_at: Some(run.read_at.at),
            read_at_source: Some(format!("{} [{}]", run.read_at.written, run.read_at.zone)),
            curve_lot: run.curve_lot_code.clone(),
            matrix: run.matrix.clone(),
            strip_barcode: run.strip_barcode.clone(),
            dilution: dilution_steps(&run.volumes, diluent),
            stated_factor: run.stated_factor.map(Number),
            value_includes_factor: run.already_multiplied,
            readings: self
                .readings
                .iter()
                .map(|reading| reading.reading.reading)
                .collect(),
            comment: self.comment(),
        }
    }

    fn comment(&self) -> Option<String> {
        let mut comments: Vec<&str> = Vec::new();
        for comment in self
            .readings
            .iter()
            .filter_map(|row| row.comment.as_deref())
        {
            if !comments.contains(&comment) {
                comments.push(comment);
            }
        }
        let joined = comments.join("; ");
        (!joined.is_empty()).then(|| joined.chars().take(LONGEST_COMMENT).collect())
    }
}
