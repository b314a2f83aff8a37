//! The readings of one record: analyte, value and unit.
//!
//! Promises a value in a unit of mass fraction, beside the text that it was written with, and the
//! signals of its strip. Refuses values without a unit, units that could mean two things, and
//! signals that are no numbers.

use rust_decimal::Decimal;

use super::fold;
use super::layout::{Cell, Layout, ReadingCells, ValueCells};
use super::numbers::{self, ExportedValue};
use super::row::{ControlLine, ExportedReading, FaultCode};
use super::row_reader::{LONGEST_TEXT, RowReader};
use super::units::{MassUnit, mass_unit};
use crate::analytes::Analyte;
use crate::quantity::{Number, Unit};
use crate::runs::{InvalidReason, Reading, ReadingKind};
use crate::signals::StripSignals;

impl RowReader<'_> {
    pub(super) fn readings(
        &mut self,
        layout: &Layout<'_>,
        control_line: Option<ControlLine>,
    ) -> Vec<ExportedReading> {
        let invalid = control_line == Some(ControlLine::Invalid);
        match &layout.readings {
            ReadingCells::ByRow { analyte, cells } => {
                let analyte = self.analyte(*analyte, layout);
                if self.text(cells.value).is_none() && !invalid {
                    self.missing(cells.value, "a value");
                    return Vec::new();
                }
                let reading = self.reading(analyte, *cells, invalid);
                reading.into_iter().collect()
            }
            ReadingCells::ByColumn(columns) => {
                let blank = columns
                    .iter()
                    .all(|(_, cells)| self.text(cells.value).is_none());
                if let (true, false, Some((_, first))) = (blank, invalid, columns.first()) {
                    self.missing(first.value, "a value of any analyte");
                }
                let mut readings = Vec::with_capacity(columns.len());
                for (analyte, cells) in columns {
                    // Without a control line every analyte of the strip is invalid.
                    if self.text(cells.value).is_some() || invalid {
                        readings.extend(self.reading(Some(*analyte), *cells, invalid));
                    }
                }
                readings
            }
        }
    }

    fn analyte(&mut self, cell: Cell<'_>, layout: &Layout<'_>) -> Option<Analyte> {
        let Some((text, name)) = self.text(cell) else {
            self.missing(cell, "an analyte");
            return None;
        };
        if let Some(analyte) = layout.analytes.get(&fold(text)) {
            return Some(*analyte);
        }
        match text.parse::<Analyte>() {
            Ok(analyte) => Some(analyte),
            Err(error) => {
                let detail = format!("{error}; or name it in the map's analyte_names");
                self.fault(name, text, (FaultCode::UnknownAnalyte, detail));
                None
            }
        }
    }

    fn reading(
        &mut self,
        analyte: Option<Analyte>,
        cells: ValueCells<'_>,
        invalid: bool,
    ) -> Option<ExportedReading> {
        let (written, column) = self.text(cells.value).unwrap_or_default();
        let value = if invalid {
            Ok(ExportedValue::Invalid(InvalidReason::NoControlLine))
        } else {
            numbers::value(written, self.settings())
        };
        let value = match value {
            Ok(value) => Some(value),
            Err(wrong) => {
                self.fault(column, written, wrong);
                None
            }
        };
        let (kind, number, reason) = match value {
            Some(ExportedValue::Number(number)) => (ReadingKind::Number, Some(number), None),
            Some(ExportedValue::Below(number)) => (ReadingKind::Below, Some(number), None),
            Some(ExportedValue::Above(number)) => (ReadingKind::Above, Some(number), None),
            Some(ExportedValue::NotDetected) => (ReadingKind::NotDetected, None, None),
            Some(ExportedValue::Invalid(reason)) => (ReadingKind::Invalid, None, Some(reason)),
            None => (ReadingKind::Number, None, None),
        };
        let signals = self.signals(cells);
        let needs_unit = number.is_some() || value.is_none();
        let unit = self.unit(cells.unit, needs_unit)?;
        value?;
        let number = match number {
            None => None,
            Some(number) => Some(self.converted(number, unit, cells.value)?),
        };
        let multiplied_value = match number {
            None => None,
            Some(_) => self.multiplied(cells.multiplied, kind, unit)?,
        };
        Some(ExportedReading {
            reading: Reading {
                analyte: analyte?,
                kind,
                value: number,
                multiplied_value,
                unit: unit.unit,
                reason,
                signals,
            },
            written: self.plain(written, column, LONGEST_TEXT)?,
            unit_written: self
                .text(cells.unit)
                .map_or_else(String::new, |(text, _)| text.to_owned()),
        })
    }

    /// The signals of the lines, as far as the row gives them.
    fn signals(&mut self, cells: ValueCells<'_>) -> Option<StripSignals> {
        let test_line = self.signal(cells.test_line);
        let control_line = self.signal(cells.control_line);
        (test_line.is_some() || control_line.is_some()).then_some(StripSignals {
            test_line,
            control_line,
        })
    }

    fn signal(&mut self, cell: Cell<'_>) -> Option<Number> {
        let (text, name) = self.text(cell)?;
        match numbers::decimal(text, self.settings()) {
            Ok(signal) => Some(Number(signal)),
            Err(wrong) => {
                self.fault(name, text, wrong);
                None
            }
        }
    }

    fn unit(&mut self, cell: Cell<'_>, needed: bool) -> Option<MassUnit> {
        match self.text(cell) {
            None if needed => {
                self.missing(cell, "a unit");
                None
            }
            None => Some(MassUnit {
                unit: Unit::UgPerKg,
                multiplier: Decimal::ONE,
            }),
            Some((text, name)) => match mass_unit(text, &self.settings().units_by_mass) {
                Ok(unit) => Some(unit),
                Err(wrong) => {
                    self.fault(name, text, wrong);
                    None
                }
            },
        }
    }

    fn converted(&mut self, number: Decimal, unit: MassUnit, cell: Cell<'_>) -> Option<Number> {
        match numbers::in_unit(number, unit) {
            Ok(number) => Some(Number(number)),
            Err(wrong) => {
                let (text, name) = self.text(cell).unwrap_or_default();
                self.fault(name, text, wrong);
                None
            }
        }
    }

    /// The value times the factor, which must be of the value's own kind; a blank is none.
    #[expect(
        clippy::option_option,
        reason = "a fault, and nothing there, are different"
    )]
    fn multiplied(
        &mut self,
        cell: Cell<'_>,
        kind: ReadingKind,
        unit: MassUnit,
    ) -> Option<Option<Number>> {
        let Some((text, name)) = self.text(cell) else {
            return Some(None);
        };
        let number = match (numbers::value(text, self.settings()), kind) {
            (Ok(ExportedValue::Number(number)), ReadingKind::Number)
            | (Ok(ExportedValue::Below(number)), ReadingKind::Below)
            | (Ok(ExportedValue::Above(number)), ReadingKind::Above) => number,
            (Err(wrong), _) => {
                self.fault(name, text, wrong);
                return None;
            }
            (Ok(_), _) => {
                let detail = "is of another kind than the value beside it".into();
                self.fault(name, text, (FaultCode::NotANumber, detail));
                return None;
            }
        };
        self.converted(number, unit, cell).map(Some)
    }
}
