//! Values in their order, with the levels that they are compared with: the picture of every control
//! chart.
//!
//! Promises that what lies beyond a limit is told by its shape and number, and that labels of
//! levels that lie close do not cover each other. Refuses nothing; callers say how many values they
//! take.

use super::{
    axis::Axis,
    field::Field,
    picture::{ACCENT, Anchor, INK, LIMIT, PAPER, Picture, QUIET, at, beside},
};
use domain::quantity::Number;
use rust_decimal::Decimal;

const LEFT: i64 = 60;
const RIGHT: i64 = 600;
const TOP: i64 = 16;
const BOTTOM: i64 = 280;

/// Least distance of two labels, in pixels.
const LABEL: i64 = 13;
/// From so many values on, dots are small.
const MANY: usize = 120;
/// Most places that are marked with a word.
const MOST_PLACES: usize = 8;

/// How a level is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Stroke {
    /// What the values lie about: solid.
    Centre,
    /// A limit: long dashes.
    Limit,
    /// A warning: short dashes.
    Warning,
}

impl Stroke {
    fn style(self) -> String {
        let (colour, width, dashes) = match self {
            Self::Centre => (ACCENT, "1.4", ""),
            Self::Limit => (LIMIT, "1.4", " stroke-dasharray=\"6 4\""),
            Self::Warning => (LIMIT, "1", " stroke-dasharray=\"2 3\""),
        };
        format!("stroke=\"{colour}\" stroke-width=\"{width}\"{dashes}")
    }
}

/// A value that the others are compared with.
#[derive(Debug, Clone)]
pub(crate) struct Level {
    name: String,
    value: Decimal,
    stroke: Stroke,
}

impl Level {
    /// A level with its name.
    pub(crate) fn new(name: &str, value: Number, stroke: Stroke) -> Self {
        Self {
            name: name.to_owned(),
            value: value.0,
            stroke,
        }
    }
}

/// Values in their order.
#[derive(Debug, Clone, Default)]
pub(crate) struct Line {
    /// They.
    pub(crate) values: Vec<Decimal>,
    /// Number of the first, 1 unless stated.
    pub(crate) first: usize,
    /// Numbers of those that are beyond a limit: squares with their number.
    pub(crate) beyond: Vec<usize>,
    /// Numbers of those that are beyond a warning: filled dots.
    pub(crate) warned: Vec<usize>,
    /// Whether the line is dashed, to tell it from another.
    pub(crate) dashed: bool,
}

impl Line {
    /// A line through values, none of them beyond anything.
    pub(crate) fn through(values: Vec<Decimal>) -> Self {
        Self {
            values,
            first: 1,
            ..Self::default()
        }
    }

    fn numbered(&self) -> impl Iterator<Item = (usize, Decimal)> {
        let values = self.values.iter().enumerate();
        values.map(|(place, value)| (place.saturating_add(self.first), *value))
    }
}

/// What is drawn.
#[derive(Debug, Clone)]
pub(crate) struct Sequence<'a> {
    /// Tells its ids from those of other pictures on the page.
    pub(crate) key: &'a str,
    /// What it is.
    pub(crate) title: &'a str,
    /// What it shows, in words.
    pub(crate) description: &'a str,
    /// What the lower axis shows.
    pub(crate) below: &'a str,
    /// Levels, the same at each value.
    pub(crate) levels: Vec<Level>,
    /// Limits that differ from value to value.
    pub(crate) bounds: Vec<Vec<Decimal>>,
    /// The values.
    pub(crate) lines: Vec<Line>,
    /// Where something else begins: before which number, and what.
    pub(crate) places: Vec<(usize, String)>,
}

impl Default for Sequence<'_> {
    fn default() -> Self {
        Self {
            key: "",
            title: "",
            description: "",
            below: "number of the value",
            levels: Vec::new(),
            bounds: Vec::new(),
            lines: Vec::new(),
            places: Vec::new(),
        }
    }
}

/// A figure as labels show it.
pub(crate) fn shown(value: Decimal) -> String {
    value.round_sf(6).unwrap_or(value).normalize().to_string()
}

impl Sequence<'_> {
    /// The picture.
    pub(crate) fn draw(&self) -> String {
        let last = self.lines.iter().flat_map(Line::numbered).map(|one| one.0);
        let last = last.max().unwrap_or(1);
        let values = self.lines.iter().flat_map(|line| line.values.iter());
        let values = values.chain(self.bounds.iter().flatten()).copied();
        let levels = self.levels.iter().map(|level| level.value);
        let y = Axis::over(values.chain(levels), (BOTTOM, TOP));
        let mut x = Axis::over([Decimal::ONE, Decimal::from(last)], (LEFT, RIGHT));
        // There is no value between two numbers.
        x.ticks.retain(|tick| tick.fract().is_zero());
        let mut picture = Picture::default();
        let field = Field {
            left: LEFT,
            right: RIGHT,
            bottom: BOTTOM,
        };
        field.draw(&mut picture, &x, &y, self.below);
        self.draw_places(&mut picture, &x);
        self.draw_levels(&mut picture, &y);
        for bound in &self.bounds {
            let places = (1_usize..).zip(bound);
            let points: Vec<_> = places
                .map(|(number, value)| (x.place(Decimal::from(number)), y.place(*value)))
                .collect();
            picture.through(&points, &Stroke::Limit.style());
        }
        for line in &self.lines {
            draw_line(&mut picture, line, &x, &y);
        }
        picture.finish(self.key, self.title, self.description, BOTTOM + 44)
    }

    fn draw_levels(&self, picture: &mut Picture, y: &Axis) {
        let mut levels: Vec<&Level> = self.levels.iter().collect();
        levels.sort_by_key(|level| std::cmp::Reverse(level.value));
        let mut free = at(0);
        for level in levels {
            let place = y.place(level.value);
            picture.line((at(LEFT), place), (at(RIGHT), place), &level.stroke.style());
            let label = beside(place, 4).max(free);
            free = beside(label, LABEL);
            let words = format!("{} {}", level.name, shown(level.value));
            picture.text((at(RIGHT + 8), label), Anchor::Start, "", &words);
        }
    }

    /// Each between the number that it begins with and the one before.
    fn draw_places(&self, picture: &mut Picture, x: &Axis) {
        if self.places.len() > MOST_PLACES {
            return;
        }
        for (number, what) in &self.places {
            let half = Decimal::from(*number).checked_sub(Decimal::new(5, 1));
            let place = x.place(half.unwrap_or_default());
            let style = format!("stroke=\"{QUIET}\" stroke-width=\"1.4\"");
            picture.line((place, at(TOP)), (place, at(BOTTOM)), &style);
            let label = (beside(place, 4), at(TOP - 4));
            picture.text(label, Anchor::Start, "font-style=\"italic\"", what);
        }
    }
}

fn draw_line(picture: &mut Picture, line: &Line, x: &Axis, y: &Axis) {
    let placed =
        |(number, value): (usize, Decimal)| (x.place(Decimal::from(number)), y.place(value));
    let points: Vec<_> = line.numbered().map(placed).collect();
    let dashes = if line.dashed {
        " stroke-dasharray=\"4 3\""
    } else {
        ""
    };
    let style = format!("stroke=\"{INK}\" stroke-width=\"1\"{dashes}");
    picture.through(&points, &style);
    let radius = if points.len() > MANY { 2 } else { 3 };
    for ((number, _), point) in line.numbered().zip(points) {
        if line.beyond.contains(&number) {
            let corner = (beside(point.0, -5), beside(point.1, -5));
            picture.area(corner, (at(10), at(10)), &format!("fill=\"{LIMIT}\""));
            let label = (point.0, beside(point.1, -9));
            let style = "font-weight=\"700\"";
            picture.text(label, Anchor::Middle, style, &number.to_string());
        } else {
            let fill = if line.warned.contains(&number) {
                INK
            } else {
                PAPER
            };
            let style = format!("fill=\"{fill}\" stroke=\"{INK}\" stroke-width=\"1.2\"");
            picture.dot(point, radius, &style);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_of_levels_that_lie_close_do_not_cover_each_other() {
        let level = |value: i64| Level::new("level", Number(value.into()), Stroke::Limit);
        let svg = Sequence {
            levels: vec![level(100), level(101)],
            lines: vec![Line::through(vec![Decimal::ZERO, Decimal::from(1_000)])],
            ..Sequence::default()
        }
        .draw();
        let places: Vec<Decimal> = svg
            .lines()
            .filter(|line| line.contains(">level "))
            .filter_map(|line| line.split("y=\"").nth(1)?.split('"').next()?.parse().ok())
            .collect();
        assert_eq!(places.len(), 2, "{svg}");
        let apart = places
            .last()
            .zip(places.first())
            .map(|(low, high)| low - high);
        assert!(apart >= Some(Decimal::from(LABEL)), "{places:?}");
    }

    #[test]
    fn a_value_beyond_is_a_square_with_its_number_and_a_warning_a_filled_dot() {
        let svg = Sequence {
            lines: vec![Line {
                beyond: vec![2],
                warned: vec![3],
                ..Line::through(vec![Decimal::ONE, Decimal::TEN, Decimal::TWO])
            }],
            ..Sequence::default()
        }
        .draw();
        assert_eq!(svg.matches(&format!("fill=\"{LIMIT}\"")).count(), 1);
        assert!(svg.contains("font-weight=\"700\">2<"), "{svg}");
        assert_eq!(svg.matches(&format!("r=\"3\" fill=\"{INK}\"")).count(), 1);
    }
}
