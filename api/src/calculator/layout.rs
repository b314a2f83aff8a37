//! JSON as people read it: members in their own order, short lists on one line.

use serde::{
    Deserialize, Deserializer,
    de::{MapAccess, SeqAccess, Visitor},
};
use std::fmt;

/// Widest line.
const WIDTH: usize = 88;

/// JSON whose members keep their order.
enum Ordered {
    Plain(String),
    List(Vec<Ordered>),
    Members(Vec<(String, Ordered)>),
}

struct InOrderOfWriting;

impl<'de> Visitor<'de> for InOrderOfWriting {
    type Value = Ordered;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("JSON")
    }

    fn visit_unit<E>(self) -> Result<Ordered, E> {
        Ok(Ordered::Plain("null".into()))
    }

    fn visit_bool<E>(self, value: bool) -> Result<Ordered, E> {
        Ok(Ordered::Plain(value.to_string()))
    }

    fn visit_u64<E>(self, value: u64) -> Result<Ordered, E> {
        Ok(Ordered::Plain(value.to_string()))
    }

    fn visit_i64<E>(self, value: i64) -> Result<Ordered, E> {
        Ok(Ordered::Plain(value.to_string()))
    }

    fn visit_str<E>(self, value: &str) -> Result<Ordered, E> {
        Ok(Ordered::Plain(quoted(value)))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Ordered, A::Error> {
        let mut list = Vec::new();
        while let Some(item) = items.next_element()? {
            list.push(item);
        }
        Ok(Ordered::List(list))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut pairs: A) -> Result<Ordered, A::Error> {
        let mut members = Vec::new();
        while let Some((name, member)) = pairs.next_entry()? {
            members.push((name, member));
        }
        Ok(Ordered::Members(members))
    }
}

impl<'de> Deserialize<'de> for Ordered {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(InOrderOfWriting)
    }
}

fn quoted(text: &str) -> String {
    serde_json::Value::from(text).to_string()
}

impl Ordered {
    /// On one line.
    fn flat(&self) -> String {
        match self {
            Self::Plain(text) => text.clone(),
            Self::List(items) => {
                let items: Vec<String> = items.iter().map(Self::flat).collect();
                format!("[{}]", items.join(", "))
            }
            Self::Members(members) => {
                let flat = |(name, member): &(String, Self)| {
                    format!("{}: {}", quoted(name), member.flat())
                };
                let members: Vec<String> = members.iter().map(flat).collect();
                format!("{{{}}}", members.join(", "))
            }
        }
    }

    /// On as many lines as it takes; `before` is what stands on the first one already.
    fn lay(&self, indent: usize, before: usize, out: &mut String) {
        let flat = self.flat();
        if before.saturating_add(flat.chars().count()) <= WIDTH {
            out.push_str(&flat);
            return;
        }
        match self {
            Self::Plain(text) => out.push_str(text),
            Self::List(items) => lay_list(items, indent, out),
            Self::Members(members) => {
                let inner = indent.saturating_add(2);
                out.push('{');
                for (place, (name, member)) in members.iter().enumerate() {
                    out.push_str(if place == 0 { "\n" } else { ",\n" });
                    let name = format!("{}{}: ", " ".repeat(inner), quoted(name));
                    out.push_str(&name);
                    member.lay(inner, name.chars().count(), out);
                }
                out.push_str(&format!("\n{}}}", " ".repeat(indent)));
            }
        }
    }
}

/// Plain items fill the lines; others have one each.
fn lay_list(items: &[Ordered], indent: usize, out: &mut String) {
    let inner = indent.saturating_add(2);
    let margin = " ".repeat(inner);
    let fill = items.iter().all(|item| matches!(item, Ordered::Plain(_)));
    out.push_str("[\n");
    out.push_str(&margin);
    let mut used = inner;
    for (place, item) in items.iter().enumerate() {
        let flat = item.flat();
        let width = flat.chars().count();
        if place > 0 {
            out.push(',');
            if fill && used.saturating_add(width) < WIDTH.saturating_sub(2) {
                out.push(' ');
                used = used.saturating_add(2);
            } else {
                out.push('\n');
                out.push_str(&margin);
                used = inner;
            }
        }
        item.lay(inner, used, out);
        used = used.saturating_add(width);
    }
    out.push_str(&format!("\n{}]", " ".repeat(indent)));
}

/// The same JSON on lines that fit a page.
///
/// # Errors
/// Where it is no JSON.
pub(super) fn laid_out(json: &str) -> Result<String, serde_json::Error> {
    let read: Ordered = serde_json::from_str(json)?;
    let mut out = String::new();
    read.lay(0, 0, &mut out);
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn members_keep_their_order_and_lists_fill_their_lines() -> Result<(), serde_json::Error> {
        let short = laid_out(r#"{"b":["1","2"],"a":{"c":null,"d":true}}"#)?;
        assert_eq!(short, r#"{"b": ["1", "2"], "a": {"c": null, "d": true}}"#);
        let numbers: Vec<String> = (100..140).map(|number| format!("\"{number}\"")).collect();
        let json = format!("{{\"values\":[{}],\"n\":40}}", numbers.join(","));
        let long = laid_out(&json)?;
        assert!(long.lines().all(|line| line.len() <= WIDTH), "{long}");
        assert_eq!(long.lines().count(), 9, "{long}");
        let same: serde_json::Value = serde_json::from_str(&long)?;
        assert_eq!(same, serde_json::from_str::<serde_json::Value>(&json)?);
        Ok(())
    }
}
