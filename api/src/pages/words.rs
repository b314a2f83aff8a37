//! Words on pages: decisions and states as word, shape and colour; short names of analytes.

use domain::analytes::Analyte;

/// Text as it may stand in HTML, also inside an attribute in double quotes.
pub(crate) fn escape(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '"' => escaped.push_str("&quot;"),
            '\'' => escaped.push_str("&#39;"),
            _ => escaped.push(letter),
        }
    }
    escaped
}

/// What a word means for who reads it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Tone {
    /// In order: a filled circle.
    Good,
    /// Not in order: a filled triangle.
    Bad,
    /// Not settled: an open square.
    Open,
}

/// A decision or state: the word first, then a shape, then a colour, as HTML.
pub(crate) fn word(tone: Tone, text: &str) -> String {
    let (class, shape) = match tone {
        Tone::Good => (
            "good",
            "<circle cx=\"5\" cy=\"5\" r=\"4.5\" fill=\"currentColor\"/>",
        ),
        Tone::Bad => (
            "bad",
            "<path d=\"M5 .3 9.9 9.6H.1Z\" fill=\"currentColor\"/>",
        ),
        Tone::Open => (
            "open",
            "<path d=\"M1 1h8v8h-8z\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.6\"/>",
        ),
    };
    format!(
        "<span class=\"word {class}\"><svg viewBox=\"0 0 10 10\" aria-hidden=\"true\">{shape}\
         </svg>{}</span>",
        escape(text)
    )
}

/// An analyte as one says it in a sentence.
pub(crate) const fn analyte(analyte: Analyte) -> &'static str {
    match analyte {
        Analyte::AflatoxinTotal => "total aflatoxins",
        Analyte::AflatoxinB1 => "aflatoxin B1",
        Analyte::AflatoxinM1 => "aflatoxin M1",
        Analyte::Deoxynivalenol => "deoxynivalenol",
        Analyte::FumonisinB1B2 => "fumonisins B1 and B2",
        Analyte::FumonisinTotalB1B2B3 => "total fumonisins",
        Analyte::Zearalenone => "zearalenone",
        Analyte::OchratoxinA => "ochratoxin A",
        Analyte::T2Ht2 => "T-2 and HT-2 toxin",
    }
}

/// A word in kebab case as one says it.
pub(crate) fn plain(kebab: &str) -> String {
    kebab.replace('-', " ")
}

/// Where something stands, as one says it: `/runs/1/readings/0/value` is `run 2, reading 1, value`.
pub(crate) fn member(pointer: &str) -> String {
    let mut words: Vec<String> = Vec::new();
    for step in pointer.split('/').skip(1) {
        let index = step.parse::<usize>().ok();
        if let (Some(index), Some(list)) = (index, words.last_mut()) {
            *list = format!("{} {}", one_of(list), index.saturating_add(1));
        } else {
            let step = step.replace("~1", "/").replace("~0", "~");
            words.push(step.replace(['_', '-'], " "));
        }
    }
    words.join(", ")
}

fn one_of(several: &str) -> &str {
    several.strip_suffix('s').unwrap_or(several)
}

/// A sentence's first letter as a capital.
pub(crate) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pointer_is_said_in_words() {
        let said = member("/results/0/runs/1/value_as_read");
        assert_eq!(said, "result 1, run 2, value as read");
        assert_eq!(member("/lot/mass"), "lot, mass");
    }

    #[test]
    fn what_was_typed_never_becomes_markup() {
        let made = word(Tone::Bad, "<script>");
        assert!(made.contains("&lt;script&gt;") && !made.contains("<script>"));
    }
}
