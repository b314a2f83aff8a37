//! Figures in a column, aligned by the decimal point.

/// Brings the figures of one column to the same number of places by blank ones (figure space,
/// punctuation space), so that set to the right their decimal points stand above each other. The
/// figures themselves stay as they are; what is no figure stays untouched.
pub(crate) fn aligned(column: &[String]) -> Vec<String> {
    let places = |text: &String| text.split_once('.').map_or(0, |(_, part)| part.len());
    let is_figure = |text: &String| text.ends_with(|last: char| last.is_ascii_digit());
    let most = column
        .iter()
        .filter(|text| is_figure(text))
        .map(places)
        .max()
        .unwrap_or(0);
    column
        .iter()
        .map(|text| {
            if !is_figure(text) || most == 0 {
                return text.clone();
            }
            let own = places(text);
            let point = if own == 0 { "\u{2008}" } else { "" };
            let blank = "\u{2007}".repeat(most.saturating_sub(own));
            format!("{text}{point}{blank}")
        })
        .collect()
}

/// A decimal without trailing zeros, as people write one that was computed.
pub(crate) fn shown(value: rust_decimal::Decimal) -> String {
    value.normalize().to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimal_points_stand_above_each_other() {
        let column = ["4.1", "12", "> 50.25", "not detected"].map(str::to_owned);
        assert_eq!(
            aligned(&column),
            [
                "4.1\u{2007}",
                "12\u{2008}\u{2007}\u{2007}",
                "> 50.25",
                "not detected"
            ]
        );
    }
}
