//! The scale as SVG.
//!
//! Promises a picture without script, outside references or colour as the only difference: the
//! result is filled, runs are open, bounds are arrows, guard bands are hatched, limits are named.

use super::axis::{Axis, LEFT, RIGHT};
use super::place::{Span, beside, rows, width};
use super::words::{escape, said, summary};
use super::{Position, ResultMark, Scale, Surface};
use rust_decimal::Decimal;
use std::fmt::Write as _;

const WIDTH: i64 = 664;
const SIZE: i64 = 12;
const LIMIT_ROW: i64 = 17;
const RUN_ROW: i64 = 19;
const RANGE_ROW: i64 = 27;
const INK: &str = "#1b1b18";
const ACCENT: &str = "#0b5d5e";
/// Vermilion of Okabe and Ito (2008).
const LIMIT: &str = "#d55e00";
const BAND: &str = "#e3ebe8";

/// What the drawing steps share: the axis, where lines fall, and what is drawn so far.
struct Drawing<'a> {
    scale: &'a Scale,
    axis: Axis,
    limit_lines: Vec<Decimal>,
    paper: &'static str,
    body: String,
}

/// Heights, from the top: limit labels, result, runs, axis.
struct Levels {
    result: i64,
    runs: i64,
    axis: i64,
}

/// Draws the scale.
#[must_use]
pub fn svg(scale: &Scale) -> String {
    let axis = Axis::of(scale);
    let limit_lines = scale
        .limits
        .iter()
        .map(|limit| axis.place(limit.value))
        .collect();
    let (paper, face) = match scale.surface {
        Surface::Screen => ("#fbfaf6", "system-ui, sans-serif"),
        Surface::Print => ("#ffffff", "Libertinus Serif"),
    };
    let mut drawing = Drawing {
        scale,
        axis,
        limit_lines,
        paper,
        body: String::new(),
    };
    let limit_spans = drawing.limit_spans();
    let (limit_rows, limit_count) = rows(&limit_spans, true);
    let run_spans = drawing.run_spans();
    let (run_rows, run_count) = rows(&run_spans, false);
    let below = |y: i64, count: i64, each: i64| y.saturating_add(count.saturating_mul(each));
    let result = below(26, limit_count, LIMIT_ROW);
    let runs = result.saturating_add(if scale.result.is_some() { 24 } else { 2 });
    let levels = Levels {
        result,
        runs,
        axis: below(runs, run_count.max(1), RUN_ROW),
    };
    drawing.range_band(&levels);
    drawing.limits(&limit_spans, &limit_rows, &levels);
    drawing.axis_line(&levels);
    drawing.runs(&run_spans, &run_rows, &levels);
    if let Some(mark) = &scale.result {
        drawing.result(mark, &levels);
    }
    let bottom = drawing.ranges(levels.axis.saturating_add(34));
    let height = drawing.foot(bottom);
    wrap(&drawing, face, height)
}

fn wrap(drawing: &Drawing<'_>, face: &str, height: i64) -> String {
    let Drawing { scale, body, .. } = drawing;
    let key = escape(&scale.key);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {height}\" \
         width=\"{WIDTH}\" height=\"{height}\" role=\"img\" aria-labelledby=\"{key}-title \
         {key}-desc\" font-family=\"{face}\" font-size=\"{SIZE}\" fill=\"{INK}\">\n\
         <title id=\"{key}-title\">{title}</title>\n<desc id=\"{key}-desc\">{desc}</desc>\n\
         <defs><pattern id=\"{key}-hatch\" width=\"5\" height=\"5\" \
         patternUnits=\"userSpaceOnUse\"><path d=\"M-1 1 L1 -1 M0 5 L5 0 M4 6 L6 4\" \
         stroke=\"{LIMIT}\" stroke-width=\"0.7\"/></pattern></defs>\n{body}</svg>\n",
        title = escape(&format!("{} on a scale", scale.analyte)),
        desc = escape(&summary(scale)),
    )
}

impl Drawing<'_> {
    fn push(&mut self, element: std::fmt::Arguments<'_>) {
        // Writing to a String cannot fail.
        let _ = self.body.write_fmt(element);
        self.body.push('\n');
    }

    /// A text with a halo of the paper, so that a line behind it does not make it unreadable.
    fn text(&mut self, x: Decimal, y: i64, leftward: bool, style: &str, text: &str) {
        let anchor = if leftward { "end" } else { "start" };
        let (paper, text) = (self.paper, escape(text));
        self.push(format_args!(
            "<text x=\"{x}\" y=\"{y}\" text-anchor=\"{anchor}\" stroke=\"{paper}\" \
             stroke-width=\"3\" stroke-linejoin=\"round\" paint-order=\"stroke\"{style}>{text}\
             </text>"
        ));
    }

    fn limit_text(&self, index: usize) -> String {
        self.scale
            .limits
            .get(index)
            .map_or_else(String::new, |limit| {
                format!(
                    "{} {} {}",
                    limit.name,
                    limit.value.normalize(),
                    self.scale.unit
                )
            })
    }

    fn limit_spans(&self) -> Vec<Span> {
        let edge = Decimal::from(WIDTH);
        self.limit_lines
            .iter()
            .enumerate()
            .map(|(index, at)| {
                let label = plus(width(&self.limit_text(index), SIZE), 10);
                beside(*at, (plus(*at, -2), plus(*at, 2)), label, edge, &[])
            })
            .collect()
    }

    fn run_text(&self, index: usize) -> String {
        self.scale.runs.get(index).map_or_else(String::new, |run| {
            format!("{} ({})", said(run.position), run.dilution)
        })
    }

    fn run_spans(&self) -> Vec<Span> {
        let edge = Decimal::from(WIDTH);
        self.scale
            .runs
            .iter()
            .enumerate()
            .map(|(index, run)| {
                let at = self.axis.place(run.position.figure().unwrap_or_default());
                let (left, right) = match run.position {
                    Position::At(_) | Position::NotDetected => (-8, 8),
                    Position::Below(_) => (-30, 8),
                    Position::Above(_) => (-8, 30),
                };
                let reach = (plus(at, left), plus(at, right));
                let label = plus(width(&self.run_text(index), SIZE), 8);
                beside(at, reach, label, edge, &self.limit_lines)
            })
            .collect()
    }

    fn range_band(&mut self, levels: &Levels) {
        let Some(range) = self.scale.ranges.first() else {
            return;
        };
        let (from, to) = (self.axis.place(range.loq), self.axis.place(range.upper));
        let top = levels.result.saturating_sub(14);
        let height = levels.axis.saturating_sub(top);
        let wide = less(to, from);
        self.push(format_args!(
            "<rect x=\"{from}\" y=\"{top}\" width=\"{wide}\" height=\"{height}\" \
             fill=\"{BAND}\"/>"
        ));
    }

    fn limits(&mut self, spans: &[Span], rows: &[i64], levels: &Levels) {
        let scale = self.scale;
        let top = levels.result.saturating_sub(14);
        let bottom = levels.axis.saturating_add(6);
        for limit in &scale.limits {
            if let Some((from, to)) = limit.guard {
                let (from, to) = (self.axis.place(from), self.axis.place(to));
                let (wide, key) = (less(to, from), escape(&scale.key));
                let height = levels.axis.saturating_sub(top);
                self.push(format_args!(
                    "<rect x=\"{from}\" y=\"{top}\" width=\"{wide}\" height=\"{height}\" \
                     fill=\"url(#{key}-hatch)\" stroke=\"{LIMIT}\" stroke-width=\"0.5\" \
                     stroke-dasharray=\"2 2\"/>"
                ));
            }
        }
        for (index, (span, row)) in spans.iter().zip(rows).enumerate() {
            let x = span.at;
            let baseline = row.saturating_mul(LIMIT_ROW).saturating_add(14);
            let from = baseline.saturating_sub(9);
            self.push(format_args!(
                "<line x1=\"{x}\" y1=\"{from}\" x2=\"{x}\" y2=\"{bottom}\" stroke=\"{LIMIT}\" \
                 stroke-width=\"1.6\"/>"
            ));
            let label = self.limit_text(index);
            self.text(
                plus(x, toward(span, 6)),
                baseline,
                span.leftward,
                "",
                &label,
            );
        }
    }

    fn axis_line(&mut self, levels: &Levels) {
        let y = levels.axis;
        self.push(format_args!(
            "<path d=\"M{LEFT} {y} H{RIGHT}\" stroke=\"{INK}\" stroke-width=\"1\" fill=\"none\"/>"
        ));
        if let Some(x) = self.axis.break_at() {
            let (paper, up, down) = (self.paper, y.saturating_sub(5), y.saturating_add(5));
            let (a, b) = (x.saturating_sub(3), x.saturating_add(3));
            self.push(format_args!(
                "<path d=\"M{a} {y} H{b}\" stroke=\"{paper}\" stroke-width=\"3\"/>\
                 <path d=\"M{a} {down} L{x} {up} M{x} {down} L{b} {up}\" stroke=\"{INK}\" \
                 stroke-width=\"1\"/>"
            ));
        }
        let (tick_end, label) = (y.saturating_add(5), y.saturating_add(18));
        for tick in self.axis.ticks.clone() {
            let x = self.axis.place(tick);
            let tick = tick.normalize();
            self.push(format_args!(
                "<path d=\"M{x} {y} V{tick_end}\" stroke=\"{INK}\" stroke-width=\"1\"/>\
                 <text x=\"{x}\" y=\"{label}\" text-anchor=\"middle\">{tick}</text>"
            ));
        }
    }

    fn runs(&mut self, spans: &[Span], rows: &[i64], levels: &Levels) {
        let scale = self.scale;
        for (index, (run, (span, row))) in scale.runs.iter().zip(spans.iter().zip(rows)).enumerate()
        {
            let y = levels
                .runs
                .saturating_add(row.saturating_mul(RUN_ROW))
                .saturating_add(4);
            let x = span.at;
            match run.position {
                Position::At(_) | Position::NotDetected => {}
                Position::Above(_) => self.arrow(x, y, 1, "1.2"),
                Position::Below(_) => self.arrow(x, y, -1, "1.2"),
            }
            let paper = self.paper;
            self.push(format_args!(
                "<circle cx=\"{x}\" cy=\"{y}\" r=\"4\" fill=\"{paper}\" stroke=\"{INK}\" \
                 stroke-width=\"1.2\"/>"
            ));
            let label = self.run_text(index);
            let wide = width(&label, SIZE);
            let x = if span.leftward {
                plus(plus_decimal(span.from, wide), 4)
            } else {
                plus(less(span.to, wide), -4)
            };
            self.text(x, y.saturating_add(4), span.leftward, "", &label);
        }
    }

    /// An arrow of 24 pixels, to the right or to the left.
    fn arrow(&mut self, x: Decimal, y: i64, way: i64, stroke: &str) {
        let at = |offset: i64| plus(x, offset.saturating_mul(way));
        let (start, tip, barb) = (at(4), at(26), at(20));
        let (up, down) = (y.saturating_sub(4), y.saturating_add(4));
        self.push(format_args!(
            "<path d=\"M{start} {y} H{tip} M{barb} {up} L{tip} {y} L{barb} {down}\" \
             fill=\"none\" stroke=\"{INK}\" stroke-width=\"{stroke}\"/>"
        ));
    }

    fn result(&mut self, mark: &ResultMark, levels: &Levels) {
        let y = levels.result;
        let figure = mark.position.figure().unwrap_or_default();
        let x = self.axis.place(figure);
        let mut reach = (plus(x, -9), plus(x, 9));
        let mut label = format!("{} {}", mark.reported, self.scale.unit);
        if let (Position::At(value), Some((expanded, half, _))) = (mark.position, &mark.uncertainty)
        {
            let from = self.axis.place(less(value, *half));
            let to = self.axis.place(plus_decimal(value, *half));
            let (up, down) = (y.saturating_sub(6), y.saturating_add(6));
            self.push(format_args!(
                "<path d=\"M{from} {y} H{to} M{from} {up} V{down} M{to} {up} V{down}\" \
                 fill=\"none\" stroke=\"{ACCENT}\" stroke-width=\"2.4\"/>"
            ));
            reach = (plus(from, -4).min(reach.0), plus(to, 4).max(reach.1));
            label = format!("{} ± {expanded} {}", mark.reported, self.scale.unit);
        }
        match mark.position {
            Position::At(_) | Position::NotDetected => {}
            Position::Above(_) => {
                self.arrow(x, y, 1, "2.4");
                reach.1 = plus(x, 30);
            }
            Position::Below(_) => {
                self.arrow(x, y, -1, "2.4");
                reach.0 = plus(x, -30);
            }
        }
        self.push(format_args!(
            "<circle cx=\"{x}\" cy=\"{y}\" r=\"5.5\" fill=\"{ACCENT}\"/>"
        ));
        let edge = Decimal::from(WIDTH);
        let span = beside(x, reach, width(&label, 14), edge, &self.limit_lines);
        let at = if span.leftward {
            plus(reach.0, -4)
        } else {
            plus(reach.1, 4)
        };
        let style = " font-weight=\"700\" font-size=\"14\"";
        self.text(at, y.saturating_add(5), span.leftward, style, &label);
    }

    /// One line a measuring range below the axis: dashed from LOD to LOQ, solid to the upper end.
    fn ranges(&mut self, top: i64) -> i64 {
        let scale = self.scale;
        let mut y = top;
        for range in &scale.ranges {
            let place = |value| self.axis.place(value);
            let (lod, loq, upper) = (place(range.lod), place(range.loq), place(range.upper));
            let (up, down) = (y.saturating_sub(4), y.saturating_add(4));
            self.push(format_args!(
                "<path d=\"M{lod} {up} V{down} M{loq} {up} V{down} M{upper} {up} V{down} \
                 M{loq} {y} H{upper}\" fill=\"none\" stroke=\"{INK}\" stroke-width=\"1\"/>\
                 <path d=\"M{lod} {y} H{loq}\" stroke=\"{INK}\" stroke-dasharray=\"2 2\"/>"
            ));
            let label = format!(
                "measuring range, {}: LOD {}, LOQ {}, upper end {}",
                range.dilution,
                range.lod.normalize(),
                range.loq.normalize(),
                range.upper.normalize()
            );
            let fits = plus_decimal(lod, width(&label, SIZE)) <= Decimal::from(RIGHT);
            let x = if fits { lod } else { Decimal::from(RIGHT) };
            self.text(x, y.saturating_add(16), !fits, "", &label);
            y = y.saturating_add(RANGE_ROW);
        }
        y
    }

    fn foot(&mut self, y: i64) -> i64 {
        let baseline = y.saturating_add(4);
        let how = match self.axis.floor {
            None => "linear axis from zero",
            Some(_) => "logarithmic axis, with zero before the break",
        };
        let text = format!("{} in {}; {how}", self.scale.analyte, self.scale.unit);
        let style = " font-style=\"italic\"";
        self.text(Decimal::from(RIGHT), baseline, true, style, &text);
        baseline.saturating_add(8)
    }
}

fn toward(span: &Span, pixels: i64) -> i64 {
    if span.leftward {
        pixels.saturating_neg()
    } else {
        pixels
    }
}

fn plus(value: Decimal, pixels: i64) -> Decimal {
    plus_decimal(value, Decimal::from(pixels))
}

fn plus_decimal(value: Decimal, more: Decimal) -> Decimal {
    value.checked_add(more).unwrap_or(value)
}

fn less(value: Decimal, less: Decimal) -> Decimal {
    value.checked_sub(less).unwrap_or(value)
}
