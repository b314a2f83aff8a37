//! Shows the proof that a record is in the log, as JSON and as the standard's file.

use super::{EntryProof, ProofDue, due, prove, store, wire::ProofView};
use crate::{
    db::Tx,
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, Lab, Permit},
    ledger::Place,
    request::{Data, Wait},
};
use actix_web::{
    HttpResponse, get,
    http::header::{self, ContentDisposition, DispositionParam, DispositionType},
    web,
};
use domain::ledger::{Hash, act::ReadAct, tree};
use uuid::Uuid;

/// Show the proof of a record
///
/// That the record is in its act, and the act in the log under the newest checkpoint. Right after
/// the record was made its proof is due: 202, or wait with `Prefer: wait=N` (at most 10 s).
#[utoipa::path(tag = "log",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("subject" = Uuid, Path, description = "Subject"), ("version" = i32, Path, description = "Version, from 1"),
        ("Prefer" = Option<String>, Header, description = "wait=N: wait so many seconds for the checkpoint")),
    responses((status = 200, body = ProofView), (status = 202, description = "No checkpoint covers it yet", body = ProofDue),
        (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/records/{subject}/{version}/proof")]
pub(super) async fn show_proof(
    actor: Actor,
    lab: Lab,
    path: web::Path<(String, Uuid, i32)>,
    wait: Wait,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadRecords, &lab)?;
    let found = find(&app, &permit, &path, wait).await?;
    let view = found.map(|found| {
        let record = (path.1, path.2);
        ProofView::of(record, (found.act, found.hash), found.place, &found.proof)
    });
    Ok(wait.applied(view.map_or_else(due, |view| HttpResponse::Ok().json(view))))
}

/// Show the proof of a record's act as a file
///
/// The standard's text (C2SP tlog-proof) for the act: entry, path, checkpoint. What the record's
/// path in the act is, `/proof` says.
#[utoipa::path(tag = "log",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("subject" = Uuid, Path, description = "Subject"), ("version" = i32, Path, description = "Version, from 1"),
        ("Prefer" = Option<String>, Header, description = "wait=N: wait so many seconds for the checkpoint")),
    responses((status = 200, description = "The proof", content_type = "text/plain", body = String),
        (status = 202, description = "No checkpoint covers it yet", body = ProofDue),
        (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/records/{subject}/{version}/entry.tlog-proof")]
pub(super) async fn show_proof_file(
    actor: Actor,
    lab: Lab,
    path: web::Path<(String, Uuid, i32)>,
    wait: Wait,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadRecords, &lab)?;
    let Some(found) = find(&app, &permit, &path, wait).await? else {
        return Ok(wait.applied(due()));
    };
    let name = format!("{}-{}.tlog-proof", path.1, path.2);
    let answer = HttpResponse::Ok()
        .content_type("text/plain; charset=utf-8")
        .insert_header((
            header::CONTENT_DISPOSITION,
            ContentDisposition {
                disposition: DispositionType::Inline,
                parameters: vec![DispositionParam::Filename(name)],
            },
        ))
        .body(found.proof.file());
    Ok(wait.applied(answer))
}

struct Found {
    act: Uuid,
    hash: Hash,
    place: Place,
    proof: EntryProof,
}

async fn find(
    app: &Data,
    permit: &Permit,
    path: &(String, Uuid, i32),
    wait: Wait,
) -> Answer<Option<Found>> {
    let (_, subject, version) = *path;
    wait.until(0, async || {
        app.db
            .read(permit, async |tx| look(tx, subject, version).await)
            .await
    })
    .await
}

async fn look(tx: &mut Tx, subject: Uuid, version: i32) -> Answer<Option<Found>> {
    let recorded = store::recorded(tx, subject, version)
        .await?
        .ok_or_else(|| ApiError::missing("record", format!("{subject} version {version}")))?;
    let Some(covered) = recorded.covered else {
        return Ok(None);
    };
    let laboratory = tx.laboratory_id();
    let proof = prove(tx.connection(), laboratory, covered, &recorded.entry).await?;
    let (act, hash) = (recorded.act, recorded.hash);
    let place = Place::of(recorded.entry, recorded.records, recorded.position)?;
    leads_to_the_act(&place, &hash).map_err(|fault| {
        ApiError::internal(format!(
            "what is stored of {subject} version {version} does not lead to act {act}: {fault}"
        ))
    })?;
    Ok(Some(Found {
        act,
        hash,
        place,
        proof,
    }))
}

/// Checks the record and its path against the signed act.
fn leads_to_the_act(place: &Place, hash: &Hash) -> Result<(), String> {
    let act = ReadAct::parse(&place.entry)
        .map_err(|fault| fault.to_string())?
        .act;
    let path: Result<Vec<Hash>, _> = place.path.iter().map(|one| one.parse()).collect();
    let path = path.map_err(|_no_hash| "its path is no list of hashes".to_owned())?;
    if Hash::of_leaf(place.record.as_bytes()) != *hash {
        return Err("its hash is another one".to_owned());
    }
    tree::verify_inclusion(place.position, act.records, hash, &path, &act.root)
        .map_err(|fault| fault.to_string())
}
