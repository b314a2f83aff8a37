//! From a concentration to a place on the axis, in tenths of a pixel.
//!
//! Promises a linear axis up to a span of 1:20 between the least and the greatest thing shown,
//! else a logarithmic one with zero before a break; exact decimals throughout. Logarithms are
//! taken digit by digit, to four places, which is finer than a pixel.

use super::{Position, Scale};
use rust_decimal::{Decimal, RoundingStrategy};

/// Left end of the axis in pixels: zero.
pub(super) const LEFT: i64 = 24;
/// Right end.
pub(super) const RIGHT: i64 = 640;
/// From zero to the break's end on a logarithmic axis.
const BREAK: i64 = 44;
/// Beyond this ratio of greatest to least, the axis is logarithmic.
const LINEAR_SPAN: i64 = 20;

/// The axis of one scale.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Axis {
    /// First value of the logarithmic part; none on a linear axis.
    pub floor: Option<Decimal>,
    /// Value at the right end.
    pub top: Decimal,
    /// Values with a tick, zero first.
    pub ticks: Vec<Decimal>,
}

impl Axis {
    /// The axis that holds everything the scale shows.
    #[must_use]
    pub fn of(scale: &Scale) -> Self {
        let marks: Vec<Decimal> = scale
            .runs
            .iter()
            .map(|run| run.position)
            .chain(scale.result.iter().map(|result| result.position))
            .filter_map(Position::figure)
            .chain(scale.limits.iter().map(|limit| limit.value))
            .filter(|value| *value > Decimal::ZERO)
            .collect();
        let uppers = scale.ranges.first().map(|range| range.upper);
        let reaches = scale
            .limits
            .iter()
            .filter_map(|limit| limit.guard)
            .map(|(_, end)| end);
        let bars = scale.result.iter().filter_map(|result| {
            let (_, expanded, _) = result.uncertainty.as_ref()?;
            result.position.figure()?.checked_add(*expanded)
        });
        let greatest = marks
            .iter()
            .copied()
            .chain(uppers)
            .chain(reaches)
            .chain(bars)
            .max()
            .unwrap_or(Decimal::ONE)
            .max(Decimal::new(1, 6));
        let least = marks.iter().copied().min().unwrap_or(greatest);
        let linear = least
            .checked_mul(Decimal::from(LINEAR_SPAN))
            .is_none_or(|reach| greatest <= reach);
        if linear {
            Self::linear(greatest)
        } else {
            let lods = scale.ranges.iter().map(|range| range.lod);
            let least = lods
                .filter(|lod| *lod > Decimal::ZERO)
                .fold(least, Decimal::min);
            Self::logarithmic(least, greatest)
        }
    }

    fn linear(greatest: Decimal) -> Self {
        let step = steps_from(Decimal::new(1, 9))
            .find(|step| {
                step.checked_mul(Decimal::from(7))
                    .is_none_or(|reach| reach >= greatest)
            })
            .unwrap_or(greatest);
        let mut ticks = vec![Decimal::ZERO];
        let mut tick = Decimal::ZERO;
        while tick < greatest && ticks.len() < 12 {
            tick = tick.checked_add(step).unwrap_or(greatest);
            ticks.push(tick.normalize());
        }
        let spare = step.checked_mul(Decimal::new(3, 1)).unwrap_or_default();
        Self {
            floor: None,
            top: tick.max(greatest.checked_add(spare).unwrap_or(greatest)),
            ticks,
        }
    }

    fn logarithmic(least: Decimal, greatest: Decimal) -> Self {
        let floor = steps_from(Decimal::new(1, 9))
            .take_while(|step| *step <= least)
            .last();
        let floor = floor.unwrap_or(least);
        let top = steps_from(floor)
            .find(|step| *step > greatest)
            .unwrap_or(greatest);
        let all: Vec<Decimal> = steps_from(floor).take_while(|step| *step <= top).collect();
        let decades_only = all.len() > 13;
        let mut ticks = vec![Decimal::ZERO];
        ticks.extend(
            all.into_iter()
                .filter(|step| !decades_only || leading_one(*step)),
        );
        Self {
            floor: Some(floor),
            top,
            ticks,
        }
    }

    /// `linear` or `logarithmic`, as the picture says it.
    #[must_use]
    pub const fn kind(&self) -> &'static str {
        if self.floor.is_some() {
            "logarithmic"
        } else {
            "linear"
        }
    }

    /// Where a value lies, in pixels with one place; beyond an end, that end.
    #[must_use]
    pub fn place(&self, value: Decimal) -> Decimal {
        let (left, right) = (Decimal::from(LEFT), Decimal::from(RIGHT));
        let value = value.clamp(Decimal::ZERO, self.top);
        let share = |part: Decimal, whole: Decimal, from: Decimal| {
            part.checked_div(whole)
                .and_then(|share| share.checked_mul(right.checked_sub(from)?))
                .and_then(|offset| from.checked_add(offset))
                .unwrap_or(right)
        };
        let at = match self.floor {
            None => share(value, self.top, left),
            Some(floor) if value <= floor => value
                .checked_div(floor)
                .and_then(|share| share.checked_mul(Decimal::from(BREAK)))
                .and_then(|offset| left.checked_add(offset))
                .unwrap_or(left),
            Some(floor) => {
                let from = Decimal::from(LEFT.saturating_add(BREAK));
                let log = |of: Decimal| log10(of.checked_div(floor).unwrap_or(Decimal::ONE));
                share(log(value), log(self.top), from)
            }
        };
        at.round_dp_with_strategy(1, RoundingStrategy::MidpointNearestEven)
            .normalize()
    }

    /// Where the break between zero and the logarithmic part is drawn.
    pub(super) fn break_at(&self) -> Option<i64> {
        self.floor.map(|_| LEFT.saturating_add(BREAK / 2))
    }
}

/// 1, 2, 5, 10, 20, 50 … times a power of ten, from the first that is not below `from`.
fn steps_from(from: Decimal) -> impl Iterator<Item = Decimal> {
    (-9_i32..=15)
        .flat_map(|power| [1_i64, 2, 5].map(move |digit| (digit, power)))
        .filter_map(|(digit, power)| {
            if power < 0 {
                Decimal::try_new(digit, power.unsigned_abs()).ok()
            } else {
                Decimal::from(10_i64.checked_pow(power.unsigned_abs())?)
                    .checked_mul(Decimal::from(digit))
            }
        })
        .filter(move |step| *step >= from)
}

fn leading_one(step: Decimal) -> bool {
    step.to_string()
        .trim_start_matches(['0', '.'])
        .starts_with('1')
}

/// Logarithm to base ten of a value of at least 1, to four places: a value is raised to the tenth
/// power, and the decades it then spans are the next digit.
fn log10(value: Decimal) -> Decimal {
    let mut rest = value.max(Decimal::ONE);
    let mut result = Decimal::ZERO;
    for places in 0..5_u32 {
        let mut digit = 0_i64;
        while rest >= Decimal::TEN {
            rest = rest.checked_div(Decimal::TEN).unwrap_or(Decimal::ONE);
            digit = digit.saturating_add(1);
        }
        result = result
            .checked_add(Decimal::new(digit, places))
            .unwrap_or(result);
        rest = tenth_power(rest.round_dp(12));
    }
    result
}

/// Tenth power of a value from 1 to 10, rounded to 12 places at each step.
fn tenth_power(value: Decimal) -> Decimal {
    let times = |a: Decimal, b: Decimal| a.checked_mul(b).unwrap_or(Decimal::ONE).round_dp(12);
    let square = times(value, value);
    let fourth = times(square, square);
    times(times(fourth, fourth), square)
}
