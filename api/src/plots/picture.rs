//! An SVG picture, element by element.
//!
//! Promises a title and a description, no script, nothing from elsewhere, and no difference that
//! is told by colour alone; all text is escaped.

use crate::pages::escape;
use rust_decimal::Decimal;

/// Width of every picture, in pixels.
pub(crate) const WIDTH: i64 = 720;
/// What is written and drawn with.
pub(crate) const INK: &str = "#1b1b18";
/// Behind it.
pub(crate) const PAPER: &str = "#fbfaf6";
/// The one accent.
pub(crate) const ACCENT: &str = "#0b5d5e";
/// Limits: the vermilion of Okabe and Ito (2008), dark enough to be read.
pub(crate) const LIMIT: &str = "#a33d00";
/// Lines that only guide the eye.
pub(crate) const QUIET: &str = "#c9c6ba";

/// Which end of a text stands at its place.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Anchor {
    Start,
    Middle,
    End,
}

/// A picture in the making.
#[derive(Debug, Default)]
pub(crate) struct Picture {
    body: String,
}

impl Picture {
    fn push(&mut self, element: &str) {
        self.body.push_str(element);
        self.body.push('\n');
    }

    /// A line of this style.
    pub(crate) fn line(&mut self, from: (Decimal, Decimal), to: (Decimal, Decimal), style: &str) {
        let ((x1, y1), (x2, y2)) = (from, to);
        self.push(&format!(
            "<line x1=\"{x1}\" y1=\"{y1}\" x2=\"{x2}\" y2=\"{y2}\" {style}/>"
        ));
    }

    /// A line through points, one after the other.
    pub(crate) fn through(&mut self, points: &[(Decimal, Decimal)], style: &str) {
        let points: Vec<String> = points.iter().map(|(x, y)| format!("{x},{y}")).collect();
        self.push(&format!(
            "<polyline points=\"{}\" fill=\"none\" {style}/>",
            points.join(" ")
        ));
    }

    /// A rectangle.
    pub(crate) fn area(
        &mut self,
        (x, y): (Decimal, Decimal),
        (w, h): (Decimal, Decimal),
        style: &str,
    ) {
        self.push(&format!(
            "<rect x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\" {style}/>"
        ));
    }

    /// A dot.
    pub(crate) fn dot(&mut self, (x, y): (Decimal, Decimal), radius: i64, style: &str) {
        self.push(&format!(
            "<circle cx=\"{x}\" cy=\"{y}\" r=\"{radius}\" {style}/>"
        ));
    }

    /// A text with a halo of the paper, so that a line behind it does not make it unreadable.
    pub(crate) fn text(
        &mut self,
        (x, y): (Decimal, Decimal),
        anchor: Anchor,
        style: &str,
        text: &str,
    ) {
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let text = escape(text);
        self.push(&format!(
            "<text x=\"{x}\" y=\"{y}\" text-anchor=\"{anchor}\" stroke=\"{PAPER}\" \
             stroke-width=\"3\" stroke-linejoin=\"round\" paint-order=\"stroke\" {style}>{text}\
             </text>"
        ));
    }

    /// The whole picture. `key` tells its ids from those of others on one page.
    pub(crate) fn finish(self, key: &str, title: &str, description: &str, height: i64) -> String {
        let (title, description) = (escape(title), escape(description));
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {height}\" \
             width=\"{WIDTH}\" height=\"{height}\" role=\"img\" aria-labelledby=\"{key}-title \
             {key}-desc\" font-family=\"system-ui, sans-serif\" font-size=\"12\" fill=\"{INK}\">\n\
             <title id=\"{key}-title\">{title}</title>\n<desc id=\"{key}-desc\">{description}\
             </desc>\n<defs><pattern id=\"{key}-hatch\" width=\"5\" height=\"5\" \
             patternUnits=\"userSpaceOnUse\"><path d=\"M-1 1 L1 -1 M0 5 L5 0 M4 6 L6 4\" \
             stroke=\"{LIMIT}\" stroke-width=\"0.7\"/></pattern></defs>\n\
             <rect width=\"{WIDTH}\" height=\"{height}\" fill=\"{PAPER}\"/>\n{}</svg>\n",
            self.body
        )
    }
}

/// A pixel.
pub(crate) fn at(pixel: i64) -> Decimal {
    Decimal::from(pixel)
}

/// So many pixels further.
pub(crate) fn beside(place: Decimal, pixels: i64) -> Decimal {
    place.checked_add(at(pixels)).unwrap_or(place)
}

/// How far it is from one place to another, zero at the least.
pub(crate) fn width_of(from: Decimal, to: Decimal) -> Decimal {
    to.checked_sub(from).unwrap_or_default().max(Decimal::ZERO)
}

/// Text cut to so many letters, for labels.
pub(crate) fn short(text: &str, letters: usize) -> String {
    if text.chars().count() <= letters {
        return text.to_owned();
    }
    let kept: String = text.chars().take(letters.saturating_sub(1)).collect();
    format!("{}…", kept.trim_end())
}
