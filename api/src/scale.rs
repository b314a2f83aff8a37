//! The scale: the one picture that pages, certificates and calculator share.
//!
//! A horizontal axis of concentration from zero with the measuring range, runs, result and limits
//! on it, drawn by one function from exact decimals; [`table`] says the same numbers to those who
//! don't see it. Promises that no number is changed by drawing it: decimals become places on the
//! axis and nothing else, without binary floats, so that the same facts give the same bytes.
//! Refuses nothing: what cannot be placed on the axis is still said in the table.

mod axis;
mod draw;
mod place;
#[cfg(test)]
mod tests;
mod words;

pub use axis::Axis;
pub use draw::svg;
pub use words::{summary, table};

use rust_decimal::Decimal;

/// For which surface it is drawn: the typeface and the paper differ, the picture does not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Surface {
    /// A page on a screen.
    Screen,
    /// A certificate.
    Print,
}

/// Where something lies on the axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Position {
    /// At a number.
    At(Decimal),
    /// Somewhere below a bound.
    Below(Decimal),
    /// Somewhere above a bound.
    Above(Decimal),
    /// Nothing was found.
    NotDetected,
}

impl Position {
    /// The number or the bound.
    #[must_use]
    pub fn figure(self) -> Option<Decimal> {
        match self {
            Self::At(value) | Self::Below(value) | Self::Above(value) => Some(value),
            Self::NotDetected => None,
        }
    }
}

/// A measuring range; the first of a scale is the undiluted one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Range {
    /// `undiluted`, `× 6`.
    pub dilution: String,
    /// Limit of detection.
    pub lod: Decimal,
    /// Limit of quantification.
    pub loq: Decimal,
    /// Upper end.
    pub upper: Decimal,
}

/// A run at its concentration.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RunMark {
    /// Its dilution: `undiluted`, `× 6`.
    pub dilution: String,
    /// Where it lies, dilution multiplied in.
    pub position: Position,
}

/// The result, with the text that is reported.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ResultMark {
    /// As reported, without unit.
    pub reported: String,
    /// The expanded uncertainty as reported, and its coverage factor.
    pub uncertainty: Option<(String, Decimal, Decimal)>,
    /// Where it lies.
    pub position: Position,
}

/// A limit with its guard band.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LimitMark {
    /// Its name.
    pub name: String,
    /// The limit.
    pub value: Decimal,
    /// Where its guard band begins and ends.
    pub guard: Option<(Decimal, Decimal)>,
}

impl LimitMark {
    /// Each limit once: several decisions may be about the same one, on another basis or for
    /// another use.
    #[must_use]
    pub fn each_once(marks: impl IntoIterator<Item = Self>) -> Vec<Self> {
        let mut once: Vec<Self> = Vec::new();
        for mark in marks {
            let known = once
                .iter_mut()
                .find(|known| known.name == mark.name && known.value == mark.value);
            match known {
                Some(known) => known.guard = known.guard.or(mark.guard),
                None => once.push(mark),
            }
        }
        once
    }
}

/// Everything that one picture shows; all figures in one unit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Scale {
    /// A word that no other scale of the same page has: letters, digits and hyphens.
    pub key: String,
    /// What was measured.
    pub analyte: String,
    /// The unit as printed, such as `µg/kg`.
    pub unit: String,
    /// Measuring ranges.
    pub ranges: Vec<Range>,
    /// Runs.
    pub runs: Vec<RunMark>,
    /// The result, where there is one.
    pub result: Option<ResultMark>,
    /// Limits.
    pub limits: Vec<LimitMark>,
    /// Where it is shown.
    pub surface: Surface,
}
