//! A run in words: reader, kit lot, and what was read.

use crate::results::Reference;
use domain::runs::{InvalidReason, Reading, ReadingKind, Run};

/// Reader and port of a run.
pub(crate) fn port(reference: &Reference, run: &Run) -> String {
    let serial = run
        .entry
        .reader
        .and_then(|id| reference.readers.get(&id.0))
        .map(|reader| reader.content.serial.clone())
        .or_else(|| run.entry.reader_serial.clone());
    match serial {
        Some(serial) => format!("{serial}, port {}", run.entry.port),
        None => format!("reader not known, port {}", run.entry.port),
    }
}

/// The kit lot's number of a run.
pub(crate) fn kit_lot(reference: &Reference, run: &Run) -> String {
    run.entry
        .kit_lot
        .and_then(|id| reference.kit_lots.get(&id.0))
        .map(|lot| lot.content.entry.code.clone())
        .or_else(|| run.entry.kit_lot_code.clone())
        .unwrap_or_else(|| "not known".to_owned())
}

/// A unit as it is printed.
pub(crate) const fn unit(reading: &Reading) -> &'static str {
    match reading.unit {
        domain::quantity::Unit::UgPerKg => "µg/kg",
        domain::quantity::Unit::MgPerKg => "mg/kg",
        domain::quantity::Unit::NgPerG => "ng/g",
        domain::quantity::Unit::UgPerG => "µg/g",
    }
}

/// What the reader gave.
pub(crate) fn read_out(reading: &Reading) -> String {
    let value = reading
        .value
        .map(|value| format!("{value} {}", unit(reading)))
        .unwrap_or_default();
    match reading.kind {
        ReadingKind::Number => value,
        ReadingKind::Below => format!("< {value}"),
        ReadingKind::Above => format!("> {value}"),
        ReadingKind::NotDetected => "not detected".to_owned(),
        ReadingKind::Invalid => match reading.reason {
            Some(InvalidReason::NoControlLine) => "invalid: no control line".to_owned(),
            Some(InvalidReason::PortFault) => "invalid: port fault".to_owned(),
            Some(InvalidReason::UnreadableStrip) => "invalid: strip not readable".to_owned(),
            Some(InvalidReason::BrokenOff) => "invalid: broken off".to_owned(),
            Some(InvalidReason::Other) | None => "invalid".to_owned(),
        },
    }
}
