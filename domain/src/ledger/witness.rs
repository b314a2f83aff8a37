//! Witnesses: what they are asked (C2SP tlog-witness) and how many must have signed (tlog-policy).
//!
//! Promises that a quorum is counted over cosignatures that verified and nothing else. Refuses a
//! policy without exactly one `quorum` line, and names that were not defined before.

use super::checkpoint::parse_decimal;
use super::hash::Hash;
use super::note::{KeyUse, Note, NoteError, VerifierKey};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use std::collections::BTreeMap;

/// Why a policy is refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("line {line} of the witness policy {problem}")]
pub struct PolicyError {
    /// The line, from 1; 0 for the whole.
    pub line: usize,
    /// What is wrong with it.
    pub problem: &'static str,
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum Party {
    Witness(Box<VerifierKey>),
    Group { needed: usize, members: Vec<String> },
}

/// A trust policy over witnesses; its `log` lines are not looked at.
///
/// ```
/// use domain::ledger::{note::{self, KeyUse, VerifierKey}, witness::Policy, SecretKey};
/// let secret = SecretKey::from_seed(&[7; 32]);
/// let key = VerifierKey::new("w.example", KeyUse::Cosignature, secret.public().clone())?;
/// let policy = Policy::parse(&format!("witness w {key}\nquorum w\n"))?;
/// let text = "lab.example/log\n0\n47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=\n";
/// let signed = note::sign(text, "lab.example/log", &SecretKey::from_seed(&[8; 32]))?;
/// assert!(!policy.is_met(&note::Note::parse(&signed)?)?);
/// let cosigned = signed + &note::cosignature_line(text, 1_772_359_200, "w.example", &secret)?;
/// assert!(policy.is_met(&note::Note::parse(&cosigned)?)?);
/// assert!(Policy::parse("witness w nonsense\nquorum w\n").is_err());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Policy {
    parties: BTreeMap<String, Party>,
    quorum: Option<String>,
}

impl Policy {
    /// Reads a policy.
    ///
    /// # Errors
    /// [`PolicyError`].
    pub fn parse(text: &str) -> Result<Self, PolicyError> {
        let mut parties = BTreeMap::new();
        let mut quorum = None;
        for (index, line) in text.lines().enumerate() {
            let refuse = |problem| PolicyError {
                line: index + 1,
                problem,
            };
            let fields: Vec<&str> = line.split_ascii_whitespace().collect();
            match fields.as_slice() {
                [] | ["log", _] | ["log", _, _] => {}
                [first, ..] if first.starts_with('#') => {}
                ["witness", name, key] | ["witness", name, key, _] => {
                    let key = VerifierKey::parse(key).ok();
                    let key = key.filter(|key| key.used_for() == KeyUse::Cosignature);
                    let key = key.ok_or(refuse("has no cosignature key"))?;
                    // A cosignature names no witness: one key under two names would count twice.
                    if keys_of(&parties).any(|other| other.public() == key.public()) {
                        return Err(refuse("has the key of another witness"));
                    }
                    define(&mut parties, name, Party::Witness(Box::new(key))).map_err(refuse)?;
                }
                ["group", name, needed, members @ ..] if !members.is_empty() => {
                    let group = group(&parties, needed, members).map_err(refuse)?;
                    define(&mut parties, name, group).map_err(refuse)?;
                }
                ["quorum", name] => {
                    if quorum.is_some() {
                        return Err(refuse("is a second quorum"));
                    }
                    if *name != "none" && !parties.contains_key(*name) {
                        return Err(refuse("names what is not defined before"));
                    }
                    quorum = Some((*name != "none").then(|| (*name).to_owned()));
                }
                _ => return Err(refuse("is not understood")),
            }
        }
        let quorum = quorum.ok_or(PolicyError {
            line: 0,
            problem: "is missing: quorum",
        })?;
        Ok(Self { parties, quorum })
    }

    /// Whether enough witnesses cosigned the note.
    ///
    /// # Errors
    /// [`NoteError::FalseSignature`]: a false line of a known witness spoils the note.
    pub fn is_met(&self, note: &Note<'_>) -> Result<bool, NoteError> {
        let keys: Vec<&VerifierKey> = keys_of(&self.parties).collect();
        let verified = note.verify_any(&keys)?;
        let signed = |key: &VerifierKey| verified.iter().any(|line| line.key == key.to_string());
        Ok(self
            .quorum
            .as_ref()
            .is_none_or(|name| self.counts(name, &signed)))
    }

    fn counts(&self, name: &str, signed: &impl Fn(&VerifierKey) -> bool) -> bool {
        match self.parties.get(name) {
            Some(Party::Witness(key)) => signed(key),
            // A group names only what was defined before it, so this comes to an end.
            Some(Party::Group { needed, members }) => {
                members
                    .iter()
                    .filter(|member| self.counts(member, signed))
                    .count()
                    >= *needed
            }
            None => false,
        }
    }
}

fn keys_of(parties: &BTreeMap<String, Party>) -> impl Iterator<Item = &VerifierKey> {
    parties.values().filter_map(|party| match party {
        Party::Witness(key) => Some(key.as_ref()),
        Party::Group { .. } => None,
    })
}

fn define(
    parties: &mut BTreeMap<String, Party>,
    name: &str,
    party: Party,
) -> Result<(), &'static str> {
    if name == "none" || parties.insert(name.to_owned(), party).is_some() {
        Err("defines a name again")
    } else {
        Ok(())
    }
}

fn group(
    parties: &BTreeMap<String, Party>,
    needed: &str,
    members: &[&str],
) -> Result<Party, &'static str> {
    let needed = match needed {
        "any" => 1,
        "all" => members.len(),
        number => parse_decimal(number)
            .and_then(|number| usize::try_from(number).ok())
            .filter(|number| (1..=members.len()).contains(number))
            .ok_or("needs any, all, or a number of its members")?,
    };
    let mut names: Vec<String> = members.iter().map(|member| (*member).to_owned()).collect();
    names.sort();
    names.dedup();
    if names.len() != members.len() {
        return Err("names a member twice");
    }
    if names.iter().any(|name| !parties.contains_key(name)) {
        return Err("names what is not defined before");
    }
    Ok(Party::Group {
        needed,
        members: names,
    })
}

/// The body with which a witness is asked to cosign a checkpoint.
///
/// ```
/// use domain::ledger::witness::add_checkpoint_body;
/// assert_eq!(add_checkpoint_body(0, &[], "the note\n"), "old 0\n\nthe note\n");
/// ```
#[must_use]
pub fn add_checkpoint_body(old_size: u64, proof: &[Hash], checkpoint: &str) -> String {
    let mut body = format!("old {old_size}\n");
    for hash in proof {
        body.push_str(&STANDARD.encode(hash.0));
        body.push('\n');
    }
    body.push('\n');
    body.push_str(checkpoint);
    body
}
