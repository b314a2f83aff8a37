//! Signed notes, checkpoints, cosignatures, proof files and what witnesses are asked.

use crate::{File, Tally, from_hex, list, text};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use domain::ledger::checkpoint::{Checkpoint, ProofFile};
use domain::ledger::note::{self, KeyUse, Note, VerifierKey};
use domain::ledger::witness::add_checkpoint_body;
use domain::ledger::{Hash, SecretKey, tree};
use serde_json::Value;

pub(crate) fn run(file: &File<'_>, tally: &mut Tally) {
    for case in list(&file.json, "published_notes") {
        tally.case(
            "published_notes",
            text(case, "source").unwrap_or(""),
            || published(case),
        );
    }
    if let Some(case) = file.json.get("published_tree_text") {
        tally.case("published_tree_text", "text", || {
            let given = text(case, "text")?;
            let read = Checkpoint::parse(given).ok()?;
            let leaf = Hash::of_leaf(text(case, "leaf_input_utf8")?.as_bytes());
            Some(
                read.to_text() == given
                    && read.root == leaf
                    && STANDARD.encode(leaf.0) == text(case, "root_base64")?
                    && Some(read.size) == case.get("tree_size")?.as_u64(),
            )
        });
    }
    let golden = file.json.get("golden");
    if let Some(golden) = golden {
        run_golden(file, golden, tally);
    }
    let log_key =
        golden.and_then(|golden| VerifierKey::parse(text(golden.get("log")?, "vkey")?).ok());
    for case in list(&file.json, "note_cases") {
        tally.case("note_cases", text(case, "name").unwrap_or(""), || {
            let own = text(case, "vkey").and_then(|key| VerifierKey::parse(key).ok());
            let key = own.as_ref().or(log_key.as_ref())?;
            let accepted = Note::parse(text(case, "note")?).is_ok_and(|note| {
                note.verify(&[key]).is_ok() && Checkpoint::parse(note.text()).is_ok()
            });
            Some(accepted == case.get("accept")?.as_bool()?)
        });
    }
    for case in list(&file.json, "vkey_cases") {
        tally.case("vkey_cases", text(case, "vkey").unwrap_or(""), || {
            let accepted = VerifierKey::parse(text(case, "vkey")?).is_ok();
            Some(accepted == case.get("accept")?.as_bool()?)
        });
    }
}

fn secret(case: &Value) -> Option<SecretKey> {
    if let Some(seed) = text(case, "seed") {
        return Some(SecretKey::from_seed(&from_hex(seed)?.try_into().ok()?));
    }
    let encoded = text(case, "skey")?.splitn(5, '+').last()?;
    let bytes = STANDARD.decode(encoded).ok()?;
    Some(SecretKey::from_seed(bytes.get(1..)?.try_into().ok()?))
}

fn published(case: &Value) -> Option<bool> {
    let key = VerifierKey::parse(text(case, "vkey")?).ok()?;
    let given = text(case, "note")?;
    let note = Note::parse(given).ok()?;
    let verified = note.verify(&[&key]).is_ok() && key.to_string() == text(case, "vkey")?;
    let Some(secret) = secret(case) else {
        return Some(verified);
    };
    let line = note::signature_line(note.text(), key.name(), &secret).ok()?;
    Some(verified && given.contains(&line))
}

struct Golden {
    log_name: String,
    log: SecretKey,
    witness_name: String,
    witness: SecretKey,
}

impl Golden {
    fn key(&self, used_for: KeyUse) -> Option<VerifierKey> {
        let (name, secret) = match used_for {
            KeyUse::Note => (&self.log_name, &self.log),
            KeyUse::Cosignature => (&self.witness_name, &self.witness),
        };
        VerifierKey::new(name, used_for, secret.public().clone()).ok()
    }

    /// Whether a note is signed by log and witness.
    fn verifies(&self, note: &str) -> Option<bool> {
        let keys = [self.key(KeyUse::Note)?, self.key(KeyUse::Cosignature)?];
        let keys: Vec<&VerifierKey> = keys.iter().collect();
        Some(Note::parse(note).ok()?.verify(&keys).ok()?.len() == 2)
    }
}

fn run_golden(file: &File<'_>, golden: &Value, tally: &mut Tally) {
    let read = || {
        let (log, witness) = (golden.get("log")?, golden.get("witness")?);
        Some(Golden {
            log_name: text(log, "origin")
                .or_else(|| text(log, "name"))?
                .to_owned(),
            log: secret(log)?,
            witness_name: text(witness, "name")?.to_owned(),
            witness: secret(witness)?,
        })
    };
    let Some(keys) = read() else { return };
    for (name, used_for) in [("log", KeyUse::Note), ("witness", KeyUse::Cosignature)] {
        tally.case("golden: keys", name, || {
            let given = text(golden.get(name)?, "vkey")?;
            Some(keys.key(used_for)?.to_string() == given)
        });
    }
    let leaves = leaves(file, golden);
    for case in list(golden, "checkpoints") {
        let name = format!("{:?}", case.get("tree_size"));
        tally.case("golden: checkpoints", &name, || {
            checkpoint(&keys, case, &leaves)
        });
    }
    for case in list(golden, "tlog_proofs") {
        let name = text(case, "leaf_hash").unwrap_or("");
        tally.case("golden: tlog_proofs", name, || proof(&keys, case, &leaves));
    }
    for case in list(golden, "witness_requests") {
        let name = format!("{:?}", case.get("new_size"));
        tally.case("golden: witness_requests", &name, || {
            request(&keys, golden, case)
        });
    }
}

/// The log's leaves, where the file says that they are those of another.
fn leaves(file: &File<'_>, golden: &Value) -> Vec<Hash> {
    let named = text(golden, "leaves").unwrap_or("");
    let other = named
        .split_whitespace()
        .find(|word| word.contains(".json"))
        .and_then(|name| file.beside(name.trim_end_matches('.')));
    let inputs = other
        .as_ref()
        .map(|json| list(json, "leaf_inputs"))
        .unwrap_or_default();
    inputs
        .iter()
        .filter_map(|input| from_hex(input.as_str()?))
        .map(|input| Hash::of_leaf(&input))
        .collect()
}

fn checkpoint(keys: &Golden, case: &Value, leaves: &[Hash]) -> Option<bool> {
    let size = case.get("tree_size")?.as_u64()?;
    let root: Hash = text(case, "root")?.parse().ok()?;
    let made = Checkpoint {
        origin: keys.log_name.clone(),
        size,
        root,
        extensions: vec![],
    };
    let signed = made.sign(&keys.log).ok()?;
    let mut holds = made.to_text() == text(case, "text")?
        && signed == text(case, "checkpoint")?
        && Checkpoint::parse(text(case, "text")?).ok()? == made
        && leaves
            .get(..usize::try_from(size).ok()?)
            .is_none_or(|leaves| tree::root(leaves) == root);
    if let Some(cosigned) = text(case, "cosigned_checkpoint") {
        let time = case.get("cosignature_time")?.as_u64()?;
        let (name, secret) = (&keys.witness_name, &keys.witness);
        let line = note::cosignature_line(&made.to_text(), time, name, secret).ok()?;
        let message = note::cosigned_message(&made.to_text(), time);
        holds &= signed + &line == cosigned
            && keys.verifies(cosigned)?
            && text(case, "cosigned_message_sha256")
                .is_none_or(|digest| Hash::of(message.as_bytes()).to_string() == digest);
    }
    Some(holds)
}

fn proof(keys: &Golden, case: &Value, leaves: &[Hash]) -> Option<bool> {
    let given = text(case, "tlog_proof")?;
    let read = ProofFile::parse(given).ok()?;
    let leaf = Hash::of_leaf(&from_hex(text(case, "leaf_input")?)?);
    let note = Note::parse(&read.checkpoint).ok()?;
    let checkpoint = Checkpoint::parse(note.text()).ok()?;
    let (size, root) = (checkpoint.size, checkpoint.root);
    let made = leaves
        .get(..usize::try_from(size).ok()?)
        .and_then(|leaves| tree::inclusion_proof(leaves, usize::try_from(read.index).ok()?).ok());
    Some(
        read.to_text() == given
            && leaf.to_string() == text(case, "leaf_hash")?
            && tree::verify_inclusion(read.index, size, &leaf, &read.hashes, &root).is_ok()
            && made.is_none_or(|made| made == read.hashes)
            && keys.verifies(&read.checkpoint)?,
    )
}

fn request(keys: &Golden, golden: &Value, case: &Value) -> Option<bool> {
    let body = text(case, "body")?;
    let (head, checkpoint) = body.split_once("\n\n")?;
    let mut lines = head.lines();
    let old: u64 = lines.next()?.strip_prefix("old ")?.parse().ok()?;
    let proof: Vec<Hash> = lines
        .map(|line| Hash::from_slice(&STANDARD.decode(line).ok()?).ok())
        .collect::<Option<_>>()?;
    let new = Checkpoint::parse(Note::parse(checkpoint).ok()?.text()).ok()?;
    let root_of = |size: u64| {
        list(golden, "checkpoints")
            .iter()
            .find(|case| case.get("tree_size").and_then(Value::as_u64) == Some(size))
            .and_then(|case| text(case, "root")?.parse().ok())
    };
    let consistent = if old == 0 {
        proof.is_empty()
    } else {
        root_of(old).is_none_or(|before| {
            tree::verify_consistency(old, new.size, &before, &new.root, &proof).is_ok()
        })
    };
    let answered = format!("{checkpoint}{}", text(case, "response_200")?);
    Some(
        add_checkpoint_body(old, &proof, checkpoint) == body
            && Some(old) == case.get("old_size")?.as_u64()
            && Some(new.size) == case.get("new_size")?.as_u64()
            && consistent
            && keys.verifies(&answered)?,
    )
}
