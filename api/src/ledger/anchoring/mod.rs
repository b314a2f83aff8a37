//! Asks parties outside about checkpoints: witnesses (C2SP tlog-witness), which cosign what goes on
//! from what they saw, and a time-stamping authority (RFC 3161). Each is off unless it is named.
//!
//! Promises that what is kept was verified, and that an unreachable party delays nothing: it is
//! asked again, later and later, about the newest checkpoint. Refuses an answer that does not
//! verify.

mod settings;
pub(crate) mod store;

pub use settings::{Anchors, AnchorsError, TimeStampingAuthority, WitnessAt, roots, witnesses};

use super::proving::resolved;
use crate::{
    app::App,
    error::{Answer, ApiError, chain},
    ids,
};
use actix_web::web;
use awc::Client;
use domain::ledger::{
    Hash,
    note::{Note, VerifierKey},
    timestamp, tree,
    witness::add_checkpoint_body,
};
use std::{
    collections::HashMap,
    time::{Duration, Instant},
};
use store::{Said, Unanchored};

/// How often checkpoints are looked for that somebody was not asked about.
const TICK: Duration = Duration::from_secs(1);

/// How long a party may take to answer.
const PATIENCE: Duration = Duration::from_secs(10);

/// The longest wait before a party that failed is asked again.
const LONGEST_WAIT: Duration = Duration::from_secs(300);

/// The longest answer that is read, in bytes.
const LONGEST_ANSWER: usize = 65_536;

/// A party did not answer as it should.
#[derive(Debug, thiserror::Error)]
#[error("{party}: {why}")]
struct Unhelpful {
    party: String,
    why: String,
}

/// When a party is asked again about a log, and how long it was waited for.
type Waits = HashMap<(i32, String), (Instant, Duration)>;

/// Works until the process ends; ends at once where no party is named.
pub async fn anchor(app: web::Data<App>) {
    let anchors = &app.config.anchors;
    let parties: Vec<String> = anchors
        .witnesses
        .iter()
        .map(|witness| witness.key.to_string())
        .chain(anchors.authority.iter().map(|one| one.url.clone()))
        .collect();
    if parties.is_empty() {
        return;
    }
    let client = Client::builder().timeout(PATIENCE).finish();
    let mut waits = Waits::new();
    loop {
        tokio::time::sleep(TICK).await;
        if let Err(error) = pass(&app, &client, &parties, &mut waits).await {
            tracing::warn!(cause = chain(&error), "checkpoints could not be anchored");
        }
    }
}

async fn pass(app: &App, client: &Client, parties: &[String], waits: &mut Waits) -> Answer<()> {
    let unanchored = {
        let mut connection = app.db.sequencer().await?;
        store::unanchored(&mut connection, parties.to_vec()).await?
    };
    for one in unanchored {
        let place = (one.laboratory.number, one.party.clone());
        if waits
            .get(&place)
            .is_some_and(|(next, _)| *next > Instant::now())
        {
            continue;
        }
        match ask(app, client, &one).await {
            Ok(()) => {
                waits.remove(&place);
            }
            Err(error) => {
                let waited = waits.get(&place).map_or(TICK, |(_, waited)| *waited);
                let wait = waited.saturating_mul(2).min(LONGEST_WAIT);
                tracing::warn!(
                    party = one.party,
                    cause = chain(&error),
                    again_in_s = wait.as_secs(),
                    "a party outside did not help"
                );
                waits.insert(place, (Instant::now() + wait, wait));
            }
        }
    }
    Ok(())
}

async fn ask(app: &App, client: &Client, one: &Unanchored) -> Answer<()> {
    let anchors = &app.config.anchors;
    let witness = anchors
        .witnesses
        .iter()
        .find(|witness| witness.key.to_string() == one.party);
    if let Some(witness) = witness {
        return cosign(app, client, one, witness).await;
    }
    match &anchors.authority {
        Some(authority) if authority.url == one.party => stamp(app, client, one, authority).await,
        _ => Ok(()),
    }
}

async fn cosign(app: &App, client: &Client, one: &Unanchored, witness: &WitnessAt) -> Answer<()> {
    let mut old = one
        .last_size
        .and_then(|size| u64::try_from(size).ok())
        .unwrap_or(0);
    // It may have cosigned what we did not keep: then it says what it has, and is asked once more.
    for _ in 0..2 {
        let (checkpoint, proof) = consistent(app, one, old).await?;
        let url = format!("{}/add-checkpoint", witness.url);
        let body = add_checkpoint_body(old, &proof, &checkpoint);
        let (status, answer) = post(client, &url, "text/plain; charset=utf-8", body.into()).await?;
        let text = String::from_utf8_lossy(&answer).into_owned();
        match status {
            200 => {
                verify_cosignature(&witness.key, &checkpoint, &text)?;
                let said = Said {
                    kind: "cosignature",
                    content: text.as_bytes(),
                    query: None,
                };
                return keep(app, one, &said).await;
            }
            409 => {
                old = text
                    .trim_end()
                    .parse()
                    .map_err(|error| unhelpful(&url, format!("its size is none: {error}")))?;
            }
            other => return Err(unhelpful(&url, format!("status {other}: {}", cut(&text)))),
        }
    }
    Err(unhelpful(&witness.url, "it changes its mind".into()))
}

/// The checkpoint, and why it goes on from an older size that the witness saw.
async fn consistent(app: &App, one: &Unanchored, old: u64) -> Answer<(String, Vec<Hash>)> {
    let laboratory = &one.laboratory;
    let size = u64::try_from(one.size).map_err(ApiError::internal)?;
    let mut connection = app.db.begin_log(laboratory).await?;
    let found = async {
        let number = laboratory.number;
        let note = store::note(&mut connection, number, one.log_number, one.size).await?;
        if old == 0 || old >= size {
            return Ok((note, Vec::new()));
        }
        let parts = tree::consistency_parts(old, size).map_err(ApiError::internal)?;
        let proof = resolved(&mut connection, (number, one.log_number), size, &parts).await?;
        Ok((note, proof))
    }
    .await;
    app.db.end_log(connection, false).await?;
    found
}

/// Every line of the witness's key must verify, and one must be there.
fn verify_cosignature(key: &VerifierKey, checkpoint: &str, lines: &str) -> Answer<()> {
    let whole = format!("{checkpoint}{lines}");
    let note = Note::parse(&whole)
        .map_err(|error| unhelpful(key.name(), format!("its answer is no note: {error}")))?;
    note.verify(&[key]).map_err(|error| {
        unhelpful(
            key.name(),
            format!("its cosignature does not hold: {error}"),
        )
    })?;
    Ok(())
}

async fn stamp(
    app: &App,
    client: &Client,
    one: &Unanchored,
    authority: &TimeStampingAuthority,
) -> Answer<()> {
    let now = app.clock.now().utc();
    let since = one
        .last_at
        .map(|at| now.signed_duration_since(at).num_seconds());
    if since.is_some_and(|since| (0..i64::from(authority.interval_s)).contains(&since)) {
        return Ok(());
    }
    let (checkpoint, _) = consistent(app, one, 0).await?;
    let nonce = ids::random_bytes::<8>().map_err(ApiError::internal)?;
    let query = timestamp::query(checkpoint.as_bytes(), nonce).map_err(ApiError::internal)?;
    let kind = "application/timestamp-query";
    let (status, answer) = post(client, &authority.url, kind, query.clone()).await?;
    if status != 200 {
        return Err(unhelpful(&authority.url, format!("status {status}")));
    }
    timestamp::verify(&query, checkpoint.as_bytes(), &answer, &authority.roots)
        .map_err(|error| unhelpful(&authority.url, error.to_string()))?;
    let said = Said {
        kind: "time-stamp",
        content: &answer,
        query: Some(&query),
    };
    keep(app, one, &said).await
}

async fn keep(app: &App, one: &Unanchored, said: &Said<'_>) -> Answer<()> {
    let mut connection = app.db.begin_log(&one.laboratory).await?;
    let now = app.clock.now().utc();
    let kept = store::keep(&mut connection, one, said, now).await;
    app.db.end_log(connection, kept.is_ok()).await?;
    kept
}

async fn post(
    client: &Client,
    url: &str,
    media_type: &'static str,
    body: Vec<u8>,
) -> Answer<(u16, Vec<u8>)> {
    let mut answer = client
        .post(url)
        .insert_header(("Content-Type", media_type))
        .send_body(body)
        .await
        .map_err(|error| unhelpful(url, error.to_string()))?;
    let bytes = answer
        .body()
        .limit(LONGEST_ANSWER)
        .await
        .map_err(|error| unhelpful(url, error.to_string()))?;
    Ok((answer.status().as_u16(), bytes.to_vec()))
}

fn unhelpful(party: &str, why: String) -> ApiError {
    ApiError::Unavailable(
        Unhelpful {
            party: party.to_owned(),
            why,
        }
        .into(),
    )
}

/// The beginning of what a party said, without control characters.
fn cut(text: &str) -> String {
    text.chars()
        .filter(|one| !one.is_control())
        .take(200)
        .collect()
}
