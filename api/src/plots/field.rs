//! The field of a plot with two axes: grid lines, ticks and their labels.

use super::{
    axis::Axis,
    picture::{Anchor, INK, Picture, QUIET, at, beside},
};

/// Where the field lies, in pixels.
pub(crate) struct Field {
    pub(crate) left: i64,
    pub(crate) right: i64,
    pub(crate) bottom: i64,
}

impl Field {
    /// Both axes; below the lower one stands what it shows.
    pub(crate) fn draw(&self, picture: &mut Picture, x: &Axis, y: &Axis, below: &str) {
        let (left, right, bottom) = (at(self.left), at(self.right), at(self.bottom));
        for tick in &y.ticks {
            let level = y.place(*tick);
            let style = format!("stroke=\"{QUIET}\" stroke-width=\"0.6\"");
            picture.line((left, level), (right, level), &style);
            let label = (beside(left, -8), beside(level, 4));
            picture.text(label, Anchor::End, "", &tick.to_string());
        }
        let style = format!("stroke=\"{INK}\"");
        for tick in &x.ticks {
            let place = x.place(*tick);
            picture.line((place, bottom), (place, beside(bottom, 5)), &style);
            let label = (place, beside(bottom, 18));
            picture.text(label, Anchor::Middle, "", &tick.to_string());
        }
        picture.line((left, bottom), (right, bottom), &style);
        let label = (right, beside(bottom, 36));
        picture.text(label, Anchor::End, "font-style=\"italic\"", below);
    }
}
