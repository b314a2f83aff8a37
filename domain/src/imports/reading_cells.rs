//! The readings of one record: analyte, value and unit.
//!
//! Promises a value in a unit of mass fraction, beside the text that it was written with. Refuses
//! values without a unit, and units that could mean two things.

use super::fold;
use super::layout::{Cell, Layout, ReadingCells};
use super::numbers;
use super::row::{ControlLine, ExportedReading, ExportedValue, FaultCode};
use super::row_reader::{LONGEST_TEXT, RowReader};
use super::units::mass_unit;
use crate::analytes::Analyte;

impl RowReader<'_> {
    pub(super) fn readings(
        &mut self,
        layout: &Layout<'_>,
        control_line: Option<ControlLine>,
    ) -> Vec<ExportedReading> {
        let invalid = control_line == Some(ControlLine::Invalid);
        match &layout.readings {
            ReadingCells::ByRow {
                analyte,
                value,
                unit,
            } => {
                let analyte = self.analyte(*analyte, layout);
                if self.text(*value).is_none() && !invalid {
                    self.missing(*value, "a value");
                    return Vec::new();
                }
                let reading = self.reading(analyte, *value, *unit, invalid);
                reading.into_iter().collect()
            }
            ReadingCells::ByColumn(cells) => {
                let blank = cells
                    .iter()
                    .all(|(_, value, _)| self.text(*value).is_none());
                if let (true, false, Some((_, first, _))) = (blank, invalid, cells.first()) {
                    self.missing(*first, "a value of any analyte");
                }
                cells
                    .iter()
                    .filter(|(_, value, _)| self.text(*value).is_some() || (invalid && blank))
                    .copied()
                    .collect::<Vec<_>>()
                    .into_iter()
                    .filter_map(|(analyte, value, unit)| {
                        self.reading(Some(analyte), value, unit, invalid)
                    })
                    .collect()
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
        value_cell: Cell<'_>,
        unit_cell: Cell<'_>,
        invalid: bool,
    ) -> Option<ExportedReading> {
        let (written, column) = self.text(value_cell).unwrap_or_default();
        let value = if invalid {
            Ok(ExportedValue::Invalid)
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
        let has_number = value.is_none_or(|value| {
            !matches!(value, ExportedValue::Invalid | ExportedValue::NotDetected)
        });
        let unit_text = self.text(unit_cell);
        let unit = match unit_text {
            None if has_number => {
                self.missing(unit_cell, "a unit");
                return None;
            }
            None => None,
            Some((text, name)) => match mass_unit(text, &self.settings().units_by_mass) {
                Ok(unit) => Some(unit),
                Err(wrong) => {
                    self.fault(name, text, wrong);
                    return None;
                }
            },
        };
        let value = value?;
        let value = match unit.map(|unit| numbers::in_unit(value, unit)) {
            None => value,
            Some(Ok(value)) => value,
            Some(Err(wrong)) => {
                self.fault(column, written, wrong);
                return None;
            }
        };
        let written = self.plain(written, column, LONGEST_TEXT)?;
        Some(ExportedReading {
            analyte: analyte?,
            value,
            unit: unit.map(|unit| unit.unit),
            written,
            unit_written: unit_text.map_or_else(String::new, |(text, _)| text.to_owned()),
        })
    }
}
