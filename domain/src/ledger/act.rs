//! An act: what one actor did in one transaction, signed once, and the log entry it becomes.
//!
//! Promises one sequence of bytes for the same facts; refuses more than 256 records, an action that
//! is no name, an entry longer than a log can hold, and any other form when reading.

use super::canonical::{self, CanonicalError};
use super::disclosure::{self, DisclosureError};
use super::hash::Hash;
use super::jws::{self, Jws, JwsError};
use super::key::{PublicKey, SecretKey};
use super::members::{MemberError, Members, is_kebab_case, is_token};
use super::tree;
use crate::id::{AccountId, ActId, ClientId, LaboratoryId};
use crate::time::Moment;
use serde_json::Value;

/// The most records an act holds.
pub const MOST_RECORDS: usize = 256;

/// The most bytes an entry has: what an entry bundle can say the length of.
pub const MOST_ENTRY_BYTES: usize = 65_535;

/// What the header of an act's JWS says it is.
pub const TYP: &str = "assize-act+jws";

/// Why an act cannot be written or read.
#[derive(Debug, thiserror::Error)]
pub enum ActError {
    /// Not 1 to 256 records.
    #[error("an act holds 1 to 256 records, not {0}")]
    Records(u64),
    /// An action is lower-case words with hyphens between them; a role, process or code is up to
    /// 64 letters, digits and `-_.:`.
    #[error("\"{0}\" is no name of an action, role, process or reason")]
    Name(String),
    /// The entry is longer than a log can hold.
    #[error("the entry has {0} bytes; a log holds 65535")]
    TooLong(usize),
    /// The JWS is not as it should be.
    #[error("the act is no JWS of an act")]
    Jws(#[source] JwsError),
    /// The payload is not canonical.
    #[error("the act's payload is not canonical")]
    Canonical(#[source] CanonicalError),
    /// The payload has other members.
    #[error("the act's payload is not as it should be")]
    Payload(#[source] MemberError),
    /// The digests of the reason are not as they should be.
    #[error("the act's reason is not as it should be")]
    Reason(#[source] DisclosureError),
}

/// Who did it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Actor {
    /// A person.
    Account {
        /// Their account.
        account: AccountId,
        /// The role they acted in.
        role: String,
    },
    /// A program.
    Client {
        /// Its registration.
        client: ClientId,
        /// The person it acted for, where known.
        on_behalf_of: Option<AccountId>,
        /// The role it acted in.
        role: String,
    },
    /// The service itself.
    Process {
        /// Which part of it, such as `key-rotation`.
        process: String,
    },
}

/// Why it was done, where a reason is due: a code in clear, words concealed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reason {
    /// What kind of reason, such as `transcription-error`.
    pub code: String,
    /// Digests of the concealed words, sorted; empty where there are none.
    pub digests: Vec<String>,
}

/// What is signed.
///
/// ```
/// use domain::ledger::{act, Act, Actor, Hash, SecretKey};
/// let records = [Hash::of_leaf(b"a record's canonical bytes")];
/// let act = Act {
///     id: "019ca869-5bb8-7440-8d28-d704af2ddd48".parse()?,
///     action: "register-sample".into(),
///     actor: Actor::Process { process: "set-up".into() },
///     laboratory: "019ca869-5000-76a3-a0ec-7b3041d8cea3".parse()?,
///     reason: None,
///     records: 1,
///     root: act::root(&records)?,
///     time: "2026-03-01T08:10:00.250000Z".parse()?,
/// };
/// let key = SecretKey::from_seed(&[7; 32]);
/// let entry = act.sign(&key)?;
/// assert_eq!(act::verify(entry.text(), key.public())?, act);
/// assert!(act::verify(entry.text(), SecretKey::from_seed(&[8; 32]).public()).is_err());
/// assert!(act::root(&[]).is_err());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Act {
    /// The act's id.
    pub id: ActId,
    /// What was done: the operation's name, in kebab-case.
    pub action: String,
    /// Who did it.
    pub actor: Actor,
    /// For which laboratory.
    pub laboratory: LaboratoryId,
    /// Why, where a reason is due.
    pub reason: Option<Reason>,
    /// How many records it holds, 1 to 256.
    pub records: u64,
    /// The Merkle root of their hashes, in order.
    pub root: Hash,
    /// When.
    pub time: Moment,
}

/// The Merkle root of an act's record hashes, in their order.
///
/// # Errors
/// [`ActError::Records`] unless there are 1 to 256.
pub fn root(records: &[Hash]) -> Result<Hash, ActError> {
    let count = u64::try_from(records.len()).unwrap_or(u64::MAX);
    check_count(count)?;
    Ok(tree::root(records))
}

fn check_count(count: u64) -> Result<(), ActError> {
    if (1..=256).contains(&count) {
        Ok(())
    } else {
        Err(ActError::Records(count))
    }
}

fn check_name(name: &str, is_name: fn(&str) -> bool) -> Result<(), ActError> {
    if is_name(name) {
        Ok(())
    } else {
        Err(ActError::Name(name.chars().take(60).collect()))
    }
}

impl Act {
    /// The canonical payload.
    ///
    /// # Errors
    /// [`ActError`], for a count or a name that cannot be recorded.
    pub fn payload(&self) -> Result<String, ActError> {
        check_count(self.records)?;
        check_name(&self.action, is_kebab_case)?;
        let mut out = format!(
            r#"{{"act":"{}","action":"{}","actor":{},"laboratory":"{}""#,
            self.id,
            self.action,
            actor_text(&self.actor)?,
            self.laboratory
        );
        if let Some(reason) = &self.reason {
            out.push_str(r#","reason":"#);
            out.push_str(&reason_text(reason)?);
        }
        out.push_str(&format!(
            r#","records":{},"root":"{}","time":"{}"}}"#,
            self.records, self.root, self.time
        ));
        Ok(out)
    }

    /// Signs the payload; the result is the log's entry.
    ///
    /// # Errors
    /// [`ActError`].
    pub fn sign(&self, key: &SecretKey) -> Result<Entry, ActError> {
        let text = jws::sign(&jws::header(TYP, key), self.payload()?.as_bytes(), key);
        if text.len() > MOST_ENTRY_BYTES {
            return Err(ActError::TooLong(text.len()));
        }
        Ok(Entry { text })
    }

    /// Reads a canonical payload.
    ///
    /// # Errors
    /// [`ActError`].
    pub fn parse_payload(bytes: &[u8]) -> Result<Self, ActError> {
        const REQUIRED: [&str; 7] = [
            "act",
            "action",
            "actor",
            "laboratory",
            "records",
            "root",
            "time",
        ];
        let value = canonical::read(bytes).map_err(ActError::Canonical)?;
        let members = Members::new(&value, &REQUIRED, &["reason"]).map_err(ActError::Payload)?;
        let actor = members.get("actor").unwrap_or(&Value::Null);
        let act = Self {
            id: members.id("act").map_err(ActError::Payload)?.into(),
            action: members
                .text("action")
                .map_err(ActError::Payload)?
                .to_owned(),
            actor: read_actor(actor).map_err(ActError::Payload)?,
            laboratory: members.id("laboratory").map_err(ActError::Payload)?.into(),
            reason: members.get("reason").map(read_reason).transpose()?,
            records: members.whole("records").map_err(ActError::Payload)?,
            root: members.hash("root").map_err(ActError::Payload)?,
            time: members.time("time").map_err(ActError::Payload)?,
        };
        check_count(act.records)?;
        check_name(&act.action, is_kebab_case)?;
        Ok(act)
    }
}

fn actor_text(actor: &Actor) -> Result<String, ActError> {
    match actor {
        Actor::Account { account, role } => {
            check_name(role, is_token)?;
            Ok(format!(r#"{{"account":"{account}","role":"{role}"}}"#))
        }
        Actor::Client {
            client,
            on_behalf_of,
            role,
        } => {
            check_name(role, is_token)?;
            let behalf = on_behalf_of
                .map(|account| format!(r#""on_behalf_of":"{account}","#))
                .unwrap_or_default();
            Ok(format!(
                r#"{{"client":"{client}",{behalf}"role":"{role}"}}"#
            ))
        }
        Actor::Process { process } => {
            check_name(process, is_token)?;
            Ok(format!(r#"{{"process":"{process}"}}"#))
        }
    }
}

fn reason_text(reason: &Reason) -> Result<String, ActError> {
    check_name(&reason.code, is_token)?;
    if reason.digests.is_empty() {
        return Ok(format!(r#"{{"code":"{}"}}"#, reason.code));
    }
    let list = Value::from(reason.digests.clone());
    let digests = disclosure::read_digests(list).map_err(ActError::Reason)?;
    Ok(format!(
        r#"{{"_sd":["{}"],"code":"{}"}}"#,
        digests.join(r#"",""#),
        reason.code
    ))
}

fn read_actor(value: &Value) -> Result<Actor, MemberError> {
    let name = |members: Members<'_>, name: &str| {
        members.form(name, "a short name", |value| {
            value
                .as_str()
                .filter(|text| is_token(text))
                .map(str::to_owned)
        })
    };
    if value.get("account").is_some() {
        let members = Members::new(value, &["account", "role"], &[])?;
        Ok(Actor::Account {
            account: members.id("account")?.into(),
            role: name(members, "role")?,
        })
    } else if value.get("client").is_some() {
        let members = Members::new(value, &["client", "role"], &["on_behalf_of"])?;
        Ok(Actor::Client {
            client: members.id("client")?.into(),
            on_behalf_of: members
                .optional("on_behalf_of", Members::id)?
                .map(AccountId::from),
            role: name(members, "role")?,
        })
    } else {
        let members = Members::new(value, &["process"], &[])?;
        Ok(Actor::Process {
            process: name(members, "process")?,
        })
    }
}

fn read_reason(value: &Value) -> Result<Reason, ActError> {
    let members =
        Members::new(value, &["code"], &[disclosure::DIGESTS]).map_err(ActError::Payload)?;
    let code = members.text("code").map_err(ActError::Payload)?;
    check_name(code, is_token)?;
    let digests = members
        .get(disclosure::DIGESTS)
        .map(|digests| disclosure::read_digests(digests.clone()).map_err(ActError::Reason))
        .transpose()?
        .unwrap_or_default();
    Ok(Reason {
        code: code.to_owned(),
        digests,
    })
}

/// A signed act: the ASCII text that is the log's entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    text: String,
}

impl Entry {
    /// The compact JWS.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The compact JWS, to keep.
    #[must_use]
    pub fn into_text(self) -> String {
        self.text
    }

    /// The entry's leaf hash in the log: SHA-256(0x00 || entry).
    #[must_use]
    pub fn leaf_hash(&self) -> Hash {
        Hash::of_leaf(self.text.as_bytes())
    }
}

/// An act taken out of its JWS, with the name of the key that it says signed it.
#[derive(Debug)]
pub struct ReadAct<'a> {
    /// The act.
    pub act: Act,
    /// The thumbprint that its header names.
    pub kid: String,
    jws: Jws<'a>,
}

impl<'a> ReadAct<'a> {
    /// Reads an entry without verifying it, in its one form.
    ///
    /// # Errors
    /// [`ActError`].
    pub fn parse(entry: &'a str) -> Result<Self, ActError> {
        if entry.len() > MOST_ENTRY_BYTES {
            return Err(ActError::TooLong(entry.len()));
        }
        let jws = Jws::parse(entry).map_err(ActError::Jws)?;
        let kid = jws.strict_header(TYP).map_err(ActError::Jws)?.to_owned();
        let act = Act::parse_payload(jws.payload())?;
        Ok(Self { act, kid, jws })
    }

    /// Checks the signature.
    ///
    /// # Errors
    /// [`ActError::Jws`].
    pub fn verify(&self, key: &PublicKey) -> Result<(), ActError> {
        self.jws.verify(key).map_err(ActError::Jws)
    }
}

/// Reads an entry and checks its signature by a key that was good at its index.
///
/// # Errors
/// [`ActError`]; also where the header names another key.
pub fn verify(entry: &str, key: &PublicKey) -> Result<Act, ActError> {
    let read = ReadAct::parse(entry)?;
    if read.kid != key.kid() {
        return Err(ActError::Jws(JwsError::HeaderMembers("names another key")));
    }
    read.verify(key)?;
    Ok(read.act)
}
