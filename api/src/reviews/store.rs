//! All SQL of reviews, and what a signature reads of results, runs and holds.

use super::{list_reviews::ReviewFilter, review_results::Facts};
use crate::{
    holds,
    kept::Subject,
    request::Page,
    schema::{results_result, reviews_result as signed, runs_run, samples_sample},
};
use chrono::{DateTime, Utc};
use diesel::{
    QueryableByName,
    sql_types::{Array, Integer, Nullable, Uuid as SqlUuid},
};
use domain::{
    id::AccountId,
    results::ResultVersion,
    reviews::{DISCLOSED, Meaning, Review},
};
use std::collections::HashMap;
use uuid::Uuid;

impl Subject for Review {
    const KIND: &'static str = "review";
    const DISCLOSED: &'static [&'static str] = DISCLOSED;

    fn state(&self) -> &'static str {
        match self.meaning {
            Meaning::Release => "release",
            Meaning::Return => "return",
        }
    }
}

crate::keep_rows! {
    table: reviews_review,
    key: review_id,
    content: Review,
    called: "review",
    columns: { reviewer_id: Uuid = |review| review.reviewer.0 }
}

/// Notes which results the review signed, in which version.
pub(super) async fn insert_results(tx: &mut Tx, review: &Kept<Review>) -> Answer<()> {
    let laboratory = tx.laboratory_id();
    let mut rows = Vec::with_capacity(review.content.results.len());
    for one in &review.content.results {
        rows.push((
            signed::laboratory_id.eq(laboratory),
            signed::result_id.eq(one.result.0),
            signed::review_id.eq(review.id),
            signed::result_version.eq(i32::try_from(one.version).map_err(ApiError::internal)?),
        ));
    }
    diesel::insert_into(signed::table)
        .values(rows)
        .execute(tx.connection())
        .await?;
    Ok(())
}

/// Stores reviews as records tell them, with what they signed. A review has one version.
pub(crate) async fn replay_with_results(tx: &mut Tx, reviews: &[Kept<Review>]) -> Answer<()> {
    replay(tx, reviews).await?;
    for review in reviews {
        insert_results(tx, review).await?;
    }
    Ok(())
}

/// A page of reviews, newest first.
pub(super) async fn list(
    tx: &mut Tx,
    page: &Page,
    filter: &ReviewFilter,
) -> Answer<Vec<Kept<Review>>> {
    let laboratory = tx.laboratory_id();
    let mut query = dsl::reviews_review
        .filter(dsl::laboratory_id.eq(laboratory))
        .filter(dsl::review_id.lt(page.after.unwrap_or(Uuid::max())))
        .order(dsl::review_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .into_boxed();
    if let Some(reviewer) = filter.reviewer {
        query = query.filter(dsl::reviewer_id.eq(reviewer));
    }
    if let Some(meaning) = filter.meaning {
        query = query.filter(dsl::state.eq(match meaning {
            Meaning::Release => "release",
            Meaning::Return => "return",
        }));
    }
    if let Some(result) = filter.result {
        query = query.filter(
            dsl::review_id.eq_any(
                signed::table
                    .filter(signed::laboratory_id.eq(laboratory))
                    .filter(signed::result_id.eq(result))
                    .select(signed::review_id),
            ),
        );
    }
    let rows: Vec<Row> = query.load(tx.connection()).await?;
    rows.into_iter().map(Row::kept).collect()
}

/// Locks the samples of some results, in the order of their ids, and names them.
pub(crate) async fn lock_samples_of(tx: &mut Tx, results: &[Uuid]) -> Answer<Vec<Uuid>> {
    let laboratory = tx.laboratory_id();
    Ok(samples_sample::table
        .filter(samples_sample::laboratory_id.eq(laboratory))
        .filter(
            samples_sample::sample_id.eq_any(
                results_result::table
                    .filter(results_result::laboratory_id.eq(laboratory))
                    .filter(results_result::result_id.eq_any(results))
                    .select(results_result::sample_id),
            ),
        )
        .order(samples_sample::sample_id)
        .select(samples_sample::sample_id)
        .for_update()
        .load(tx.connection())
        .await?)
}

/// The newest versions of some results, in the order of their ids.
pub(crate) async fn results(tx: &mut Tx, ids: &[Uuid]) -> Answer<Vec<Kept<ResultVersion>>> {
    type Found = (Uuid, i32, serde_json::Value, DateTime<Utc>, DateTime<Utc>);
    let rows: Vec<Found> = results_result::table
        .filter(results_result::laboratory_id.eq(tx.laboratory_id()))
        .filter(results_result::result_id.eq_any(ids))
        .order(results_result::result_id)
        .select((
            results_result::result_id,
            results_result::version,
            results_result::content,
            results_result::created_at,
            results_result::changed_at,
        ))
        .load(tx.connection())
        .await?;
    rows.into_iter()
        .map(|(id, version, content, created_at, changed_at)| {
            Ok(Kept {
                id,
                version,
                content: serde_json::from_value(content).map_err(ApiError::internal)?,
                created_at: created_at.into(),
                changed_at: changed_at.into(),
            })
        })
        .collect()
}

/// What stands behind some results: the runs' people, and the holds.
pub(super) async fn facts(
    tx: &mut Tx,
    samples: &[Uuid],
    results: &[Kept<ResultVersion>],
) -> Answer<Facts> {
    let laboratory = tx.laboratory_id();
    let runs: Vec<Uuid> = results
        .iter()
        .flat_map(|result| &result.content.computed.runs)
        .filter(|run| run.standing)
        .map(|run| run.run.0)
        .collect();
    let analysts: Vec<(Uuid, Option<Uuid>)> = runs_run::table
        .filter(runs_run::laboratory_id.eq(laboratory))
        .filter(runs_run::run_id.eq_any(&runs))
        .select((runs_run::run_id, runs_run::analyst_id))
        .load(tx.connection())
        .await?;
    let subjects: Vec<Uuid> = results
        .iter()
        .map(|result| result.id)
        .chain(runs.iter().copied())
        .chain(samples.iter().copied())
        .collect();
    let holds = holds::store::of_subjects(tx, &subjects).await?;
    Ok(Facts {
        analysts: analysts
            .into_iter()
            .map(|(run, analyst)| (run, analyst.map(AccountId)))
            .collect(),
        entered_by: entered_by(tx, &runs).await?,
        holds: holds.into_iter().map(|hold| hold.content).collect(),
    })
}

#[derive(QueryableByName)]
struct Hand {
    #[diesel(sql_type = SqlUuid)]
    subject_id: Uuid,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    account: Option<Uuid>,
}

/// Who recorded any version of some runs, in their own name or through a program.
async fn entered_by(tx: &mut Tx, runs: &[Uuid]) -> Answer<HashMap<Uuid, Vec<AccountId>>> {
    let laboratory = tx.laboratory_id();
    let hands: Vec<Hand> = diesel::sql_query(
        "SELECT DISTINCT version.subject_id, \
             COALESCE(act.actor ->> 'account', act.actor ->> 'on_behalf_of')::uuid AS account \
         FROM ledger_version AS version JOIN ledger_act AS act USING (laboratory_id, act_id) \
         WHERE version.laboratory_id = $1 AND version.subject_id = ANY($2)",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Array<SqlUuid>, _>(runs)
    .load(tx.connection())
    .await?;
    let mut found: HashMap<Uuid, Vec<AccountId>> = HashMap::new();
    for hand in hands {
        let of_run = found.entry(hand.subject_id).or_default();
        of_run.extend(hand.account.map(AccountId));
    }
    Ok(found)
}
