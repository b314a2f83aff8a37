//! Withdraws a key: the entry that does so is the last it is good for.
//!
//! Refuses a key that is withdrawn, and the only one that signs, unless it is compromised: then its
//! successor is announced in the same act. Waits, for a moment, until what it signed has entries.

use super::wire::KeyView;
use crate::{
    db::Tx,
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, InLab},
    ids,
    ledger::{NewRecord, append, keyring, store},
    request::{Data, Entered, Once, Seen, Valid},
};
use actix_web::{HttpResponse, post};
use domain::{
    entries,
    faults::Faults,
    id::KeyId,
    ledger::{
        PublicKey,
        rotation::{SignsWhat, WithdrawalCode, key_content},
    },
};
use serde::Deserialize;
use std::time::Duration;

/// How often, and how long after each other, it is looked whether something the key signed still
/// waits for its entry: five seconds together.
const LOOKS: u32 = 50;
const BETWEEN_LOOKS: Duration = Duration::from_millis(100);

/// Why a key is withdrawn.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct WithdrawKey {
    /// Why.
    pub reason: WithdrawalReason,
}

/// Why a key is withdrawn.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct WithdrawalReason {
    /// The kind of reason; `key-compromised` withdraws at once.
    pub code: WithdrawalCode,
    /// The reason in words.
    #[schema(example = "The yearly change.")]
    pub text: String,
}

impl Entered for WithdrawKey {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        let text = &self.reason.text;
        entries::text(&mut faults, "/reason/text", text, entries::TEXT_LENGTH);
        faults.into_result()
    }
}

/// Withdraw key
///
/// The key is good up to and including the entry of this act: what it signed before stands, by the
/// indexes of the log and not by claimed times. A compromised key goes at once, its successor being
/// announced in the same act where there is none.
#[utoipa::path(tag = "records",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = KeyId, Path, description = "Key"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = WithdrawKey, example = json!({"reason": {"code": "key-rotation", "text": "The yearly change."}})),
    responses((status = 200, body = KeyView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/keys/{id}/withdrawal")]
pub(super) async fn withdraw_key(
    actor: Actor,
    key: InLab<KeyId>,
    once: Once,
    seen: Seen,
    body: Valid<WithdrawKey>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::WithdrawKey, key.lab())?;
    let id = key.id();
    let successor: KeyId = ids::fresh();
    app.db
        .act(&permit, &once, body.fingerprint(), async |tx| {
            // Nobody signs from here on until this transaction ends; whoever did has committed.
            tx.hold_keys_alone().await?;
            let row = store::keys::lock(tx, id.0).await?;
            seen.must_be(row.version)?;
            if row.retired {
                return Err(ApiError::refused(
                    "key-withdrawn",
                    "Refused: the key was withdrawn already.",
                ));
            }
            if !store::keys::another_signs(tx, id.0, row.signs_what()).await? {
                if !body.reason.code.is_urgent() {
                    return Err(only_key());
                }
                let begins = store::keys::Begins::AtOnce;
                keyring::announce(tx, app.db.keyring(), successor, row.signs_what(), begins)
                    .await?;
            }
            if row.signs_what() == SignsWhat::Record {
                wait_for_entries(tx, &row.thumbprint).await?;
            }
            tx.draft.because(body.reason.code.name(), &body.reason.text);
            withdraw(tx, &row).await?;
            let after = store::keys::lock(tx, id.0).await?;
            Ok((after.version, KeyView::of(after)?))
        })
        .await
}

fn only_key() -> ApiError {
    ApiError::refused(
        "only-signing-key",
        "Refused: no other key signs yet. Announce one, wait until it has a first entry, then \
         withdraw this one.",
    )
}

/// Everything that the key signed gets its entry before the one that withdraws it. The sequencer
/// goes on meanwhile: it signs nothing with a record key.
async fn wait_for_entries(tx: &mut Tx, kid: &str) -> Answer<()> {
    for _ in 0..LOOKS {
        if !store::keys::has_pending(tx, kid).await? {
            return Ok(());
        }
        crate::ledger::wake();
        tokio::time::sleep(BETWEEN_LOOKS).await;
    }
    Err(ApiError::refused(
        "key-still-needed",
        "Refused: acts that the key signed have no entry in the log yet. Try again in a moment; \
         where that does not help, look at /health.",
    ))
}

async fn withdraw(tx: &mut Tx, row: &store::keys::KeyRow) -> Answer<()> {
    let public = PublicKey::from_bytes(&row.public_key).map_err(ApiError::internal)?;
    let version = row.version.saturating_add(1);
    let act = tx.draft.act_id();
    store::keys::withdraw(tx, row.key_id, version, act.0).await?;
    append(
        tx,
        NewRecord {
            kind: "key",
            schema: 1,
            subject: row.key_id,
            version,
            content: key_content(&public, row.signs_what()),
            disclosed: &[],
        },
    );
    Ok(())
}
