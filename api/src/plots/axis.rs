//! From a value to a pixel, on a linear axis with ticks at 1, 2 and 5 times a power of ten.
//!
//! Promises exact decimals and every value inside the axis; refuses nothing: an axis over a single
//! value, or over none, is given a width.

use rust_decimal::Decimal;

/// A linear axis.
#[derive(Debug, Clone)]
pub(crate) struct Axis {
    from: Decimal,
    to: Decimal,
    start: Decimal,
    end: Decimal,
    /// Values with a tick.
    pub(crate) ticks: Vec<Decimal>,
}

/// Most intervals between ticks.
const MOST_STEPS: i64 = 8;

fn plus(one: Decimal, other: Decimal) -> Decimal {
    one.checked_add(other).unwrap_or(one)
}

fn minus(one: Decimal, other: Decimal) -> Decimal {
    one.checked_sub(other).unwrap_or(one)
}

/// 1, 2 and 5 times each power of ten, from the smallest.
fn steps() -> impl Iterator<Item = Decimal> {
    let of_power = |power: u32| {
        let tens = move |digit: i128| match power.checked_sub(20) {
            None => Decimal::try_from_i128_with_scale(digit, 20_u32.saturating_sub(power)).ok(),
            Some(power) => {
                let whole = 10_i128.checked_pow(power)?.checked_mul(digit)?;
                Decimal::try_from_i128_with_scale(whole, 0).ok()
            }
        };
        [tens(1), tens(2), tens(5)].into_iter().flatten()
    };
    (0..48).flat_map(of_power)
}

impl Axis {
    /// An axis over some values, between two pixels.
    pub(crate) fn over(
        values: impl IntoIterator<Item = Decimal>,
        (start, end): (i64, i64),
    ) -> Self {
        let values: Vec<Decimal> = values.into_iter().collect();
        let least = values.iter().copied().min().unwrap_or_default();
        let greatest = values.iter().copied().max().unwrap_or(Decimal::ONE);
        let width = minus(greatest, least);
        let width = if width.is_zero() {
            // One value: a tenth of it to each side.
            let tenth = greatest.abs().checked_div(Decimal::TEN);
            tenth
                .filter(|tenth| !tenth.is_zero())
                .unwrap_or(Decimal::ONE)
        } else {
            width
        };
        let enough = |step: &Decimal| {
            step.checked_mul(Decimal::from(MOST_STEPS))
                .is_none_or(|reach| reach >= width)
        };
        let step = steps().find(enough).unwrap_or(width);
        let whole = |value: Decimal, up: bool| {
            let count = value.checked_div(step).unwrap_or_default();
            let count = if up { count.ceil() } else { count.floor() };
            count.checked_mul(step).unwrap_or(value)
        };
        let (mut from, mut to) = (whole(least, false), whole(greatest, true));
        if from == to {
            to = plus(from, step);
        }
        if from == to {
            from = minus(to, step);
        }
        let mut ticks = vec![from.normalize()];
        let mut tick = from;
        while tick < to && ticks.len() < 20 {
            tick = plus(tick, step);
            ticks.push(tick.normalize());
        }
        Self {
            from,
            to,
            start: start.into(),
            end: end.into(),
            ticks,
        }
    }

    /// Where a value lies, in pixels with one place; beyond an end, that end.
    pub(crate) fn place(&self, value: Decimal) -> Decimal {
        let part = minus(value.clamp(self.from, self.to), self.from)
            .checked_div(minus(self.to, self.from))
            .unwrap_or_default();
        let offset = part.checked_mul(minus(self.end, self.start));
        plus(self.start, offset.unwrap_or_default())
            .round_dp(1)
            .normalize()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_lie_between_the_ends_and_ticks_are_round() {
        let number = |text: &str| text.parse::<Decimal>().unwrap_or_default();
        let axis = Axis::over([number("46.2"), number("56.3")], (0, 100));
        let ticks: Vec<_> = axis.ticks.iter().map(Decimal::to_string).collect();
        assert_eq!(ticks, ["46", "48", "50", "52", "54", "56", "58"]);
        assert_eq!(axis.place(number("52")), number("50"));
        assert_eq!(axis.place(number("99")), number("100"));
        let upward = Axis::over([number("0"), number("1")], (100, 0));
        assert_eq!(upward.place(number("0.25")), number("75"));
    }

    #[test]
    fn one_value_and_none_have_an_axis_too() {
        for values in [
            vec![],
            vec![Decimal::ZERO],
            vec![Decimal::MAX],
            vec![Decimal::MIN, Decimal::MAX],
        ] {
            let axis = Axis::over(values.clone(), (10, 90));
            assert!(axis.ticks.len() >= 2, "{values:?}");
            for value in values {
                let place = axis.place(value);
                assert!(
                    place >= Decimal::TEN && place <= Decimal::from(90),
                    "{value}"
                );
            }
        }
    }
}
