//! Disclosures (RFC 9901): personal data and free text beside the records, digests inside them.
//!
//! Promises that erasing a disclosure changes no hash, and that what is left tells nothing about
//! it. Refuses elements of lists, concealment inside a concealed value, a name given twice, and
//! control characters.

use super::canonical::{self, CanonicalError};
use super::hash::Hash;
use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use serde_json::{Map, Value};
use std::collections::{BTreeMap, BTreeSet};

/// The member that holds the digests of an object's concealed members.
pub const DIGESTS: &str = "_sd";

/// Why something cannot be concealed or put back.
#[derive(Debug, thiserror::Error)]
pub enum DisclosureError {
    /// `_sd` and `...` are names of the mechanism itself.
    #[error("\"{0}\" cannot be the name of a disclosure")]
    Name(String),
    /// The value has digests inside, or the object had digests before.
    #[error("a concealed value cannot conceal others")]
    Nested,
    /// The value has no canonical form, or is not in it.
    #[error("the disclosure has no canonical form")]
    Canonical(#[source] CanonicalError),
    /// The text is not base64url of a JSON array of salt, name and value.
    #[error("not a disclosure of salt (16 bytes), name and value")]
    NotADisclosure,
    /// An `_sd` that is not a sorted list of digests.
    #[error("\"_sd\" is not a sorted list of SHA-256 digests in base64url")]
    Digests,
    /// A digest stands twice.
    #[error("a digest stands twice")]
    DigestTwice,
    /// A disclosure was given twice.
    #[error("a disclosure is given twice")]
    DisclosureTwice,
    /// A disclosure whose digest stands nowhere.
    #[error("a disclosure has its digest nowhere")]
    NoDigest,
    /// A disclosed name that its object already has.
    #[error("\"{0}\" stands in its object already")]
    NameTwice(String),
    /// A list element that is a digest (`{"...": digest}`).
    #[error("digests of list elements are not used here")]
    ListElement,
    /// A path that is no JSON pointer.
    #[error("\"{0}\" is no path like /customer or /results/*/remark")]
    Path(String),
}

/// One concealed member: the text that is kept beside the record, and the digest inside it.
///
/// ```
/// use domain::ledger::Disclosure;
/// let made = Disclosure::new([1; 16], "customer", &"Hollow Mill Ltd".into())?;
/// let read = Disclosure::parse(made.text())?;
/// assert_eq!(read.digest(), made.digest());
/// assert_eq!(read.value(), "Hollow Mill Ltd");
/// assert!(Disclosure::new([1; 16], "_sd", &"x".into()).is_err());
/// # Ok::<(), domain::ledger::disclosure::DisclosureError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Disclosure {
    name: String,
    value: Value,
    text: String,
    digest: String,
}

impl Disclosure {
    /// Conceals a value; the salt is 16 random bytes, new for each and never used again.
    ///
    /// # Errors
    /// [`DisclosureError::Name`], [`DisclosureError::Nested`] or [`DisclosureError::Canonical`].
    pub fn new(salt: [u8; 16], name: &str, value: &Value) -> Result<Self, DisclosureError> {
        check(name, value)?;
        let mut array = Vec::with_capacity(128);
        array.push(b'[');
        canonical::write_text(&URL_SAFE_NO_PAD.encode(salt), &mut array);
        array.push(b',');
        canonical::write_text(name, &mut array);
        array.push(b',');
        canonical::write_recorded(value, &mut array).map_err(DisclosureError::Canonical)?;
        array.push(b']');
        let text = URL_SAFE_NO_PAD.encode(&array);
        Ok(Self {
            name: name.to_owned(),
            value: value.clone(),
            digest: digest_of(&text),
            text,
        })
    }

    /// Reads a disclosure's text.
    ///
    /// # Errors
    /// [`DisclosureError`], for whatever [`Disclosure::new`] would not have written.
    pub fn parse(text: &str) -> Result<Self, DisclosureError> {
        let bytes = URL_SAFE_NO_PAD
            .decode(text)
            .ok()
            .ok_or(DisclosureError::NotADisclosure)?;
        let Value::Array(parts) = canonical::read(&bytes).map_err(DisclosureError::Canonical)?
        else {
            return Err(DisclosureError::NotADisclosure);
        };
        let Ok([Value::String(salt), Value::String(name), value]) = <[Value; 3]>::try_from(parts)
        else {
            return Err(DisclosureError::NotADisclosure);
        };
        if URL_SAFE_NO_PAD.decode(&salt).map(|bytes| bytes.len()) != Ok(16) {
            return Err(DisclosureError::NotADisclosure);
        }
        check(&name, &value)?;
        Ok(Self {
            name,
            value,
            digest: digest_of(text),
            text: text.to_owned(),
        })
    }

    /// The member's name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The member's value.
    #[must_use]
    pub const fn value(&self) -> &Value {
        &self.value
    }

    /// The text that is kept beside the record, and may be deleted.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The digest that stands in the record.
    #[must_use]
    pub fn digest(&self) -> &str {
        &self.digest
    }
}

/// The digest of a disclosure's text: base64url(SHA-256(ASCII of the text)).
///
/// ```
/// use domain::ledger::disclosure::digest_of;
/// // RFC 9901 4.2.3, where the array was written with spaces
/// let text = "WyJfMjZiYzRMVC1hYzZxMktJNmNCVzVlcyIsICJmYW1pbHlfbmFtZSIsICJNw7ZiaXVzIl0";
/// assert_eq!(digest_of(text), "X9yH0Ajrdm1Oij4tWso9UzzKJvPoDxwmuEcO3XAdRC0");
/// ```
#[must_use]
pub fn digest_of(text: &str) -> String {
    URL_SAFE_NO_PAD.encode(Hash::of(text.as_bytes()).0)
}

fn check(name: &str, value: &Value) -> Result<(), DisclosureError> {
    if name == DIGESTS || name == "..." {
        return Err(DisclosureError::Name(name.to_owned()));
    }
    if value.is_null() {
        return Err(DisclosureError::Canonical(CanonicalError::NullElement));
    }
    if has_digests(value) {
        return Err(DisclosureError::Nested);
    }
    let name_and_value = canonical::has_control_characters(value)
        || canonical::has_control_characters(&Value::from(name));
    if name_and_value {
        return Err(DisclosureError::Canonical(CanonicalError::ControlCharacter));
    }
    Ok(())
}

fn has_digests(value: &Value) -> bool {
    match value {
        Value::Array(elements) => elements.iter().any(has_digests),
        Value::Object(members) => members
            .iter()
            .any(|(name, member)| name == DIGESTS || name == "..." || has_digests(member)),
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => false,
    }
}

/// Takes members out of a content and leaves their digests, sorted, in the `_sd` of their object.
///
/// A path is a JSON pointer, where `*` stands for each element of a list: `/customer`,
/// `/results/*/remark`. What a path does not find needs no concealment; a null is dropped. Each
/// disclosure takes one salt.
///
/// # Errors
/// [`DisclosureError`]; the content is then of no use.
///
/// ```
/// use domain::ledger::disclosure::{conceal, reveal};
/// let mut content = serde_json::json!({"code": "S-1", "customer": {"name": "Hollow Mill Ltd"}});
/// let whole = content.clone();
/// let hidden = conceal(&mut content, &["/customer/name", "/remark"], || [1; 16])?;
/// assert_eq!(hidden.len(), 1);
/// assert_eq!(content["customer"]["_sd"][0], hidden[0].digest());
/// let erased = reveal(&mut content, &hidden)?;
/// assert!(erased.is_empty());
/// assert_eq!(content, whole);
/// assert!(conceal(&mut content, &["customer"], || [1; 16]).is_err()); // no JSON pointer
/// # Ok::<(), domain::ledger::disclosure::DisclosureError>(())
/// ```
pub fn conceal(
    content: &mut Value,
    paths: &[&str],
    mut salts: impl FnMut() -> [u8; 16],
) -> Result<Vec<Disclosure>, DisclosureError> {
    if has_digests(content) {
        return Err(DisclosureError::Nested);
    }
    let mut disclosures = Vec::new();
    for path in paths {
        let tokens: Vec<String> = path
            .strip_prefix('/')
            .ok_or_else(|| DisclosureError::Path((*path).to_owned()))?
            .split('/')
            .map(|token| token.replace("~1", "/").replace("~0", "~"))
            .collect();
        let (name, way) = tokens
            .split_last()
            .ok_or_else(|| DisclosureError::Path((*path).to_owned()))?;
        conceal_at(content, way, name, &mut salts, &mut disclosures)?;
    }
    Ok(disclosures)
}

fn conceal_at(
    value: &mut Value,
    way: &[String],
    name: &str,
    salts: &mut impl FnMut() -> [u8; 16],
    disclosures: &mut Vec<Disclosure>,
) -> Result<(), DisclosureError> {
    match (way.split_first(), value) {
        (None, Value::Object(members)) => conceal_member(members, name, salts, disclosures),
        (Some((step, rest)), Value::Object(members)) => match members.get_mut(step) {
            Some(member) => conceal_at(member, rest, name, salts, disclosures),
            None => Ok(()),
        },
        (Some((step, rest)), Value::Array(elements)) if step == "*" => elements
            .iter_mut()
            .try_for_each(|element| conceal_at(element, rest, name, salts, disclosures)),
        (Some((step, rest)), Value::Array(elements)) => {
            match step
                .parse::<usize>()
                .ok()
                .and_then(|index| elements.get_mut(index))
            {
                Some(element) => conceal_at(element, rest, name, salts, disclosures),
                None => Ok(()),
            }
        }
        _ => Ok(()),
    }
}

fn conceal_member(
    members: &mut Map<String, Value>,
    name: &str,
    salts: &mut impl FnMut() -> [u8; 16],
    disclosures: &mut Vec<Disclosure>,
) -> Result<(), DisclosureError> {
    match members.remove(name) {
        None | Some(Value::Null) => return Ok(()),
        Some(value) => disclosures.push(Disclosure::new(salts(), name, &value)?),
    }
    let Some(made) = disclosures.last() else {
        return Ok(());
    };
    let digests = members
        .entry(DIGESTS)
        .or_insert_with(|| Value::Array(Vec::new()));
    if let Value::Array(digests) = digests {
        let at = digests.partition_point(|other| other.as_str() < Some(made.digest()));
        digests.insert(at, Value::from(made.digest()));
    }
    Ok(())
}

/// Puts disclosures back where their digests stand, and takes every `_sd` out.
///
/// Returns the digests without a disclosure: what was erased, or is withheld.
///
/// # Errors
/// [`DisclosureError`], for anything that is not exactly as [`conceal`] leaves it; the content is
/// then of no use.
pub fn reveal(
    content: &mut Value,
    disclosures: &[Disclosure],
) -> Result<Vec<String>, DisclosureError> {
    let mut given = BTreeMap::new();
    for disclosure in disclosures {
        if given.insert(disclosure.digest(), disclosure).is_some() {
            return Err(DisclosureError::DisclosureTwice);
        }
    }
    let mut seen = BTreeSet::new();
    let mut missing = Vec::new();
    reveal_in(content, &mut given, &mut seen, &mut missing)?;
    if given.is_empty() {
        Ok(missing)
    } else {
        Err(DisclosureError::NoDigest)
    }
}

fn reveal_in(
    value: &mut Value,
    given: &mut BTreeMap<&str, &Disclosure>,
    seen: &mut BTreeSet<String>,
    missing: &mut Vec<String>,
) -> Result<(), DisclosureError> {
    match value {
        Value::Array(elements) => elements
            .iter_mut()
            .try_for_each(|element| reveal_in(element, given, seen, missing)),
        Value::Object(members) => {
            if members.contains_key("...") {
                return Err(DisclosureError::ListElement);
            }
            for member in members.iter_mut().filter(|(name, _)| *name != DIGESTS) {
                reveal_in(member.1, given, seen, missing)?;
            }
            let Some(digests) = members.remove(DIGESTS) else {
                return Ok(());
            };
            for digest in read_digests(digests)? {
                if !seen.insert(digest.clone()) {
                    return Err(DisclosureError::DigestTwice);
                }
                let Some(disclosure) = given.remove(digest.as_str()) else {
                    missing.push(digest);
                    continue;
                };
                let before = members.insert(disclosure.name.clone(), disclosure.value.clone());
                if before.is_some() {
                    return Err(DisclosureError::NameTwice(disclosure.name.clone()));
                }
            }
            Ok(())
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => Ok(()),
    }
}

/// The digests of an `_sd`: a list with at least one, sorted, each SHA-256 in base64url.
pub(crate) fn read_digests(value: Value) -> Result<Vec<String>, DisclosureError> {
    let Value::Array(elements) = value else {
        return Err(DisclosureError::Digests);
    };
    let mut digests: Vec<String> = Vec::with_capacity(elements.len());
    for element in elements {
        let Value::String(digest) = element else {
            return Err(DisclosureError::Digests);
        };
        if URL_SAFE_NO_PAD.decode(&digest).map(|bytes| bytes.len()) != Ok(32) {
            return Err(DisclosureError::Digests);
        }
        match digests.last() {
            Some(before) if *before == digest => return Err(DisclosureError::DigestTwice),
            Some(before) if *before > digest => return Err(DisclosureError::Digests),
            Some(_) | None => digests.push(digest),
        }
    }
    if digests.is_empty() {
        return Err(DisclosureError::Digests);
    }
    Ok(digests)
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "a test may unwrap")]
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn what_is_concealed_is_gone_and_comes_back_whole(
            names in prop::collection::btree_map("[a-z]{1,8}", "[a-zæøå ]{1,20}", 1..6),
            parties in prop::collection::vec("[A-Z][a-z]{1,8}", 0..4),
            seed in any::<u8>(),
        ) {
            let list: Vec<Value> =
                parties.iter().map(|name| serde_json::json!({"name": name, "share": 1})).collect();
            let mut content = serde_json::json!({"person": names, "parties": list});
            let whole = content.clone();
            let mut paths: Vec<String> =
                names.keys().map(|name| format!("/person/{name}")).collect();
            paths.push("/parties/*/name".to_owned());
            let paths: Vec<&str> = paths.iter().map(String::as_str).collect();
            let mut number = seed;
            let salts = || { number = number.wrapping_add(1); [number; 16] };
            let hidden = conceal(&mut content, &paths, salts).unwrap();
            prop_assert_eq!(hidden.len(), names.len() + parties.len());
            prop_assert!(hidden.iter().all(|one| Disclosure::parse(one.text()).unwrap() == *one));
            prop_assert!(has_digests(&content));

            let (first, rest) = hidden.split_first().unwrap();
            let mut erased = content.clone();
            let missing = reveal(&mut erased, rest).unwrap();
            prop_assert_eq!(missing, vec![first.digest().to_owned()]);
            prop_assert!(!has_digests(&erased));

            let twice: Vec<Disclosure> = hidden.iter().chain([first]).cloned().collect();
            prop_assert!(reveal(&mut content.clone(), &twice).is_err());
            prop_assert!(reveal(&mut whole.clone(), &hidden).is_err());

            prop_assert!(reveal(&mut content, &hidden).unwrap().is_empty());
            prop_assert_eq!(content, whole);
        }
    }

    #[test]
    fn a_value_that_conceals_or_says_nothing_is_refused() {
        for refused in [
            serde_json::json!({"_sd": []}),
            serde_json::json!([{"...": "x"}]),
            Value::Null,
            Value::from("line\nline"),
        ] {
            assert!(
                Disclosure::new([0; 16], "remark", &refused).is_err(),
                "{refused}"
            );
        }
        assert!(Disclosure::new([0; 16], "...", &Value::from("x")).is_err());
    }
}
