//! The picture of a study: every determination along one axis, blanks and positives apart, with the
//! cut-off and the target.
//!
//! Promises the numbers of the table beside it, and nothing told by colour alone.

use crate::plots::{
    axis::Axis,
    picture::{ACCENT, Anchor, INK, LIMIT, PAPER, Picture, QUIET, at, beside},
};
use domain::{
    quantity::Number,
    screening_validations::{ControlKind, ScreeningResponse, StudyDetermination},
};
use rust_decimal::Decimal;

const LEFT: i64 = 110;
const RIGHT: i64 = 690;
const TOP: i64 = 40;
const BOTTOM: i64 = 190;

/// What the picture shows.
pub(super) struct Shown<'a> {
    /// Every determination.
    pub(super) determinations: &'a [StudyDetermination],
    /// What they give.
    pub(super) response: ScreeningResponse,
    /// The cut-off, once there is one.
    pub(super) cut_off: Option<Number>,
    /// The screening target, µg/kg; on the axis only where that is in µg/kg.
    pub(super) target: Number,
}

/// Draws a study; nothing without determinations.
pub(super) fn draw(shown: &Shown<'_>) -> String {
    let place = |one: &StudyDetermination| one.value.or(one.below).map(|value| value.0);
    let values: Vec<Decimal> = shown.determinations.iter().filter_map(place).collect();
    if values.is_empty() {
        return String::new();
    }
    let concentration = shown.response == ScreeningResponse::Concentration;
    let target = concentration.then_some(shown.target);
    let marks = [shown.cut_off, target].into_iter().flatten();
    let marks = marks.map(|mark| mark.0);
    let zero = concentration.then_some(Decimal::ZERO);
    let axis = Axis::over(
        values.iter().copied().chain(marks).chain(zero),
        (LEFT, RIGHT),
    );
    let mut picture = Picture::default();
    scale(&mut picture, &axis, shown.response);
    for (name, mark, colour, dashes, level) in [
        ("target", target, ACCENT, "stroke-dasharray=\"6 4\"", 14),
        ("cut-off", shown.cut_off, LIMIT, "", 30),
    ] {
        let Some(mark) = mark else { continue };
        let x = axis.place(mark.0);
        let style = format!("stroke=\"{colour}\" stroke-width=\"1.6\" {dashes}");
        picture.line((x, at(level)), (x, at(BOTTOM)), &style);
        let label = format!("{name} {mark}");
        picture.text((beside(x, -4), at(level)), Anchor::End, "", &label);
    }
    for (kind, name, middle) in [
        (ControlKind::Negative, "blanks", 85_i64),
        (ControlKind::Positive, "at the target", 145),
    ] {
        let label = (at(LEFT.saturating_sub(8)), at(middle));
        picture.text(label, Anchor::End, "", name);
        let own = shown.determinations.iter().filter(|one| one.kind == kind);
        for (index, one) in own.enumerate() {
            let Some(value) = place(one) else { continue };
            // Five rows, so that equal values stand above each other.
            let row = i64::try_from(index % 5).unwrap_or_default();
            let row = row.saturating_mul(9).saturating_sub(18);
            let point = (axis.place(value), at(middle.saturating_add(row)));
            dot(&mut picture, point, one);
        }
    }
    let description = format!(
        "{} determinations; cut-off {}, target {} µg/kg.",
        values.len(),
        shown
            .cut_off
            .map_or_else(|| "not found yet".to_owned(), |one| one.to_string()),
        shown.target
    );
    picture.finish("study", "Determinations of the study", &description, 240)
}

fn scale(picture: &mut Picture, axis: &Axis, response: ScreeningResponse) {
    let (left, right, bottom) = (at(LEFT), at(RIGHT), at(BOTTOM));
    for tick in &axis.ticks {
        let place = axis.place(*tick);
        let style = format!("stroke=\"{QUIET}\" stroke-width=\"0.6\"");
        picture.line((place, at(TOP)), (place, bottom), &style);
        let label = (place, beside(bottom, 18));
        picture.text(label, Anchor::Middle, "", &tick.to_string());
    }
    let style = format!("stroke=\"{INK}\"");
    picture.line((left, bottom), (right, bottom), &style);
    let below = response.unit().unwrap_or("signal");
    let label = (right, beside(bottom, 36));
    picture.text(label, Anchor::End, "font-style=\"italic\"", below);
}

/// A filled dot for a positive, an open one for a blank, an arrow to the left for a bound.
fn dot(picture: &mut Picture, point: (Decimal, Decimal), one: &StudyDetermination) {
    if one.below.is_some() {
        let style = format!("stroke=\"{INK}\" stroke-width=\"1.2\"");
        let tip = (beside(point.0, -10), point.1);
        picture.line(point, tip, &style);
        picture.through(
            &[
                (beside(tip.0, 4), beside(tip.1, -3)),
                tip,
                (beside(tip.0, 4), beside(tip.1, 3)),
            ],
            &style,
        );
        return;
    }
    let fill = match one.kind {
        ControlKind::Negative => PAPER,
        ControlKind::Positive => INK,
    };
    let style = format!("fill=\"{fill}\" stroke=\"{INK}\" stroke-width=\"1.2\"");
    picture.dot(point, 3, &style);
}
