//! A reader's own answer against the range that its signals leave open.

use rust_decimal::Decimal;

use super::response::{Found, half_a_unit};
use crate::dilution::DilutionError;
use crate::results::MeasuringRange;
use crate::runs::{Reading, ReadingKind, Run};

/// The reader's own value in µg/kg before the dilution factor, and how much its places leave open.
struct Own {
    value: Decimal,
    /// Of a number.
    slack: Decimal,
    /// Of a bound, which is stated and not measured: what multiplying it may have cut off.
    bound_slack: Decimal,
}

/// Whether the answer can be true; none where it cannot be computed.
pub(super) fn agrees(
    run: &Run,
    reading: &Reading,
    range: Option<MeasuringRange>,
    found: &Found,
) -> Option<bool> {
    Some(match reading.kind {
        ReadingKind::Number => {
            let own = own(run, reading)?;
            let (low, high) = (
                own.value.checked_sub(own.slack)?,
                own.value.checked_add(own.slack)?,
            );
            found.least.is_some_and(|least| least <= high)
                && found.most.is_none_or(|most| most >= low)
        }
        ReadingKind::Below => {
            let own = own(run, reading)?;
            let bound = own.value.checked_add(own.bound_slack)?;
            found.least.is_some_and(|least| least < bound)
        }
        ReadingKind::Above => {
            let own = own(run, reading)?;
            let bound = own.value.checked_sub(own.bound_slack)?;
            found.most.is_none_or(|most| most > bound)
        }
        ReadingKind::NotDetected => {
            let bound = range.map(|range| range.lod.ug_per_kg());
            found
                .least
                .is_some_and(|least| bound.is_none_or(|bound| least < bound || least.is_zero()))
        }
        ReadingKind::Invalid => return None,
    })
}

fn own(run: &Run, reading: &Reading) -> Option<Own> {
    let value = reading.concentration()?.ug_per_kg();
    let half = half_a_unit(reading.value?).checked_mul(reading.unit.in_ug_per_kg())?;
    if !run.entry.value_includes_factor {
        return Some(Own {
            value,
            slack: half,
            bound_slack: Decimal::ZERO,
        });
    }
    let undone = |one: Decimal| -> Option<Decimal> {
        let undone: Result<Decimal, DilutionError> = run.factor.undo(one);
        undone.ok()
    };
    let after = undone(half)?;
    Some(Own {
        value: undone(value)?,
        // It may have been cut to its places before it was multiplied, and was after.
        slack: half.checked_add(after)?,
        bound_slack: after,
    })
}
