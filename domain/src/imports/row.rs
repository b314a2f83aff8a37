//! What one row of an export says, with its types; and what can be wrong with it.
//!
//! Promises values as written, times in UTC beside their own text, units that are mass fractions.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::RecordFault;
use crate::id::AccountId;
use crate::runs::{Reading, ReadingKind};
use crate::time::Moment;

/// A time as its source had it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SourceTime {
    /// The moment.
    pub at: Moment,
    /// The source's own text.
    pub written: String,
    /// The zone that it was read in: an IANA name, or the offset that the text itself has.
    pub zone: String,
}

/// The volumes of one dilution step, as stated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StatedVolumes {
    /// Volume taken, in µL, above zero.
    pub sample_volume_ul: Decimal,
    /// Volume added, in µL, above zero.
    pub diluent_volume_ul: Decimal,
}

/// Whether the control line appeared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ControlLine {
    /// It did.
    Valid,
    /// It did not: the row's readings are kept, and never used.
    Invalid,
}

/// One reading of one analyte.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ExportedReading {
    /// The reading; where it has no number and the row no unit, the unit is µg/kg.
    pub reading: Reading,
    /// The value's own text.
    pub written: String,
    /// The unit's own text.
    pub unit_written: String,
}

/// A reading's value as text, with the places that it was written with.
///
/// ```
/// use domain::imports::value_text;
/// let reading = serde_json::from_str(
///     r#"{"analyte":"zearalenone","kind":"below","value":"25.0","unit":"ug/kg"}"#)?;
/// assert_eq!(value_text(&reading), "<25.0");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[must_use]
pub fn value_text(reading: &Reading) -> String {
    let mark = match reading.kind {
        ReadingKind::Number => "",
        ReadingKind::Below => "<",
        ReadingKind::Above => ">",
        ReadingKind::NotDetected => "not-detected",
        ReadingKind::Invalid => "invalid",
    };
    match reading.value {
        Some(value) => format!("{mark}{value}"),
        None => mark.to_owned(),
    }
}

/// What a row says of the run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ExportedRun {
    /// Serial number of the reader.
    pub reader_serial: String,
    /// Port of the reader, from 1.
    pub port: u8,
    /// When the strip was read.
    pub read_at: SourceTime,
    /// When its development began; never after `read_at`.
    pub started_at: Option<SourceTime>,
    /// Code of the sample; blank ones are assigned later.
    pub sample_code: Option<String>,
    /// Code of the lot.
    pub lot_code: Option<String>,
    /// Whether an unknown sample is to be registered under that lot.
    pub registers_sample: bool,
    /// Lot of the test kit.
    pub kit_lot_code: Option<String>,
    /// Lot whose curve the reader used.
    pub curve_lot_code: Option<String>,
    /// Matrix for which the reader computed.
    pub matrix: Option<String>,
    /// Operator, in the export's words: personal data.
    pub operator: Option<String>,
    /// Whose account that is by the map.
    pub operator_account: Option<AccountId>,
    /// Barcode of the strip.
    pub strip_barcode: Option<String>,
    /// The factor that the reader was told, as written, above zero.
    pub stated_factor: Option<Decimal>,
    /// Dilution steps beyond the procedure's own scheme, in order; none for an undiluted run.
    pub volumes: Vec<StatedVolumes>,
    /// Whether values are multiplied by the factor already.
    pub already_multiplied: bool,
}

/// A row that can be read as a run, or as a part of one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadableRow {
    /// What identifies the run: the map's identity fields as canonical JSON.
    pub identity: String,
    /// What the row says of the run.
    pub run: ExportedRun,
    /// Its readings: one, or one for each value column that is not blank.
    pub readings: Vec<ExportedReading>,
    /// Whether the control line appeared, where the row says.
    pub control_line: Option<ControlLine>,
    /// Free text.
    pub comment: Option<String>,
}

/// One thing that keeps a row from being read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct RowFault {
    /// The column, as the map names it; blank for the row as a whole.
    pub column: String,
    /// The value that is at fault, shortened.
    pub value: String,
    /// What is wrong, and what to do.
    pub detail: String,
    /// The kind of fault.
    pub code: FaultCode,
}

/// The kinds of faults of a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum FaultCode {
    /// Quotes stand where they may not.
    BrokenQuotes,
    /// More or fewer fields than the header row has.
    WrongFieldCount,
    /// A field without which there is no run.
    Missing,
    /// Characters that no text may hold.
    ControlCharacter,
    /// A port that is no whole number.
    UnreadablePort,
    /// A time that fits no format.
    UnreadableTime,
    /// A time that is two times.
    AmbiguousTime,
    /// A local time that the clock change leaves out.
    NoSuchTime,
    /// Read before it began.
    ReadBeforeBegun,
    /// An analyte that is not known.
    UnknownAnalyte,
    /// Text where a number is due.
    NotANumber,
    /// A number below zero.
    Negative,
    /// A number that cannot be.
    Absurd,
    /// A number with more digits than can be kept.
    TooLarge,
    /// A unit that is no mass fraction known here.
    UnknownUnit,
    /// A unit that does not say whether it is by mass.
    AmbiguousUnit,
    /// One volume of a step without the other.
    HalfADilution,
    /// A word for the control line that the map does not name.
    UnknownControlLine,
    /// Something that cannot be true of a run, such as a port that the reader does not have.
    NoSuchRun,
    /// It says something else than an earlier row of the same run.
    ContradictsRow,
    /// It says something else than was imported of the same run before.
    ContradictsRun,
    /// Several runs typed at the bench are equally near.
    SeveralBenchRuns,
}

impl RowFault {
    /// The value and column of a fault, the value cut to a length that can be shown.
    pub(super) fn new(column: &str, value: &str, code: FaultCode, detail: &str) -> Self {
        Self {
            column: column.to_owned(),
            value: value.chars().take(200).collect(),
            detail: detail.to_owned(),
            code,
        }
    }

    pub(super) fn of_record(fault: &RecordFault) -> Self {
        Self::new("", "", FaultCode::BrokenQuotes, &fault.to_string())
    }

    pub(super) fn of_width(found: usize, due: usize) -> Self {
        let likely = if found > due {
            "a delimiter stands inside a field that is not quoted, or two rows run together"
        } else {
            "a part of it is missing, or a line break stands inside a field that is not quoted"
        };
        let detail = format!("the row has {found} fields where the header row has {due}: {likely}");
        Self::new("", "", FaultCode::WrongFieldCount, &detail)
    }
}
