//! What a reading said when it was first imported, as text that a later import is compared with.
//!
//! Promises equal texts for equal mapped fields, whatever the dialect they were written in. What
//! is personal (operator, comment) stands apart: only the other part may stand in a record.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::row::{ControlLine, ExportedReading, ExportedRun, ReadableRow, value_text};
use crate::column_maps::IdentityField;
use crate::quantity::Number;

/// The mapped fields of one reading, as two canonical JSON objects of strings.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fingerprint {
    /// Every mapped field but the personal ones.
    pub open: String,
    /// Operator and comment: personal data, kept in a disclosure and erased with it.
    pub personal: String,
}

/// Members in the order of their names, blank ones absent.
#[derive(Serialize)]
struct Open<'a> {
    #[serde(skip_serializing_if = "Option::is_none")]
    analyte: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    control_line: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    control_line_signal: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    curve_lot: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    kit_lot: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    lot: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    matrix: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    multiplied_value: Option<String>,
    port: String,
    read_at: String,
    reader_serial: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    sample: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    started_at: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    stated_factor: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    strip_barcode: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    test_line_signal: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    unit: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    value: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    volumes: Option<String>,
}

#[derive(Serialize)]
struct Personal<'a> {
    #[serde(skip_serializing_if = "Option::is_none")]
    comment: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    operator: Option<&'a str>,
}

fn open<'a>(
    run: &'a ExportedRun,
    reading: Option<(&ReadableRow, &'a ExportedReading)>,
) -> Open<'a> {
    let volumes: Vec<String> = run
        .volumes
        .iter()
        .map(|step| format!("{}+{}", step.sample_volume_ul, step.diluent_volume_ul))
        .collect();
    let control_line = reading.and_then(|(row, _)| row.control_line);
    let signals = reading.and_then(|(_, reading)| reading.reading.signals);
    let signal = |one: Option<Number>| one.map(|signal| signal.to_string());
    Open {
        analyte: reading.map(|(_, reading)| reading.reading.analyte.slug()),
        control_line: control_line.map(|line| match line {
            ControlLine::Valid => "valid",
            ControlLine::Invalid => "invalid",
        }),
        control_line_signal: signals.and_then(|both| signal(both.control_line)),
        curve_lot: run.curve_lot_code.as_deref(),
        kit_lot: run.kit_lot_code.as_deref(),
        lot: run.lot_code.as_deref(),
        matrix: run.matrix.as_deref(),
        multiplied_value: reading
            .and_then(|(_, reading)| reading.reading.multiplied_value)
            .map(|value| value.to_string()),
        port: run.port.to_string(),
        read_at: run.read_at.at.to_string(),
        reader_serial: &run.reader_serial,
        sample: run.sample_code.as_deref(),
        started_at: run.started_at.as_ref().map(|time| time.at.to_string()),
        stated_factor: run.stated_factor.map(|factor| factor.to_string()),
        strip_barcode: run.strip_barcode.as_deref(),
        test_line_signal: signals.and_then(|both| signal(both.test_line)),
        unit: reading.map(|(_, reading)| reading.reading.unit.code()),
        value: reading.map(|(_, reading)| value_text(&reading.reading)),
        volumes: (!volumes.is_empty()).then(|| volumes.join(" ")),
    }
}

/// Strings and objects of strings always have a JSON form.
fn json<T: Serialize>(value: &T) -> String {
    serde_json::to_string(value).unwrap_or_default()
}

impl Fingerprint {
    /// Of one reading of a row.
    #[must_use]
    pub fn of(row: &ReadableRow, reading: &ExportedReading) -> Self {
        Self {
            open: json(&open(&row.run, Some((row, reading)))),
            personal: json(&Personal {
                comment: row.comment.as_deref(),
                operator: row.run.operator.as_deref(),
            }),
        }
    }
}

/// What two rows of one run say differently of the run itself.
pub(super) fn run_differences(
    recorded: &ExportedRun,
    imported: &ExportedRun,
) -> Vec<FieldDifference> {
    let personal = |run: &ExportedRun| {
        json(&Personal {
            comment: None,
            operator: run.operator.as_deref(),
        })
    };
    let mut all = text_differences(&json(&open(recorded, None)), &json(&open(imported, None)));
    all.extend(text_differences(&personal(recorded), &personal(imported)));
    all
}

/// What identifies a run, as canonical JSON of the fields that the map names.
pub(super) fn identity(run: &ExportedRun, fields: &[IdentityField]) -> String {
    let of = |field: IdentityField| match field {
        IdentityField::ReaderSerial => ("reader_serial", Some(run.reader_serial.clone())),
        IdentityField::Port => ("port", Some(run.port.to_string())),
        IdentityField::ReadAt => ("read_at", Some(run.read_at.at.to_string())),
        IdentityField::StartedAt => (
            "started_at",
            run.started_at.as_ref().map(|time| time.at.to_string()),
        ),
        IdentityField::SampleCode => ("sample", run.sample_code.clone()),
        IdentityField::KitLotCode => ("kit_lot", run.kit_lot_code.clone()),
        IdentityField::StripBarcode => ("strip_barcode", run.strip_barcode.clone()),
    };
    let named: BTreeMap<&str, String> = fields
        .iter()
        .filter_map(|&field| match of(field) {
            (name, Some(text)) => Some((name, text)),
            (_, None) => None,
        })
        .collect();
    json(&named)
}

/// A mapped field with two values.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct FieldDifference {
    /// The field.
    pub field: String,
    /// What was there first; absent where it was blank.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recorded: Option<String>,
    /// What came now; absent where it is blank.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub imported: Option<String>,
}

/// What a reading with the same identity and analyte is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Comparison {
    /// The same reading: it is skipped.
    Same,
    /// Another value of the same reading: it is refused, with both shown.
    Conflict(Vec<FieldDifference>),
}

/// Compares a reading that comes again with what was first imported. Where the personal part was
/// erased, it is not compared.
///
/// ```
/// use domain::imports::{compare, Comparison, Fingerprint};
/// let of = |value: &str| Fingerprint {
///     open: format!(r#"{{"analyte":"zearalenone","value":"{value}"}}"#),
///     personal: r#"{"operator":"KM"}"#.into(),
/// };
/// assert_eq!(compare(&of("52").open, None, &of("52")), Comparison::Same);
/// let Comparison::Conflict(differences) = compare(&of("52").open, None, &of("25")) else {
///     panic!("two values of one reading are not the same");
/// };
/// assert_eq!(differences[0].field, "value");
/// ```
#[must_use]
pub fn compare(
    recorded_open: &str,
    recorded_personal: Option<&str>,
    imported: &Fingerprint,
) -> Comparison {
    let mut all = text_differences(recorded_open, &imported.open);
    if let Some(personal) = recorded_personal {
        all.extend(text_differences(personal, &imported.personal));
    }
    if all.is_empty() {
        Comparison::Same
    } else {
        Comparison::Conflict(all)
    }
}

fn text_differences(recorded: &str, imported: &str) -> Vec<FieldDifference> {
    if recorded == imported {
        return Vec::new();
    }
    let members = |text: &str| serde_json::from_str::<BTreeMap<String, String>>(text).ok();
    let (Some(before), Some(after)) = (members(recorded), members(imported)) else {
        return vec![FieldDifference {
            field: "fingerprint".into(),
            recorded: Some(recorded.to_owned()),
            imported: Some(imported.to_owned()),
        }];
    };
    let fields: BTreeSet<&String> = before.keys().chain(after.keys()).collect();
    fields
        .into_iter()
        .filter(|&field| before.get(field) != after.get(field))
        .map(|field| FieldDifference {
            field: field.clone(),
            recorded: before.get(field).cloned(),
            imported: after.get(field).cloned(),
        })
        .collect()
}
