//! The columns that a map names, and where each field's text comes from.
//!
//! Promises nothing about whether the names make sense: the map's check does that.

use serde::{Deserialize, Serialize};

use crate::analytes::Analyte;

/// Where a field's text comes from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum FieldSource {
    /// From the column of this name, compared without regard to case and outer spaces.
    Column(String),
    /// The same for every row.
    Fixed(String),
}

/// Where a time comes from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum TimeSource {
    /// From one column.
    Column(String),
    /// From two, joined by one space before the patterns are tried.
    DateAndTime(DateAndTimeColumns),
}

/// A date and a time of day in columns of their own.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct DateAndTimeColumns {
    /// Column of the date.
    pub date: String,
    /// Column of the time of day.
    pub time: String,
}

/// The columns that describe a run. A blank cell of an optional column is no fault.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct MappedColumns {
    /// Serial number of the reader.
    pub reader_serial: FieldSource,
    /// Port of the reader, a whole number.
    pub port: FieldSource,
    /// When the strip was read.
    pub read_at: TimeSource,
    /// When its development began.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub started_at: Option<TimeSource>,
    /// Code or barcode of the sample.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sample_code: Option<String>,
    /// Code of the lot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot_code: Option<String>,
    /// Lot of the test kit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kit_lot_code: Option<FieldSource>,
    /// Lot whose curve the reader used.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub curve_lot_code: Option<FieldSource>,
    /// Matrix for which the reader computed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub matrix: Option<FieldSource>,
    /// Who worked at the reader, in its words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub operator: Option<String>,
    /// The dilution factor that the reader was told.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stated_factor: Option<String>,
    /// Barcode of the strip.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub strip_barcode: Option<String>,
    /// Whether the control line appeared.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub control_line: Option<ControlLineColumn>,
    /// Free text.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub comment: Option<String>,
}

/// The control line's column and its words; a blank cell says nothing.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ControlLineColumn {
    /// Name of the column.
    pub column: String,
    /// Words for a control line that appeared.
    pub valid: Vec<String>,
    /// Words for one that did not: the readings are kept as invalid.
    pub invalid: Vec<String>,
}

/// The columns that hold readings.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum ReadingColumns {
    /// One reading a row; other analytes of the run stand in rows of their own.
    ByRow(ReadingPerRow),
    /// One column for each analyte; a blank cell is no reading.
    ByColumn(Vec<ReadingColumn>),
}

/// One reading a row.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ReadingPerRow {
    /// The analyte.
    pub analyte: FieldSource,
    /// Column of the value.
    pub value: String,
    /// Column of the value multiplied by the dilution factor, where the export gives both.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub multiplied_value: Option<String>,
    /// The unit.
    pub unit: FieldSource,
    /// Column of the test line's signal, where the export gives it; a blank cell says nothing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub test_line_signal: Option<String>,
    /// Column of the control line's signal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub control_line_signal: Option<String>,
}

/// A value column for one analyte.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ReadingColumn {
    /// Column of the value.
    pub column: String,
    /// Column of the value multiplied by the dilution factor, where the export gives both.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub multiplied_column: Option<String>,
    /// The analyte.
    pub analyte: Analyte,
    /// The unit.
    pub unit: FieldSource,
    /// Column of its test line's signal, where the export gives it; a blank cell says nothing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub test_line_signal: Option<String>,
    /// Column of the control line's signal; analytes of one strip may share it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub control_line_signal: Option<String>,
}

/// The columns of one dilution step.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct VolumeColumns {
    /// Column of the volume taken.
    pub sample_volume: String,
    /// Column of the volume added.
    pub diluent_volume: String,
}
