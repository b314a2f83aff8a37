//! From one record to a run, or to every reason why not.
//!
//! Promises all faults of a row at once. A blank sample, a kit lot that nobody knows or a clock
//! that is ahead is no fault: whoever records the run holds it.

use std::borrow::Cow;

use rust_decimal::Decimal;
use unicode_normalization::{IsNormalized, UnicodeNormalization, is_nfc_quick};

use super::entry::dilution_steps;
use super::fingerprint::identity;
use super::layout::{Cell, Layout, TimeCell};
use super::numbers::{self, Wrong};
use super::row::{
    ControlLine, ExportedRun, FaultCode, ReadableRow, RowFault, SourceTime, StatedVolumes,
};
use super::{fold, times};
use crate::column_maps::{CheckedColumnMap, ColumnMap, VolumeUnit};
use crate::dilution::factor_of;

/// Longest code, name or matrix that is kept, in characters.
pub(super) const LONGEST_TEXT: usize = 200;
/// Longest comment that is kept, in characters.
const LONGEST_COMMENT: usize = 4_000;

/// Reads one record of the header row's width.
pub(super) fn read(
    fields: &[Cow<'_, str>],
    layout: &Layout<'_>,
    map: &CheckedColumnMap,
) -> Result<ReadableRow, Vec<RowFault>> {
    let mut reader = RowReader {
        fields,
        map,
        faults: Vec::new(),
    };
    let row = reader.row(layout);
    match row {
        Some(row) if reader.faults.is_empty() => Ok(row),
        _ => Err(reader.faults),
    }
}

pub(super) struct RowReader<'a> {
    fields: &'a [Cow<'a, str>],
    map: &'a CheckedColumnMap,
    faults: Vec<RowFault>,
}

impl<'a> RowReader<'a> {
    pub(super) fn settings(&self) -> &'a ColumnMap {
        self.map.map()
    }

    /// A cell's text without outer spaces, and the name of its column; blank is nothing.
    pub(super) fn text<'c>(&self, cell: Cell<'c>) -> Option<(&'c str, &'c str)>
    where
        'a: 'c,
    {
        let (text, name): (&'c str, &'c str) = match cell {
            Cell::Absent => return None,
            Cell::Fixed(text) => (text, ""),
            Cell::Column { position, name } => (self.fields.get(position)?.as_ref(), name),
        };
        let text = text.trim();
        (!text.is_empty()).then_some((text, name))
    }

    pub(super) fn fault(&mut self, column: &str, value: &str, (code, detail): Wrong) {
        self.faults
            .push(RowFault::new(column, value, code, &detail));
    }

    pub(super) fn missing(&mut self, cell: Cell<'_>, what: &str) {
        let column = match cell {
            Cell::Column { name, .. } => name,
            Cell::Fixed(_) | Cell::Absent => "",
        };
        let detail = format!("is blank: without {what} the row cannot be read as a run");
        self.fault(column, "", (FaultCode::Missing, detail));
    }

    /// A text as it is kept: NFC, no control characters.
    fn kept(&mut self, cell: Cell<'_>) -> Option<String> {
        let (text, name) = self.text(cell)?;
        self.plain(text, name, LONGEST_TEXT)
    }

    pub(super) fn plain(&mut self, text: &str, name: &str, longest: usize) -> Option<String> {
        if text.contains(char::is_control) {
            let detail = "holds a line break or another control character; take it out".into();
            self.fault(name, text, (FaultCode::ControlCharacter, detail));
            return None;
        }
        if text.len() > longest && text.chars().count() > longest {
            let detail = format!("is longer than {longest} characters; shorten it");
            self.fault(name, text, (FaultCode::TooLarge, detail));
            return None;
        }
        Some(match is_nfc_quick(text.chars()) {
            IsNormalized::Yes => text.to_owned(),
            IsNormalized::No | IsNormalized::Maybe => text.nfc().collect(),
        })
    }

    fn required(&mut self, cell: Cell<'_>, what: &str) -> Option<String> {
        if self.text(cell).is_none() {
            self.missing(cell, what);
        }
        self.kept(cell)
    }

    fn port(&mut self, cell: Cell<'_>) -> Option<u8> {
        let Some((text, name)) = self.text(cell) else {
            self.missing(cell, "a port");
            return None;
        };
        let digits = text.bytes().all(|b| b.is_ascii_digit());
        let port = text.parse::<u8>().ok().filter(|&port| digits && port > 0);
        if port.is_none() {
            let detail = "is no port; give its whole number, 1 to 255".into();
            self.fault(name, text, (FaultCode::UnreadablePort, detail));
        }
        port
    }

    fn time(&mut self, cell: TimeCell<'_>, needed: Option<&str>) -> Option<SourceTime> {
        let (text, column) = match cell {
            TimeCell::Absent => return None,
            TimeCell::One(one) => match (self.text(one), needed) {
                (Some((text, name)), _) => (Cow::Borrowed(text), Cow::Borrowed(name)),
                (None, Some(what)) => {
                    self.missing(one, what);
                    return None;
                }
                (None, None) => return None,
            },
            TimeCell::Two(date, clock) => match (self.text(date), self.text(clock), needed) {
                (Some((date, first)), Some((clock, second)), _) => (
                    Cow::Owned(format!("{date} {clock}")),
                    Cow::Owned(format!("{first} + {second}")),
                ),
                (None, None, None) => return None,
                (there, _, what) => {
                    let blank = if there.is_none() { date } else { clock };
                    self.missing(blank, what.unwrap_or("both a date and a time of day"));
                    return None;
                }
            },
        };
        match times::read(&text, self.map) {
            Ok(time) => Some(time),
            Err(wrong) => {
                self.fault(&column, &text, wrong);
                None
            }
        }
    }

    fn above_zero(&mut self, cell: Cell<'_>, what: &str) -> Option<Decimal> {
        let (text, name) = self.text(cell)?;
        match numbers::decimal(text, self.settings()) {
            Ok(number) if number.is_zero() => {
                let detail = format!("is no {what}; it must be above zero, or blank");
                self.fault(name, text, (FaultCode::Absurd, detail));
                None
            }
            Ok(number) => Some(number),
            Err(wrong) => {
                self.fault(name, text, wrong);
                None
            }
        }
    }

    fn volume_ul(&mut self, cell: Cell<'_>) -> Option<Decimal> {
        let (text, name) = self.text(cell)?;
        let volume = match numbers::decimal(text, self.settings()) {
            Ok(volume) => volume,
            Err(wrong) => {
                self.fault(name, text, wrong);
                return None;
            }
        };
        let per_unit = match self.settings().volume_unit {
            VolumeUnit::Microlitre => return Some(volume),
            VolumeUnit::Millilitre => Decimal::ONE_THOUSAND,
        };
        let product = volume
            .checked_mul(per_unit)
            .filter(|product| product.scale() == volume.scale());
        if product.is_none() {
            let detail = "has more digits than can be kept exactly (28)".into();
            self.fault(name, text, (FaultCode::TooLarge, detail));
        }
        product
    }

    /// A step of which nothing was added is no step.
    fn step(&mut self, sample: Cell<'_>, diluent: Cell<'_>) -> Option<StatedVolumes> {
        let there = (self.text(sample).is_some(), self.text(diluent).is_some());
        let before = self.faults.len();
        let (taken, added) = (self.volume_ul(sample), self.volume_ul(diluent));
        if self.faults.len() > before || there == (false, false) {
            return None;
        }
        let added = added.filter(|added| !added.is_zero());
        let taken = taken.filter(|taken| !taken.is_zero());
        match (taken, added) {
            (Some(sample_volume_ul), Some(diluent_volume_ul)) => Some(StatedVolumes {
                sample_volume_ul,
                diluent_volume_ul,
            }),
            (_, None) if there.1 || taken.is_none() => None,
            (taken, _) => {
                let blank = if taken.is_none() { sample } else { diluent };
                let (column, value) = match (blank, self.text(blank)) {
                    (_, Some((text, name))) => (name, text),
                    (Cell::Column { name, .. }, None) => (name, ""),
                    (Cell::Fixed(_) | Cell::Absent, None) => ("", ""),
                };
                let detail = "a dilution step needs both its volumes above zero, or neither".into();
                self.fault(column, value, (FaultCode::HalfADilution, detail));
                None
            }
        }
    }

    fn volumes(&mut self, layout: &Layout<'_>) -> Vec<StatedVolumes> {
        let mut volumes = Vec::new();
        for &(sample, diluent) in &layout.volumes {
            volumes.extend(self.step(sample, diluent));
        }
        if !volumes.is_empty()
            && let Err(error) = factor_of(&dilution_steps(&volumes, ""))
            && let Some(&(sample, _)) = layout.volumes.first()
        {
            let (text, name) = self.text(sample).unwrap_or_default();
            self.fault(name, text, (FaultCode::TooLarge, error.to_string()));
        }
        volumes
    }

    fn control_line(&mut self, layout: &Layout<'_>) -> Option<ControlLine> {
        let (cell, words) = layout.control_line?;
        let (text, name) = self.text(cell)?;
        let folded = fold(text);
        let is = |list: &[String]| list.iter().any(|word| fold(word) == folded);
        if is(&words.invalid) {
            return Some(ControlLine::Invalid);
        }
        if is(&words.valid) {
            return Some(ControlLine::Valid);
        }
        let detail = "is no word for a control line in the map; add it there".into();
        self.fault(name, text, (FaultCode::UnknownControlLine, detail));
        None
    }

    fn row(&mut self, layout: &Layout<'_>) -> Option<ReadableRow> {
        let control_line = self.control_line(layout);
        let readings = self.readings(layout, control_line);
        let comment = self.comment(layout.comment);
        let run = self.run(layout)?;
        Some(ReadableRow {
            identity: identity(&run, &self.settings().identity),
            run,
            readings,
            control_line,
            comment,
        })
    }

    /// Free text may have line breaks when it is uploaded; it is kept on one line.
    fn comment(&mut self, cell: Cell<'_>) -> Option<String> {
        let (text, name) = self.text(cell)?;
        if !text.contains(['\r', '\n', '\t']) {
            return self.plain(text, name, LONGEST_COMMENT);
        }
        let parts: Vec<&str> = text.split(['\r', '\n', '\t']).map(str::trim).collect();
        let parts: Vec<&str> = parts.into_iter().filter(|part| !part.is_empty()).collect();
        self.plain(&parts.join(" "), name, LONGEST_COMMENT)
    }

    fn run(&mut self, layout: &Layout<'_>) -> Option<ExportedRun> {
        let reader_serial = self.required(layout.reader_serial, "a reader");
        let port = self.port(layout.port);
        let read_at = self.time(layout.read_at, Some("the time that it was read"));
        let started_at = self.time(layout.started_at, None);
        if let (Some(read), Some(started)) = (&read_at, &started_at)
            && read.at < started.at
        {
            let detail = format!("is before the strip was begun, at {}", started.written);
            self.fault(
                name_of(layout.read_at),
                &read.written,
                (FaultCode::ReadBeforeBegun, detail),
            );
        }
        let operator = self.kept(layout.operator);
        let sample_code = self.kept(layout.sample_code);
        let lot_code = self.kept(layout.lot_code);
        let volumes = self.volumes(layout);
        let run = (
            self.kept(layout.kit_lot_code),
            self.kept(layout.curve_lot_code),
            self.kept(layout.matrix),
            self.kept(layout.strip_barcode),
            self.above_zero(layout.stated_factor, "dilution factor"),
        );
        let (kit_lot_code, curve_lot_code, matrix, strip_barcode, stated_factor) = run;
        Some(ExportedRun {
            reader_serial: reader_serial?,
            port: port?,
            read_at: read_at?,
            started_at,
            registers_sample: self.settings().register_samples
                && sample_code.as_deref().is_some_and(is_code)
                && lot_code.is_some(),
            sample_code,
            lot_code,
            kit_lot_code,
            curve_lot_code,
            matrix,
            operator_account: operator
                .as_ref()
                .and_then(|operator| layout.operators.get(&fold(operator)).copied()),
            operator,
            strip_barcode,
            stated_factor,
            volumes,
            already_multiplied: self.settings().already_multiplied,
        })
    }
}

/// The column that a fault of a time is shown with.
fn name_of(cell: TimeCell<'_>) -> &str {
    match cell {
        TimeCell::One(Cell::Column { name, .. }) | TimeCell::Two(_, Cell::Column { name, .. }) => {
            name
        }
        TimeCell::One(Cell::Fixed(_) | Cell::Absent)
        | TimeCell::Two(_, Cell::Fixed(_) | Cell::Absent)
        | TimeCell::Absent => "",
    }
}

/// Whether a sample can be registered under the code; one that cannot is held as unknown.
fn is_code(text: &str) -> bool {
    let mut faults = crate::faults::Faults::default();
    crate::entries::code(&mut faults, "", text);
    faults.0.is_empty()
}
