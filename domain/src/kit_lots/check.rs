//! What is wrong with a kit lot that was handed in.

use std::collections::BTreeSet;

use rust_decimal::Decimal;

use super::{KitLotEntry, KitLotRange, KitLotReceipt};
use crate::entries;
use crate::faults::Faults;

impl KitLotEntry {
    /// Every fault of the entry, with JSON pointers into it. A date in the past is none: what was
    /// run on such a lot is recorded, and held.
    ///
    /// # Errors
    /// The faults.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        for (text, pointer) in [
            (&self.code, "/code"),
            (&self.name, "/name"),
            (&self.curve_lot, "/curve_lot"),
        ] {
            entries::text(&mut faults, pointer, text, entries::NAME_LENGTH);
        }
        faults.require(!self.matrices.is_empty(), "/matrices", || {
            "a curve knows at least one matrix".to_owned()
        });
        for (place, matrix) in self.matrices.iter().enumerate() {
            let pointer = format!("/matrices/{place}");
            entries::text(&mut faults, &pointer, matrix, entries::NAME_LENGTH);
        }
        entries::distinct(&mut faults, "/matrices", &self.matrices);
        faults.require(!self.analytes.is_empty(), "/analytes", || {
            "a kit measures at least one analyte".to_owned()
        });
        let mut seen = BTreeSet::new();
        for (place, range) in self.analytes.iter().enumerate() {
            let pointer = format!("/analytes/{place}");
            faults.nest(&pointer, range.check());
            faults.require(
                seen.insert(range.analyte),
                format!("{pointer}/analyte"),
                || format!("{} has a range already", range.analyte),
            );
        }
        self.check_curves(&mut faults);
        if let Some(storage) = self.storage {
            faults.require(
                storage.minimum_c <= storage.maximum_c,
                "/storage/maximum_c",
                || {
                    let (low, high) = (storage.minimum_c, storage.maximum_c);
                    format!("{high} °C is below the minimum, {low} °C")
                },
            );
        }
        for (place, packet) in self.packets.iter().enumerate() {
            for (text, member) in [(&packet.what, "what"), (&packet.lot, "lot")] {
                let pointer = format!("/packets/{place}/{member}");
                entries::text(&mut faults, &pointer, text, entries::NAME_LENGTH);
            }
        }
        for (place, receipt) in self.receipts.iter().enumerate() {
            faults.nest(&format!("/receipts/{place}"), receipt.check());
        }
        faults.into_result()
    }
}

impl KitLotRange {
    /// Whether what is given is in order: 0 ≤ LOD ≤ LOQ < upper end.
    ///
    /// # Errors
    /// The faults.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        let given = [
            (self.lod, "/lod", Decimal::ZERO),
            (
                self.loq,
                "/loq",
                self.lod.map_or(Decimal::ZERO, |lod| lod.ug_per_kg()),
            ),
        ];
        for (value, pointer, least) in given {
            if let Some(value) = value {
                faults.require(value.ug_per_kg() >= least, pointer, || {
                    format!("{value} µg/kg is below {least} µg/kg")
                });
            }
        }
        let below = self
            .loq
            .or(self.lod)
            .map_or(Decimal::ZERO, |end| end.ug_per_kg());
        faults.require(self.upper.ug_per_kg() > below, "/upper", || {
            format!("{} µg/kg is not above {below} µg/kg", self.upper)
        });
        faults.into_result()
    }
}

impl KitLotReceipt {
    /// Whether anything was received.
    ///
    /// # Errors
    /// No tests.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.require(self.tests > 0, "/tests", || {
            "a receipt is of at least one test".to_owned()
        });
        faults.into_result()
    }
}
