//! Column maps: how the export of one kind of reader is read.
//!
//! Promises that a checked map can be read by: its time zone exists, its time formats hold a whole
//! date and time, its fixed units and analytes are known. Refuses anything else, every fault at
//! once and each with its JSON pointer. A laboratory keeps its maps; a changed map is a version.

mod check;
mod check_member;
mod columns;
mod time_pattern;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::analytes::Analyte;
use crate::id::AccountId;
use crate::runs::InvalidReason;

pub use check::CheckedColumnMap;
pub use columns::{
    ControlLineColumn, DateAndTimeColumns, FieldSource, MappedColumns, ReadingColumn,
    ReadingColumns, ReadingPerRow, TimeSource, VolumeColumns,
};
pub use time_pattern::{ReadText, TimePattern, TimePatternError};

/// How one reader's export is read.
///
/// `operators` holds names of people: in a record it stands in a disclosure.
///
/// ```
/// use domain::column_maps::ColumnMap;
/// let map: ColumnMap = serde_json::from_str(r#"{
///     "name": "Reader of bay 2", "mode": "row_by_row",
///     "time_zone": "Europe/Vienna", "time_formats": ["%d.%m.%Y %H:%M:%S"],
///     "columns": {"reader_serial": {"column": "Reader"}, "port": {"column": "Port"},
///                 "read_at": {"column": "Time"}, "sample_code": "Sample"},
///     "readings": {"by_row": {"analyte": {"fixed": "deoxynivalenol"}, "value": "Result",
///                             "unit": {"fixed": "ppb"}}},
///     "units_by_mass": ["ppb"]
/// }"#)?;
/// assert!(map.clone().check().is_ok());
/// let vague = ColumnMap { units_by_mass: vec![], ..map };
/// let faults = vague.check().unwrap_err();
/// assert_eq!(faults.0[0].pointer, "/readings/by_row/unit/fixed");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ColumnMap {
    /// What the laboratory calls the map.
    pub name: String,
    /// How the bytes are characters.
    #[serde(default)]
    pub encoding: ExportEncoding,
    /// What stands between fields.
    #[serde(default)]
    pub delimiter: ExportDelimiter,
    /// What stands before the decimals.
    #[serde(default)]
    pub decimal_mark: DecimalMark,
    /// What stands between groups of three digits, where anything does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub thousands_mark: Option<ThousandsMark>,
    /// Physical lines above the header row that are skipped.
    #[serde(default)]
    pub lines_before_header: u16,
    /// Whether one unreadable row refuses the whole export.
    pub mode: ImportMode,
    /// IANA name of the zone in which the reader writes local times.
    pub time_zone: String,
    /// Patterns of the times, see [`TimePattern`]; the one that fits is used.
    pub time_formats: Vec<String>,
    /// The columns that describe the run.
    pub columns: MappedColumns,
    /// The columns that hold readings.
    pub readings: ReadingColumns,
    /// What the export calls an analyte, where that is not the slug.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub analyte_names: BTreeMap<String, Analyte>,
    /// Words such as `ppb` that this export is known to use by mass.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub units_by_mass: Vec<UnitByMass>,
    /// Columns of each dilution step, in order, beyond the procedure's own scheme.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub dilution_volumes: Vec<VolumeColumns>,
    /// The unit of those volumes.
    #[serde(default)]
    pub volume_unit: VolumeUnit,
    /// What they were diluted with.
    #[serde(default = "default_diluent")]
    pub diluent: String,
    /// Whether the reader has multiplied the value by the dilution factor already.
    #[serde(default)]
    pub already_multiplied: bool,
    /// Whether an unknown sample is registered from the row, under the lot that the row names.
    #[serde(default)]
    pub register_samples: bool,
    /// What stands in a value's place when it is no number.
    #[serde(default)]
    pub words: ValueWords,
    /// What the export says of its operator, and whose account that is.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub operators: BTreeMap<String, AccountId>,
    /// The fields that identify a run; rows that share them belong to one run.
    #[serde(default = "default_identity")]
    pub identity: Vec<IdentityField>,
    /// How far a run typed at the bench may lie from its exported self, in seconds.
    #[serde(default = "default_tolerance_seconds")]
    pub join_tolerance_seconds: u32,
    /// What happens to columns that the map does not name.
    #[serde(default)]
    pub extra_columns: ExtraColumns,
}

fn default_identity() -> Vec<IdentityField> {
    vec![
        IdentityField::ReaderSerial,
        IdentityField::Port,
        IdentityField::ReadAt,
    ]
}

fn default_diluent() -> String {
    "water".to_owned()
}

const fn default_tolerance_seconds() -> u32 {
    120
}

/// How the bytes of an export are characters.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum ExportEncoding {
    /// By the byte order mark, else UTF-8, else refused.
    #[default]
    #[serde(rename = "auto")]
    Auto,
    /// UTF-8, with or without a byte order mark.
    #[serde(rename = "utf-8")]
    Utf8,
    /// UTF-16; without a byte order mark, little-endian unless the zeros lie otherwise.
    #[serde(rename = "utf-16")]
    Utf16,
    /// Windows-1252.
    #[serde(rename = "windows-1252")]
    Windows1252,
}

/// What stands between the fields of a row.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum ExportDelimiter {
    /// The one that makes the header row hold the mapped columns.
    #[default]
    Auto,
    /// `,`
    Comma,
    /// `;`
    Semicolon,
    /// A tabulator.
    Tab,
}

/// What stands before the decimals of a number.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum DecimalMark {
    /// `1.5`
    #[default]
    Point,
    /// `1,5`
    Comma,
}

/// What stands between groups of three digits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum ThousandsMark {
    /// `1.234`
    Point,
    /// `1,234`
    Comma,
    /// `1 234`, also with a space that does not break.
    Space,
    /// `1'234`
    Apostrophe,
}

/// What one unreadable row does to the others.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum ImportMode {
    /// Nothing is recorded unless every row can be.
    AllOrNothing,
    /// What can be read is recorded; the rest is refused, kept and shown.
    RowByRow,
}

/// A word that is a unit only where the export uses it by mass.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum UnitByMass {
    /// Parts per thousand million: µg/kg.
    #[serde(rename = "ppb")]
    Ppb,
    /// Parts per million: mg/kg.
    #[serde(rename = "ppm")]
    Ppm,
    /// Parts per million million: ng/kg. Never parts per thousand here.
    #[serde(rename = "ppt")]
    Ppt,
    /// Parts per thousand: g/kg.
    #[serde(rename = "ppth")]
    Ppth,
    /// Parts per hundred: 10 g/kg.
    #[serde(rename = "%")]
    Percent,
}

/// Unit of the dilution volumes.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum VolumeUnit {
    /// Microlitre.
    #[default]
    #[serde(rename = "ul")]
    Microlitre,
    /// Millilitre.
    #[serde(rename = "ml")]
    Millilitre,
}

/// What stands in a value's place, or before it, when it is no plain number. Words are compared
/// without regard to case and outer spaces.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields, default)]
pub struct ValueWords {
    /// For *not detected*.
    pub not_detected: Vec<String>,
    /// For a reading that is kept and never used, and why.
    pub invalid: BTreeMap<String, InvalidReason>,
    /// Before a number: the value is below it.
    pub below: Vec<String>,
    /// Before a number: the value is above it.
    pub above: Vec<String>,
}

impl Default for ValueWords {
    fn default() -> Self {
        let words = |list: &[&str]| list.iter().map(|&word| word.to_owned()).collect();
        Self {
            not_detected: words(&["ND", "N.D.", "n/d", "not detected"]),
            invalid: BTreeMap::from([
                ("INVALID".to_owned(), InvalidReason::Other),
                ("no control line".to_owned(), InvalidReason::NoControlLine),
            ]),
            below: words(&["<"]),
            above: words(&[">"]),
        }
    }
}

/// A field that can identify a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum IdentityField {
    /// The reader's serial number.
    ReaderSerial,
    /// Its port.
    Port,
    /// The time read.
    ReadAt,
    /// The time begun.
    StartedAt,
    /// The sample's code.
    SampleCode,
    /// The kit lot's code.
    KitLotCode,
    /// The strip's barcode.
    StripBarcode,
}

/// What happens to columns that a map does not name.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum ExtraColumns {
    /// They are kept with the uploaded bytes, and not read.
    #[default]
    Accept,
    /// They refuse the export.
    Reject,
}
