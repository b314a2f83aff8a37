//! The read model is disposable: what every table but the ledger's says can be had again from the
//! records. `assize rebuild --check` builds it beside the live tables and compares.
//!
//! Promises that every row and column of the read model is compared, but for those that
//! [`tables`](TABLES) names with a reason, and that the live tables are not touched: everything
//! happens in one transaction that is undone. Refuses records of a kind that it cannot replay.

mod acts;
mod erased;
mod kinds;
mod report;
mod store;
mod tables;

pub use kinds::kinds;
pub use report::{Checked, Drift, Fault};
pub use tables::{Part, TABLES, Table};

use crate::{
    certificates,
    db::{Tx, undone},
    error::{Answer, ApiError},
    identity::LaboratoryKey,
    imports, ledger,
};
use acts::{Page, newest};
use erased::Erased;
use kinds::{Rows, rows_of};

/// Checks one laboratory, or all, logging in as the owner of the tables.
///
/// # Errors
/// [`ApiError::NotFound`] where there is no laboratory of that name, [`ApiError::Unavailable`],
/// and [`ApiError::Internal`] where records cannot be read.
pub async fn check(owner_url: &str, only: Option<&str>) -> Answer<Vec<Checked>> {
    let mut laboratories = store::laboratories(owner_url).await?;
    if let Some(slug) = only {
        laboratories.retain(|laboratory| laboratory.slug == slug);
        if laboratories.is_empty() {
            return Err(ApiError::NotFound(format!(
                "There is no laboratory \"{slug}\" here."
            )));
        }
    }
    let mut checked = Vec::with_capacity(laboratories.len());
    for laboratory in laboratories {
        checked.push(check_one(owner_url, laboratory).await?);
    }
    Ok(checked)
}

async fn check_one(owner_url: &str, laboratory: LaboratoryKey) -> Answer<Checked> {
    undone(owner_url, laboratory, async |tx: &mut Tx| {
        let mut checked = Checked {
            laboratory: tx.laboratory().slug.clone(),
            ..Checked::default()
        };
        let scratch = store::make_scratch(tx).await?;
        replay(tx, &mut checked).await?;
        complete(tx, &mut checked).await?;
        for subject in store::with_gaps(tx).await? {
            let why = "the versions among the records are not 1, 2, 3 …";
            checked
                .drifts
                .push(Drift::records(subject.to_string(), why));
        }
        store::comparing::compare(tx, &scratch, &mut checked).await?;
        Ok(checked)
    })
    .await
}

/// Replays the acts in the order of the log, some at a time.
async fn replay(tx: &mut Tx, checked: &mut Checked) -> Answer<()> {
    let mut erased = Erased::default();
    for act in store::erasing_acts(tx).await? {
        erased.add(&act)?;
    }
    store::open_acts(tx).await?;
    loop {
        let acts = store::next_acts(tx).await?;
        if acts.is_empty() {
            return Ok(());
        }
        let mut left = store::disclosures_of(tx, &acts).await?;
        let mut page = Page::default();
        for act in acts {
            checked.acts = checked.acts.saturating_add(1);
            let left = left.remove(&act.act_id).unwrap_or_default();
            page.add(&act, &left, &erased)?;
        }
        let records = u64::try_from(page.places.len()).unwrap_or(u64::MAX);
        checked.records = checked.records.saturating_add(records);
        checked.drifts.append(&mut page.drifts);
        for twice in ledger::replay_versions(tx, &page.places).await? {
            let subject = format!("{} {}", twice.subject, twice.version);
            let why = "the version stands in two acts";
            checked.drifts.push(Drift::records(subject, why));
        }
        for (kind, versions) in page.versions {
            match rows_of(&kind)? {
                Rows::Newest(replay) => replay(tx, newest(versions)).await?,
                Rows::Every(replay) => replay(tx, versions).await?,
                Rows::None => {}
            }
        }
    }
}

/// Adds what no single record tells.
async fn complete(tx: &mut Tx, checked: &mut Checked) -> Answer<()> {
    for import in imports::rebuild(tx).await? {
        if import.is_another {
            let drift = Drift::differs("imports_upload", import.digest, vec!["bytes".to_owned()]);
            checked.drifts.push(drift);
        } else {
            checked.notes.push(format!(
                "an upload or a mended row of import {} was erased: by what exports identify its \
                 runs, and what their readings said, was taken over as it stands",
                import.import
            ));
        }
    }
    certificates::replay_counter(tx).await?;
    certificates::replay_documents(tx).await
}
