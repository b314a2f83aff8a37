//! The single checks of a bundle: each finds what holds, in words, or what does not.

use super::super::act::ReadAct;
use super::super::bundle::Bundle;
use super::super::certificate::ReadCertificate;
use super::super::checkpoint::{Checkpoint, ProofFile};
use super::super::hash::Hash;
use super::super::note::{Note, VerifierKey};
use super::super::record::Record;
use super::super::tree;
use super::super::trust::{Trust, TrustedKey};
use super::{RECORD_SCHEMA, explain};
use serde_json::Value;

/// A proof file with its checkpoint taken apart.
pub(super) struct Logged<'a> {
    pub(super) index: u64,
    pub(super) hashes: &'a [Hash],
    pub(super) note: Note<'a>,
    pub(super) checkpoint: Checkpoint,
}

impl<'a> Logged<'a> {
    pub(super) fn read(proof: &'a ProofFile) -> Result<Self, String> {
        let note = Note::parse(&proof.checkpoint).map_err(|error| explain(&error))?;
        let checkpoint = Checkpoint::parse(note.text()).map_err(|error| explain(&error))?;
        Ok(Self {
            index: proof.index,
            hashes: &proof.hashes,
            note,
            checkpoint,
        })
    }
}

pub(super) fn describe(certificate: &ReadCertificate<'_>) -> String {
    let mut text = format!(
        "certificate {}: {} disclosures left",
        certificate.number,
        certificate.disclosures.len()
    );
    if !certificate.missing.is_empty() {
        text.push_str(", erased or withheld: ");
        text.push_str(&certificate.missing.join(", "));
    }
    text
}

/// Check 2: the record is that of this certificate.
pub(super) fn check_record(
    record: &Record,
    certificate: Option<&ReadCertificate<'_>>,
) -> Result<String, String> {
    if record.kind != "certificate" {
        return Err(format!(
            "the record is of kind {}, not certificate",
            record.kind
        ));
    }
    if record.schema != RECORD_SCHEMA {
        return Err("the record's schema is not known".to_owned());
    }
    let content = |name: &str| record.content.get(name).and_then(Value::as_str);
    let (Some(jws), Some(number)) = (content("jws"), content("number")) else {
        return Err("the record does not name the certificate's JWS and number".to_owned());
    };
    let Some(certificate) = certificate else {
        return Err("there is no certificate that the record could be compared with".to_owned());
    };
    if jws != certificate.jws_hash().to_string() {
        return Err("the record is of another JWS".to_owned());
    }
    if number != certificate.number {
        return Err("the record has another number than the certificate".to_owned());
    }
    if record.subject != certificate.id.0 {
        return Err("the record's subject is not the certificate's jti".to_owned());
    }
    Ok(format!(
        "the record, version {}, is of this certificate",
        record.version
    ))
}

/// Check 3: the record is in the act.
pub(super) fn check_act(
    bundle: &Bundle,
    act: &ReadAct<'_>,
    record: Option<&Record>,
    certificate: Option<&ReadCertificate<'_>>,
) -> Result<String, String> {
    let Some(record) = record else {
        return Err("there is no record that could be looked for in the act".to_owned());
    };
    if act.act.id != record.act {
        return Err("the record names another act".to_owned());
    }
    let seconds = act.act.time.utc().timestamp();
    if let Some(certificate) = certificate
        && i64::try_from(certificate.issued_at) != Ok(seconds)
    {
        return Err("the certificate's time is not the act's".to_owned());
    }
    let path: Result<Vec<Hash>, _> = bundle.act_path.iter().map(|text| text.parse()).collect();
    let path = path.map_err(|error| explain(&error))?;
    let (position, records) = (bundle.position, act.act.records);
    tree::verify_inclusion(position, records, &record.hash, &path, &act.act.root)
        .map_err(|error| format!("the record is not in the act: {error}"))?;
    Ok(format!(
        "the record is number {} of {records} in act {} ({})",
        position + 1,
        act.act.id,
        act.act.action
    ))
}

/// Check 5: the entry is in the checkpoint's tree.
pub(super) fn check_entry(
    entry: &str,
    logged: &Logged<'_>,
    trust: Option<&Trust>,
) -> Result<String, String> {
    let leaf = Hash::of_leaf(entry.as_bytes());
    let Checkpoint {
        size, root, origin, ..
    } = &logged.checkpoint;
    tree::verify_inclusion(logged.index, *size, &leaf, logged.hashes, root)
        .map_err(|error| format!("the entry is not under the checkpoint: {error}"))?;
    let ends = trust.into_iter().flat_map(|trust| trust.logs_of(origin));
    for (end, end_root) in ends.filter_map(|log| log.end) {
        if logged.index >= end {
            return Err(format!("the log ended at size {end}, before this entry"));
        }
        if *size == end && *root != end_root {
            return Err("the checkpoint has another root than the log had at its end".to_owned());
        }
    }
    Ok(format!(
        "entry {} is under checkpoint {size} of {origin}",
        logged.index
    ))
}

/// Check 6: the checkpoint is signed by a key of its log, and witnessed where that is asked.
pub(super) fn check_checkpoint(logged: &Logged<'_>, trust: &Trust) -> Result<String, String> {
    let logs = trust.logs_of(&logged.checkpoint.origin);
    let keys: Vec<&VerifierKey> = logs.iter().map(|log| &log.key).collect();
    logged.note.verify(&keys).map_err(|error| explain(&error))?;
    let Some(policy) = &trust.witnesses else {
        return Ok("the checkpoint is signed by its log; no witness is asked for".to_owned());
    };
    if policy
        .is_met(&logged.note)
        .map_err(|error| explain(&error))?
    {
        Ok("the checkpoint is signed by its log and by the witnesses asked for".to_owned())
    } else {
        Err("the checkpoint lacks witnesses that are asked for".to_owned())
    }
}

/// The key of this name that is good where the act was logged, or in use where it was not yet.
pub(super) fn good_key<'t>(
    trust: &'t Trust,
    kid: &str,
    logged: Option<&Logged<'_>>,
) -> Result<&'t TrustedKey, String> {
    let Some(logged) = logged else {
        return trust.key_in_use(kid).ok_or_else(|| {
            let withdrawn = trust.keys.iter().any(|key| key.kid == kid);
            if withdrawn {
                "the key was withdrawn, and nothing shows that this was logged before".to_owned()
            } else {
                "no key of this name is in use, and nothing is logged".to_owned()
            }
        });
    };
    let index = logged.index;
    let logs = trust.logs_of(&logged.checkpoint.origin);
    let good = logs
        .iter()
        .find_map(|log| trust.key_at(kid, log.number, index));
    good.ok_or_else(|| {
        let other = trust
            .keys
            .iter()
            .find(|key| key.kid == kid && logs.iter().any(|log| log.number == key.log));
        match other {
            Some(key) => format!("the key is good {}, not for entry {index}", entries(key)),
            None => format!("no key of this name is good at entry {index} of this log"),
        }
    })
}

/// For which entries a key is good.
fn entries(key: &TrustedKey) -> String {
    match key.until_entry {
        Some(until) => format!(
            "for entries {} to {}",
            key.from_entry,
            until.saturating_sub(1)
        ),
        None => format!("from entry {} on", key.from_entry),
    }
}

/// What is to be said of a key whose signature holds: nothing, while it is in use.
pub(super) fn standing(key: &TrustedKey) -> String {
    if key.until_entry.is_none() {
        return String::new();
    }
    format!(
        ", which was withdrawn since; it is good {}, so that this stands",
        entries(key)
    )
}

pub(super) fn signed(
    what: &str,
    kid: &str,
    found: Result<String, String>,
) -> Result<String, String> {
    match found {
        Ok(standing) => Ok(format!("the {what} is signed by key {kid}{standing}")),
        Err(problem) => Err(format!("the {what}, key {kid}: {problem}")),
    }
}
