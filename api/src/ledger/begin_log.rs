//! Begins the next log of a laboratory whose log could not be continued, by a recorded statement.
//!
//! Refuses where the log can go on: a log is left for no other reason.

use super::{NewRecord, append, origin, sequencing, store};
use crate::{
    app::App,
    db::{Created, Tx},
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, Lab},
    ids,
    request::{Data, Entered, Once, Valid},
};
use actix_web::{HttpResponse, post};
use domain::{
    faults::Faults,
    ledger::log::{EndedLog, Log},
};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// Why a log begins that follows one which could not be continued.
const NOT_CONTINUED: &str = "log-not-continued";

/// What happened to the log before.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct BeginLog {
    /// What happened, in words: which backup was put back, when, by whom, and what it lacks.
    #[schema(min_length = 20, max_length = 2000)]
    pub statement: String,
}

impl Entered for BeginLog {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        if !(20..=2000).contains(&self.statement.chars().count()) {
            faults.add(
                "/statement",
                "Say in 20 to 2,000 characters which backup was put back, when, by whom, and what \
                 it lacks.",
            );
        }
        faults.into_result()
    }
}

/// A log that was begun, as it is shown.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub(crate) struct LogView {
    /// The record that began it.
    pub id: Uuid,
    /// What was recorded.
    #[serde(flatten)]
    pub log: Log,
}

/// Begin the next log
///
/// For the one case that a log is behind what was signed of it, because the database was put back
/// to an older state: reads go on, writes are refused, until a quality manager states here what
/// happened. The old log is never continued; its origin, and size and root of its last checkpoint,
/// are recorded in the new one.
#[utoipa::path(tag = "records",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = BeginLog, example = json!({"statement": "The disk failed on 3 March; the backup of 2 March 22:00 was put back by the operator. Runs of 3 March are missing and will be entered again from the reader's export."})),
    responses((status = 201, body = LogView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/logs")]
pub(super) async fn begin_log(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<BeginLog>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::BeginLog, &lab)?;
    let id: Uuid = ids::fresh();
    let answer = app
        .db
        .create(&permit, &once, body.fingerprint(), async |tx| {
            tx.draft.because(NOT_CONTINUED, &body.statement);
            let log = begin_next(&app, tx, id).await?;
            Ok(Created {
                location: format!("/v1/laboratories/{}/records?subject={id}", lab.slug()),
                version: 1,
                view: LogView { id, log },
            })
        })
        .await?;
    // Whether the new log stands well is found out before the answer invites to write.
    sequencing::check_standing(&app.db).await?;
    Ok(answer)
}

/// Begins a laboratory's first log.
///
/// # Errors
/// [`ApiError::Unavailable`] or [`ApiError::Internal`].
pub async fn begin_first_log(tx: &mut Tx, public_url: &str) -> Answer<()> {
    let log = Log {
        number: 1,
        origin: origin::of(public_url, tx.laboratory().id, 1).to_string(),
        follows: None,
    };
    record(tx, ids::fresh(), &log).await
}

async fn begin_next(app: &App, tx: &mut Tx, id: Uuid) -> Answer<Log> {
    let before = store::lock_log(tx).await?;
    let known = app
        .db
        .standing()
        .last_signed
        .known(&before.origin)
        .map_err(ApiError::internal)?;
    let is_suspended = app.db.standing().check(tx.laboratory_id()).is_err();
    let (true, Some(signed)) = (is_suspended, known) else {
        return Err(ApiError::refused(
            "log-goes-on",
            "Refused: this laboratory's log can be continued. A new log begins only where the \
             database was put back to an older state.",
        ));
    };
    let number = before.number.checked_add(1);
    let number = number.ok_or_else(|| ApiError::internal("no number is left for another log"))?;
    let log = Log {
        number,
        origin: origin::of(&app.config.public_url, tx.laboratory().id, number.into()).to_string(),
        follows: Some(EndedLog {
            origin: before.origin,
            size: signed.size,
            root: signed.root,
            kept: before.size,
        }),
    };
    record(tx, id, &log).await?;
    Ok(log)
}

async fn record(tx: &mut Tx, id: Uuid, log: &Log) -> Answer<()> {
    store::insert_log(tx, id, log).await?;
    append(
        tx,
        NewRecord {
            kind: "log",
            schema: 1,
            subject: id,
            version: 1,
            content: serde_json::to_value(log).map_err(ApiError::internal)?,
            disclosed: &[],
        },
    );
    Ok(())
}
