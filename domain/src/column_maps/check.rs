//! The check of a column map before anything is read by it.
//!
//! Promises every fault at once, each with its JSON pointer. Refuses maps that would read two
//! meanings from one text, or lose the identity of a run.

use std::collections::BTreeSet;

use chrono_tz::Tz;

use super::check_member::{
    check_disjoint, check_name, check_signals, check_source, check_time, check_words, escape,
};
use super::{
    ColumnMap, DecimalMark, FieldSource, IdentityField, ReadingColumn, ReadingColumns,
    ThousandsMark, TimePattern,
};
use crate::analytes::Analyte;
use crate::faults::Faults;
use crate::imports::{fold, mass_unit};

/// The longest tolerance for joining with a run typed at the bench, in seconds: one hour.
const LONGEST_TOLERANCE_SECONDS: u32 = 3_600;
/// More dilution steps than any procedure has.
const MOST_DILUTION_STEPS: usize = 8;

/// A column map that can be read by.
///
/// ```
/// use domain::column_maps::ColumnMap;
/// let map: ColumnMap = serde_json::from_str(r#"{
///     "name": "Reader of bay 2", "mode": "row_by_row",
///     "time_zone": "Europe/Vienna", "time_formats": ["rfc3339"],
///     "columns": {"reader_serial": {"column": "Reader"}, "port": {"fixed": "1"},
///                 "read_at": {"column": "Time"}},
///     "readings": {"by_row": {"analyte": {"column": "Test"}, "value": "Result",
///                             "unit": {"column": "Unit"}}}
/// }"#)?;
/// assert_eq!(map.clone().check().unwrap().map().name, "Reader of bay 2");
/// assert!(ColumnMap { time_zone: "Europe/Atlantis".into(), ..map }.check().is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CheckedColumnMap {
    map: ColumnMap,
    zone: Tz,
    patterns: Vec<TimePattern>,
}

impl CheckedColumnMap {
    /// The map as it was entered.
    #[must_use]
    pub const fn map(&self) -> &ColumnMap {
        &self.map
    }

    /// The zone of its local times.
    #[must_use]
    pub const fn zone(&self) -> Tz {
        self.zone
    }

    /// Its time formats.
    #[must_use]
    pub fn patterns(&self) -> &[TimePattern] {
        &self.patterns
    }
}

impl ColumnMap {
    /// Checks the map.
    ///
    /// # Errors
    /// Every fault, each with the JSON pointer of the member.
    pub fn check(self) -> Result<CheckedColumnMap, Faults> {
        let mut faults = Faults::default();
        let text_is_plain =
            |text: &str| !text.trim().is_empty() && !text.contains(char::is_control);
        faults.require(
            text_is_plain(&self.name) && self.name.chars().count() <= 200,
            "/name",
            || "give the map a name of 1 to 200 characters".into(),
        );
        let zone = self.time_zone.parse::<Tz>();
        faults.require(zone.is_ok(), "/time_zone", || {
            let zone: String = self.time_zone.chars().take(60).collect();
            format!("\"{zone}\" is no zone of the IANA database; write one such as Europe/Vienna")
        });
        let patterns = self.check_time_formats(&mut faults);
        self.check_numbers(&mut faults);
        self.check_columns(&mut faults);
        self.check_readings(&mut faults);
        self.check_dilution(&mut faults);
        check_words(&self.words, &mut faults);
        self.check_operators(&mut faults);
        self.check_identity(&mut faults);
        match zone {
            Ok(zone) if faults.0.is_empty() => Ok(CheckedColumnMap {
                map: self,
                zone,
                patterns,
            }),
            _ => Err(faults),
        }
    }

    fn check_time_formats(&self, faults: &mut Faults) -> Vec<TimePattern> {
        faults.require(!self.time_formats.is_empty(), "/time_formats", || {
            "give at least one format, such as %d.%m.%Y %H:%M:%S".into()
        });
        let mut patterns = Vec::new();
        for (at, format) in self.time_formats.iter().enumerate() {
            match format.parse() {
                Ok(pattern) => patterns.push(pattern),
                Err(error) => faults.add(
                    format!("/time_formats/{at}"),
                    super::TimePatternError::to_string(&error),
                ),
            }
        }
        patterns
    }

    fn check_numbers(&self, faults: &mut Faults) {
        let clash = matches!(
            (self.decimal_mark, self.thousands_mark),
            (DecimalMark::Point, Some(ThousandsMark::Point))
                | (DecimalMark::Comma, Some(ThousandsMark::Comma))
        );
        faults.require(!clash, "/thousands_mark", || {
            "the same mark cannot stand before decimals and between thousands".into()
        });
        faults.require(
            self.join_tolerance_seconds <= LONGEST_TOLERANCE_SECONDS,
            "/join_tolerance_seconds",
            || format!("give 0 to {LONGEST_TOLERANCE_SECONDS} seconds"),
        );
        let distinct: BTreeSet<String> = self
            .units_by_mass
            .iter()
            .map(|unit| format!("{unit:?}"))
            .collect();
        faults.require(
            distinct.len() == self.units_by_mass.len(),
            "/units_by_mass",
            || "a unit stands here twice".into(),
        );
    }

    fn check_columns(&self, faults: &mut Faults) {
        let columns = &self.columns;
        check_source(
            "/columns/reader_serial",
            Some(&columns.reader_serial),
            faults,
        );
        check_source("/columns/port", Some(&columns.port), faults);
        if let FieldSource::Fixed(port) = &columns.port {
            faults.require(
                port.trim().parse::<u8>().is_ok_and(|port| port > 0),
                "/columns/port/fixed",
                || "a port is a whole number, 1 to 255".into(),
            );
        }
        check_source(
            "/columns/kit_lot_code",
            columns.kit_lot_code.as_ref(),
            faults,
        );
        check_source(
            "/columns/curve_lot_code",
            columns.curve_lot_code.as_ref(),
            faults,
        );
        check_source("/columns/matrix", columns.matrix.as_ref(), faults);
        check_time("/columns/read_at", Some(&columns.read_at), faults);
        check_time("/columns/started_at", columns.started_at.as_ref(), faults);
        for (pointer, name) in [
            ("/columns/sample_code", &columns.sample_code),
            ("/columns/lot_code", &columns.lot_code),
            ("/columns/operator", &columns.operator),
            ("/columns/stated_factor", &columns.stated_factor),
            ("/columns/strip_barcode", &columns.strip_barcode),
            ("/columns/comment", &columns.comment),
        ] {
            if let Some(name) = name {
                check_name(pointer, name, faults);
            }
        }
        if let Some(control) = &columns.control_line {
            check_name("/columns/control_line/column", &control.column, faults);
            faults.require(
                !control.invalid.is_empty(),
                "/columns/control_line/invalid",
                || "say which words mean that no control line appeared".into(),
            );
            check_disjoint(
                ("/columns/control_line/valid", &control.valid),
                ("/columns/control_line/invalid", &control.invalid),
                faults,
            );
        }
        if self.register_samples {
            faults.require(columns.lot_code.is_some(), "/columns/lot_code", || {
                "samples can only be registered from a row that names their lot".into()
            });
            faults.require(
                columns.sample_code.is_some(),
                "/columns/sample_code",
                || "samples can only be registered from a row that names them".into(),
            );
        }
    }

    fn check_readings(&self, faults: &mut Faults) {
        match &self.readings {
            ReadingColumns::ByRow(row) => {
                check_source("/readings/by_row/analyte", Some(&row.analyte), faults);
                if let FieldSource::Fixed(analyte) = &row.analyte
                    && let Err(error) = analyte.trim().parse::<Analyte>()
                {
                    faults.add("/readings/by_row/analyte/fixed", error.to_string());
                }
                check_name("/readings/by_row/value", &row.value, faults);
                self.check_multiplied(
                    "/readings/by_row/multiplied_value",
                    row.multiplied_value.as_deref(),
                    faults,
                );
                self.check_unit("/readings/by_row/unit", &row.unit, faults);
                let (test, control) = (&row.test_line_signal, &row.control_line_signal);
                check_signals(
                    "/readings/by_row",
                    test.as_deref(),
                    control.as_deref(),
                    faults,
                );
            }
            ReadingColumns::ByColumn(list) => self.check_reading_columns(list, faults),
        }
        let mut folded = BTreeSet::new();
        for name in self.analyte_names.keys() {
            faults.require(
                !name.trim().is_empty() && folded.insert(fold(name)),
                format!("/analyte_names/{}", escape(name)),
                || "a name must not be blank, nor stand here twice".into(),
            );
        }
    }

    fn check_reading_columns(&self, list: &[ReadingColumn], faults: &mut Faults) {
        faults.require(!list.is_empty(), "/readings/by_column", || {
            "name at least one column that holds readings".into()
        });
        let (mut analytes, mut names) = (BTreeSet::new(), BTreeSet::new());
        for (at, reading) in list.iter().enumerate() {
            let pointer = format!("/readings/by_column/{at}");
            check_name(&format!("{pointer}/column"), &reading.column, faults);
            self.check_unit(&format!("{pointer}/unit"), &reading.unit, faults);
            self.check_multiplied(
                &format!("{pointer}/multiplied_column"),
                reading.multiplied_column.as_deref(),
                faults,
            );
            let (test, control) = (&reading.test_line_signal, &reading.control_line_signal);
            check_signals(&pointer, test.as_deref(), control.as_deref(), faults);
            if !analytes.insert(reading.analyte) {
                faults.add(
                    format!("{pointer}/analyte"),
                    format!("{} has a column already", reading.analyte),
                );
            }
            if !names.insert(fold(&reading.column)) {
                faults.add(
                    format!("{pointer}/column"),
                    format!("\"{}\" is the column of another analyte", reading.column),
                );
            }
        }
    }

    fn check_unit(&self, pointer: &str, unit: &FieldSource, faults: &mut Faults) {
        check_source(pointer, Some(unit), faults);
        if let FieldSource::Fixed(unit) = unit
            && let Err((_, detail)) = mass_unit(unit, &self.units_by_mass)
        {
            faults.add(format!("{pointer}/fixed"), detail);
        }
    }

    fn check_multiplied(&self, pointer: &str, name: Option<&str>, faults: &mut Faults) {
        let Some(name) = name else { return };
        check_name(pointer, name, faults);
        faults.require(!self.already_multiplied, pointer, || {
            "stands beside a value that is multiplied already: say which one it is".into()
        });
    }

    fn check_dilution(&self, faults: &mut Faults) {
        faults.require(
            self.dilution_volumes.len() <= MOST_DILUTION_STEPS,
            "/dilution_volumes",
            || format!("at most {MOST_DILUTION_STEPS} steps are read"),
        );
        for (at, step) in self.dilution_volumes.iter().enumerate() {
            let pointer = format!("/dilution_volumes/{at}");
            check_name(
                &format!("{pointer}/sample_volume"),
                &step.sample_volume,
                faults,
            );
            check_name(
                &format!("{pointer}/diluent_volume"),
                &step.diluent_volume,
                faults,
            );
            faults.require(
                fold(&step.sample_volume) != fold(&step.diluent_volume),
                format!("{pointer}/diluent_volume"),
                || "the volume taken and the volume added need columns of their own".into(),
            );
        }
        let plain = !self.diluent.trim().is_empty() && !self.diluent.contains(char::is_control);
        faults.require(plain && self.diluent.len() <= 200, "/diluent", || {
            "say what was added, such as water".into()
        });
        let factor_is_known =
            self.columns.stated_factor.is_some() || !self.dilution_volumes.is_empty();
        faults.require(
            !self.already_multiplied || factor_is_known,
            "/already_multiplied",
            || {
                "name the factor's column, or those of the volumes: by what was it multiplied?"
                    .into()
            },
        );
    }

    fn check_operators(&self, faults: &mut Faults) {
        let mut folded = BTreeSet::new();
        for name in self.operators.keys() {
            faults.require(
                !name.trim().is_empty() && folded.insert(fold(name)),
                format!("/operators/{}", escape(name)),
                || "an operator must not be blank, nor stand here twice".into(),
            );
        }
        faults.require(
            self.operators.is_empty() || self.columns.operator.is_some(),
            "/columns/operator",
            || "operators are mapped, but no column names them".into(),
        );
    }

    fn check_identity(&self, faults: &mut Faults) {
        let identity = &self.identity;
        let distinct: BTreeSet<_> = identity.iter().collect();
        faults.require(distinct.len() == identity.len(), "/identity", || {
            "a field stands here twice".into()
        });
        let tells_runs_apart = |field: &IdentityField| {
            matches!(
                field,
                IdentityField::ReadAt | IdentityField::StartedAt | IdentityField::StripBarcode
            )
        };
        faults.require(identity.iter().any(tells_runs_apart), "/identity", || {
            "a time or the strip's barcode must be among the fields that identify a run".into()
        });
        for (at, field) in identity.iter().enumerate() {
            let mapped = match field {
                IdentityField::ReaderSerial | IdentityField::Port | IdentityField::ReadAt => true,
                IdentityField::StartedAt => self.columns.started_at.is_some(),
                IdentityField::SampleCode => self.columns.sample_code.is_some(),
                IdentityField::KitLotCode => self.columns.kit_lot_code.is_some(),
                IdentityField::StripBarcode => self.columns.strip_barcode.is_some(),
            };
            faults.require(mapped, format!("/identity/{at}"), || {
                "the field identifies a run, but has no column".into()
            });
        }
    }
}
