//! Proposes a limit of a contract, of the intake, or of a law that is not shipped.
//!
//! Refuses a code that a limit has, shipped ones included, and goods or uses that the vocabulary
//! does not have. A proposed limit decides nothing before it is adopted.

use super::{Standing, shipped, store, wire::LimitView};
use crate::{
    db::{Created, Tx},
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, Lab},
    ids,
    kept::Kept,
    request::{Data, Entered, Once, Valid},
    vocabulary,
};
use actix_web::{HttpResponse, post};
use domain::{
    faults::Faults,
    limits::{Authority, LimitEntry},
};
use uuid::Uuid;

impl Entered for LimitEntry {
    fn check(&self) -> Result<(), Faults> {
        match vocabulary::shipped() {
            Ok(words) => LimitEntry::check(self, words),
            Err(fault) => {
                let mut faults = Faults::default();
                faults.add("/scopes", format!("There is no vocabulary: {fault}"));
                faults.into_result()
            }
        }
    }
}

/// Refuses parties and sites that the laboratory does not have.
pub(super) async fn check_references(tx: &mut Tx, entry: &LimitEntry, at: &str) -> Answer<()> {
    let missing = "There is nothing with this id in this laboratory. Look it up in the list.";
    let mut faults = Faults::default();
    match &entry.authority {
        Authority::Law { .. } | Authority::Intake { site: None } => {}
        Authority::Contract { parties, .. } => {
            let asked: Vec<Uuid> = parties.iter().map(|party| party.0).collect();
            for place in store::unknown_customers(tx, &asked).await? {
                faults.add(format!("{at}/authority/parties/{place}"), missing);
            }
        }
        Authority::Intake { site: Some(site) } => {
            let known = store::has_site(tx, site.0).await?;
            faults.require(known, format!("{at}/authority/site"), || missing.into());
        }
    }
    Ok(faults.into_result()?)
}

/// Propose limit
///
/// A contract names its parties (customers); the intake's own level may name one site. It decides
/// nothing until it is adopted.
#[utoipa::path(tag = "limits",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = LimitEntry, example = json!({
        "code": "intake-wheat-don", "authority": {"kind": "intake"}, "analyte": "deoxynivalenol",
        "commodity": "wheat", "intended_use": "flour milling", "value": "900", "basis": "as-is",
        "comparison": "exceeds", "effective_from": "2026-08-01", "source": "Intake rules 7, section 4",
        "scopes": [{"commodities": ["wheat-grain"], "uses": ["food"]}]})),
    responses((status = 201, body = LimitView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/limits")]
pub(super) async fn propose_limit(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<LimitEntry>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ProposeLimit, &lab)?;
    let id: Uuid = ids::fresh();
    app.db
        .create(&permit, &once, body.fingerprint(), async |tx| {
            if shipped()?.iter().any(|limit| limit.id == body.code) {
                return Err(ApiError::Duplicate(format!(
                    "The limit {} comes with the program. Adopt it, or choose another code.",
                    body.code
                )));
            }
            tx.change_reference().await?;
            check_references(tx, &body, "").await?;
            let kept = Kept::first(tx, id, (*body).clone().into_limit());
            store::insert(tx, &kept).await?;
            let standing = Standing::kept(kept);
            Ok(Created {
                location: format!("/v1/laboratories/{}/limits/{id}", lab.slug()),
                version: standing.version(),
                view: LimitView::from(&standing),
            })
        })
        .await
}
