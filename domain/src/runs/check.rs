//! What is wrong with a run that was handed in.

use std::collections::BTreeSet;

use super::RunEntry;
use crate::dilution::check_steps;
use crate::entries;
use crate::faults::Faults;

/// What is known about the reader that a run names.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct RunContext {
    /// How many ports it has; none where the reader is not known.
    pub ports: Option<u8>,
}

impl RunEntry {
    /// Every fault of a run that was read, with JSON pointers into it.
    ///
    /// # Errors
    /// The faults: those of a run under way, and a time read that is missing or before the
    /// beginning, no readings, an analyte read twice, readings that cannot be true.
    pub fn check(&self, context: &RunContext) -> Result<(), Faults> {
        let mut faults = Faults::default();
        self.check_setting(&mut faults, context);
        match (self.begun_at, self.read_at) {
            (_, None) => faults.add("/read_at", "is missing: say when the strip was read"),
            (Some(begun_at), Some(read_at)) => {
                faults.require(begun_at <= read_at, "/read_at", || {
                    format!("{read_at} is before the run began, {begun_at}")
                });
            }
            (None, Some(_)) => {}
        }
        faults.require(!self.readings.is_empty(), "/readings", || {
            "are missing: a run has one reading an analyte, an invalid one too".to_owned()
        });
        let mut seen = BTreeSet::new();
        for (place, reading) in self.readings.iter().enumerate() {
            let pointer = format!("/readings/{place}");
            faults.nest(&pointer, reading.check());
            faults.require(
                seen.insert(reading.analyte),
                format!("{pointer}/analyte"),
                || format!("{} was read already in this run", reading.analyte),
            );
            faults.require(
                !(self.value_includes_factor && reading.multiplied_value.is_some()),
                format!("{pointer}/multiplied_value"),
                || "stands beside a value that is multiplied already".to_owned(),
            );
        }
        faults.into_result()
    }

    /// Every fault of a run that begins: it has a time it began, and nothing read yet.
    ///
    /// # Errors
    /// The faults.
    pub fn check_beginning(&self, context: &RunContext) -> Result<(), Faults> {
        let mut faults = Faults::default();
        self.check_setting(&mut faults, context);
        faults.require(self.begun_at.is_some(), "/begun_at", || {
            "is missing: say when the strip began to develop".to_owned()
        });
        faults.require(self.read_at.is_none(), "/read_at", || {
            "stands at a run that begins: record the run instead".to_owned()
        });
        faults.require(self.readings.is_empty(), "/readings", || {
            "stand at a run that begins: record the run instead".to_owned()
        });
        faults.into_result()
    }

    /// What is true of a run under way and of one that was read.
    fn check_setting(&self, faults: &mut Faults, context: &RunContext) {
        faults.require(self.port > 0, "/port", || {
            "ports are counted from 1".to_owned()
        });
        if let Some(ports) = context.ports {
            faults.require(self.port <= ports, "/port", || {
                format!("the reader has {ports} ports, and no port {}", self.port)
            });
        }
        let texts = [
            (&self.sample_code, "/sample_code"),
            (&self.lot_code, "/lot_code"),
            (&self.kit_lot_code, "/kit_lot_code"),
            (&self.reader_serial, "/reader_serial"),
            (&self.operator, "/operator"),
            (&self.read_at_source, "/read_at_source"),
            (&self.curve_lot, "/curve_lot"),
            (&self.matrix, "/matrix"),
            (&self.strip_barcode, "/strip_barcode"),
        ];
        for (text, pointer) in texts {
            entries::optional_text(faults, pointer, text.as_deref(), entries::NAME_LENGTH);
        }
        let comment = self.comment.as_deref();
        entries::optional_text(faults, "/comment", comment, entries::TEXT_LENGTH);
        faults.nest("/dilution", check_steps(&self.dilution));
        if let Some(stated) = self.stated_factor {
            faults.require(
                stated.0 > rust_decimal::Decimal::ZERO,
                "/stated_factor",
                || format!("{stated} is no dilution factor: it is above zero"),
            );
        }
    }
}
