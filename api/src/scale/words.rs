//! The scale in words: one sentence for `alt`, and the same numbers as an HTML table.
//!
//! Promises that everything drawn is said. All text is escaped; nothing is taken as markup.

use super::{Axis, Position, Scale};

/// Text as it may stand in XML or HTML, also inside an attribute in double quotes.
pub(super) fn escape(text: &str) -> String {
    text.chars()
        .fold(String::with_capacity(text.len()), |mut escaped, letter| {
            match letter {
                '&' => escaped.push_str("&amp;"),
                '<' => escaped.push_str("&lt;"),
                '>' => escaped.push_str("&gt;"),
                '"' => escaped.push_str("&quot;"),
                '\'' => escaped.push_str("&#39;"),
                _ if letter.is_control() => escaped.push(' '),
                _ => escaped.push(letter),
            }
            escaped
        })
}

/// A position in words, without unit.
pub(super) fn said(position: Position) -> String {
    match position {
        Position::At(value) => value.normalize().to_string(),
        Position::Below(value) => format!("< {}", value.normalize()),
        Position::Above(value) => format!("> {}", value.normalize()),
        Position::NotDetected => "not detected".to_owned(),
    }
}

fn reported(scale: &Scale) -> Option<String> {
    let result = scale.result.as_ref()?;
    Some(match &result.uncertainty {
        Some((expanded, _, coverage)) => {
            format!(
                "{} ± {expanded} {} (k = {coverage})",
                result.reported, scale.unit
            )
        }
        None => format!("{} {}", result.reported, scale.unit),
    })
}

/// What the picture shows, in a sentence or two: its alternative text.
#[must_use]
pub fn summary(scale: &Scale) -> String {
    let unit = &scale.unit;
    let mut parts = Vec::new();
    parts.push(match reported(scale) {
        Some(result) => format!("{}: result {result}", scale.analyte),
        None => format!("{}: no result yet", scale.analyte),
    });
    for limit in &scale.limits {
        parts.push(format!(
            "limit {} {} {unit}",
            limit.name,
            limit.value.normalize()
        ));
    }
    for run in &scale.runs {
        parts.push(format!(
            "run ({}) {} {unit}",
            run.dilution,
            said(run.position)
        ));
    }
    if let Some(range) = scale.ranges.first() {
        parts.push(format!(
            "measuring range {} to {} {unit}",
            range.loq.normalize(),
            range.upper.normalize()
        ));
    }
    format!(
        "{}. {} axis.",
        parts.join("; "),
        capital(Axis::of(scale).kind())
    )
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// The same numbers as a table.
#[must_use]
pub fn table(scale: &Scale) -> String {
    let mut rows: Vec<(String, String)> = Vec::new();
    if let Some(result) = &scale.result {
        rows.push(("Result".to_owned(), result.reported.clone()));
        if let Some((expanded, _, coverage)) = &result.uncertainty {
            rows.push((
                format!("Expanded uncertainty (k = {coverage})"),
                format!("± {expanded}"),
            ));
        }
    }
    for limit in &scale.limits {
        rows.push((
            format!("Limit: {}", limit.name),
            limit.value.normalize().to_string(),
        ));
        if let Some((from, to)) = limit.guard {
            let band = format!("{} to {}", from.normalize(), to.normalize());
            rows.push((format!("Guard band: {}", limit.name), band));
        }
    }
    for run in &scale.runs {
        rows.push((format!("Run, {}", run.dilution), said(run.position)));
    }
    for range in &scale.ranges {
        for (name, value) in [
            ("Limit of detection", range.lod),
            ("Limit of quantification", range.loq),
            ("Upper end", range.upper),
        ] {
            rows.push((
                format!("{name}, {}", range.dilution),
                value.normalize().to_string(),
            ));
        }
    }
    let body: String = rows
        .iter()
        .map(|(name, value)| {
            format!(
                "<tr><th scope=\"row\">{}</th><td class=\"figure\">{}</td></tr>\n",
                escape(name),
                escape(value)
            )
        })
        .collect();
    format!(
        "<table class=\"scale-table\">\n<caption>{analyte}: the numbers of the scale</caption>\n\
         <thead><tr><th scope=\"col\">What</th><th scope=\"col\">{unit}</th></tr></thead>\n\
         <tbody>\n{body}</tbody>\n</table>\n",
        analyte = escape(&scale.analyte),
        unit = escape(&scale.unit),
    )
}
