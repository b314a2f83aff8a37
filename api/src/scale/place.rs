//! Rows for labels, so that none lies on another and no line runs through one.
//!
//! Promises a row for every label: where each would collide, it gets a row of its own.

use rust_decimal::Decimal;

/// A label beside a point: where its line falls, and what it covers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Span {
    /// Where the thing itself lies.
    pub(super) at: Decimal,
    /// Left end of thing and label.
    pub(super) from: Decimal,
    /// Right end.
    pub(super) to: Decimal,
    /// Whether the label stands to the left.
    pub(super) leftward: bool,
}

impl Span {
    /// Whether a vertical line at `x` runs through it; one that falls on its own line does not.
    pub(super) fn covers(&self, x: Decimal) -> bool {
        let apart = self
            .at
            .checked_sub(x)
            .is_some_and(|gap| gap.abs() > Decimal::TWO);
        apart && self.from < x && x < self.to
    }

    fn overlaps(&self, other: &Self) -> bool {
        self.from < other.to && other.from < self.to
    }
}

/// The pixels that a text of this size takes at most, letter by letter, in hundredths of its size:
/// those of a wide typeface that screens commonly fall back to, DejaVu Sans, so that a narrower one
/// leaves room and none runs over.
pub(super) fn width(text: &str, size: i64) -> Decimal {
    let hundredths: i64 = text.chars().map(hundredths).sum();
    Decimal::new(hundredths.saturating_mul(size), 2)
}

const fn hundredths(letter: char) -> i64 {
    match letter {
        ' ' | ',' | '.' | ':' | ';' | '\'' | 'i' | 'j' | 'l' | 'I' | '/' | '|' => 34,
        'f' | 't' | 'r' | '(' | ')' | '-' => 42,
        'm' | 'M' | 'W' => 98,
        'w' | '×' | '±' | '<' | '>' | '≤' | '≥' => 84,
        'A'..='Z' => 79,
        _ => 64,
    }
}

/// The span of a label right of a point, or left of it where it would leave the picture or run
/// into one of the lines in its way.
pub(super) fn beside(
    at: Decimal,
    reach: (Decimal, Decimal),
    label: Decimal,
    edge: Decimal,
    lines: &[Decimal],
) -> Span {
    let plus = |a: Decimal, b: Decimal| a.checked_add(b).unwrap_or(a);
    let minus = |a: Decimal, b: Decimal| a.checked_sub(b).unwrap_or(a);
    let right = Span {
        at,
        from: reach.0,
        to: plus(reach.1, label),
        leftward: false,
    };
    let left = Span {
        at,
        from: minus(reach.0, label),
        to: reach.1,
        leftward: true,
    };
    let crossed = |span: &Span, from: Decimal, to: Decimal| {
        lines
            .iter()
            .filter(|x| span.covers(**x) && **x >= from && **x <= to)
            .count()
    };
    let (fits_right, fits_left) = (right.to <= edge, left.from >= Decimal::ZERO);
    let (hits_right, hits_left) = (
        crossed(&right, reach.1, right.to),
        crossed(&left, left.from, reach.0),
    );
    if fits_left && (!fits_right || hits_left < hits_right) {
        left
    } else {
        right
    }
}

/// A row for each span, 0 the topmost, and how many rows there are. With `falling`, a line falls
/// from each label through all rows below it, and no label may lie in its way.
pub(super) fn rows(spans: &[Span], falling: bool) -> (Vec<i64>, i64) {
    let mut order: Vec<usize> = (0..spans.len()).collect();
    order.sort_by_key(|index| spans.get(*index).map(|span| span.at));
    let mut placed: Vec<(usize, Span, i64)> = Vec::new();
    for index in order {
        let Some(span) = spans.get(index).copied() else {
            continue;
        };
        let many = i64::try_from(spans.len()).unwrap_or(i64::MAX);
        let row = (0..=many)
            .flat_map(|row| [row, row.saturating_neg()])
            .find(|row| {
                placed
                    .iter()
                    .all(|(_, other, its)| free(&span, *row, other, *its, falling))
            })
            .unwrap_or_else(|| {
                let lowest = placed.iter().map(|(_, _, row)| *row).max();
                lowest.unwrap_or(0).saturating_add(1)
            });
        placed.push((index, span, row));
    }
    let top = placed.iter().map(|(_, _, row)| *row).min().unwrap_or(0);
    let bottom = placed.iter().map(|(_, _, row)| *row).max().unwrap_or(-1);
    placed.sort_by_key(|(index, _, _)| *index);
    let rows = placed
        .iter()
        .map(|(_, _, row)| row.saturating_sub(top))
        .collect();
    (rows, bottom.saturating_sub(top).saturating_add(1))
}

fn free(span: &Span, row: i64, other: &Span, its: i64, falling: bool) -> bool {
    if row == its {
        return !span.overlaps(other);
    }
    if !falling {
        return true;
    }
    if row > its {
        !span.covers(other.at)
    } else {
        !other.covers(span.at)
    }
}
