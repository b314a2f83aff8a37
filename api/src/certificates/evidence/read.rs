//! The SQL that reads across the slices for a certificate; it writes nothing.

use super::{
    ControlRun, Evidence, Things,
    rows::{Row, one, things},
};
use crate::{
    certificates::refusal::incomplete,
    db::Tx,
    error::{Answer, ApiError},
    kept::Kept,
    laboratories, ledger,
};
use diesel::sql_types::{Array, Integer, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl as _;
use domain::{
    accounts::Account,
    customers::Customer,
    equipment::Equipment,
    holds::Hold,
    id::{AccountId, LotId},
    limits::Limit,
    lots::Lot,
    orders::Order,
    preparations::Preparation,
    procedures::{Procedure, ProcedureEntry},
    results::ResultVersion,
    reviews::Review,
    runs::Run,
    samples::Sample,
    samplings::Sampling,
    sites::Site,
};
use std::collections::{BTreeMap, BTreeSet, HashMap};
use uuid::Uuid;

/// Reads everything that a certificate of some results is written from.
pub(in crate::certificates) async fn read(
    tx: &mut Tx,
    lot: LotId,
    issuer: AccountId,
    results: &[Kept<ResultVersion>],
) -> Answer<Evidence> {
    let laboratory = laboratories::store::find(tx).await?.content;
    let sample_ids = results.iter().map(|one| one.content.computed.sample.0);
    let samples: Things<Sample> =
        things(tx, ("samples_sample", "sample_id", "sample_id"), sample_ids).await?;
    for (index, result) in results.iter().enumerate() {
        let sample = samples.get(&result.content.computed.sample.0);
        if sample.and_then(|sample| sample.content.lot) != Some(lot) {
            return Err(ApiError::field(
                format!("/results/{index}/result"),
                "The result is of a sample of another lot. A certificate covers one lot.",
            ));
        }
    }
    let goods = goods(tx, lot, &samples).await?;
    let work = work(tx, &samples, results).await?;
    let (procedures, limits) = (procedures(tx, results).await?, limits(tx, results).await?);
    let releases = releases(tx, results).await?;
    let names = names(tx, issuer, &goods, &work, &releases).await?;
    Ok(Evidence {
        laboratory,
        lot: (lot.0, goods.lot),
        parent: goods.parent,
        order: goods.order,
        customer: goods.customer,
        site: goods.site,
        sampling: goods.sampling,
        samples,
        preparations: work.preparations,
        equipment: work.equipment,
        controls: work.controls,
        materials: work.materials,
        kit_lots: work.kit_lots,
        readers: work.readers,
        runs: work.runs,
        procedures,
        holds: work.holds,
        releases,
        limits,
        names,
    })
}

struct Goods {
    lot: Lot,
    parent: Option<Lot>,
    order: (Uuid, Order),
    customer: (Uuid, Customer),
    site: (Uuid, Site),
    sampling: Option<Sampling>,
}

async fn goods(tx: &mut Tx, lot: LotId, samples: &Things<Sample>) -> Answer<Goods> {
    let id = lot;
    let lot: Lot = one(tx, ("lots_lot", "lot_id"), lot.0)
        .await?
        .ok_or_else(|| ApiError::field("/lot", "There is no such lot in this laboratory."))?;
    let parent = match lot.parent {
        Some(parent) => one(tx, ("lots_lot", "lot_id"), parent.0).await?,
        None => None,
    };
    let order_id = the_same(samples.values().map(|one| one.content.order.or(lot.order)))
        .ok_or_else(|| incomplete("the samples were ordered by several orders"))?
        .ok_or_else(|| incomplete(format!("lot {id} names no order (ISO/IEC 17025, 7.1)")))?;
    let order: Order = one(tx, ("orders_order", "order_id"), order_id.0)
        .await?
        .ok_or_else(|| ApiError::internal("an order that is named is not there"))?;
    let customer: Customer = one(tx, ("customers_customer", "customer_id"), order.customer.0)
        .await?
        .ok_or_else(|| ApiError::internal("a customer that is named is not there"))?;
    let site_id = the_same(samples.values().map(|one| one.content.site))
        .ok_or_else(|| incomplete("the samples were tested at several sites"))?
        .ok_or_else(|| {
            incomplete("no sample says at which site it was tested (ISO/IEC 17025, 7.8.2.1 c)")
        })?;
    let site: Site = one(tx, ("sites_site", "site_id"), site_id.0)
        .await?
        .ok_or_else(|| ApiError::internal("a site that is named is not there"))?;
    let sampling = match the_same(samples.values().map(|one| one.content.sampling))
        .ok_or_else(|| incomplete("the samples come from several samplings"))?
    {
        Some(sampling) => one(tx, ("samplings_sampling", "sampling_id"), sampling.0).await?,
        None => None,
    };
    Ok(Goods {
        parent,
        customer: (order.customer.0, customer),
        order: (order_id.0, order),
        site: (site_id.0, site),
        sampling,
        lot,
    })
}

/// The one value that all have; none where they differ.
fn the_same<T: PartialEq>(mut values: impl Iterator<Item = T>) -> Option<T> {
    let first = values.next()?;
    values.all(|value| value == first).then_some(first)
}

struct Work {
    preparations: Things<Preparation>,
    equipment: Things<Equipment>,
    runs: Things<Run>,
    controls: Vec<ControlRun>,
    materials: Things<domain::control_materials::ControlMaterial>,
    kit_lots: Things<domain::kit_lots::KitLot>,
    readers: Things<domain::readers::Reader>,
    holds: Things<Hold>,
}

async fn work(
    tx: &mut Tx,
    samples: &Things<Sample>,
    results: &[Kept<ResultVersion>],
) -> Answer<Work> {
    let of_samples = || samples.keys().copied();
    let preparations: Things<Preparation> = things(
        tx,
        ("preparations_preparation", "preparation_id", "sample_id"),
        of_samples(),
    )
    .await?;
    let used = results
        .iter()
        .flat_map(|result| &result.content.computed.runs)
        .map(|run| run.run.0);
    let runs: Things<Run> = things(tx, ("runs_run", "run_id", "run_id"), used).await?;
    let entries = || runs.values().map(|run| &run.content.entry);
    let equipment = preparations
        .values()
        .flat_map(|step| step.content.equipment.iter().map(|id| id.0));
    let equipment = things(
        tx,
        ("equipment_item", "equipment_id", "equipment_id"),
        equipment.collect::<Vec<_>>(),
    )
    .await?;
    let kit_lots = entries().filter_map(|run| run.kit_lot).map(|id| id.0);
    let kit_lots = kit_lots.collect::<Vec<_>>();
    let readers = entries().filter_map(|run| run.reader).map(|id| id.0);
    let readers = readers.collect::<Vec<_>>();
    let series: BTreeSet<Uuid> = entries()
        .filter_map(|run| run.series)
        .map(|id| id.0)
        .collect();
    let controls = controls(tx, series).await?;
    let materials = controls.iter().map(|control| control.material);
    let materials = materials.collect::<Vec<_>>();
    let held = of_samples()
        .chain(runs.keys().copied())
        .chain(results.iter().map(|result| result.id));
    Ok(Work {
        holds: things(
            tx,
            ("holds_hold", "hold_id", "subject_id"),
            held.collect::<Vec<_>>(),
        )
        .await?,
        kit_lots: things(
            tx,
            ("kit_lots_kit_lot", "kit_lot_id", "kit_lot_id"),
            kit_lots,
        )
        .await?,
        readers: things(tx, ("readers_reader", "reader_id", "reader_id"), readers).await?,
        materials: things(
            tx,
            (
                "control_materials_control_material",
                "control_material_id",
                "control_material_id",
            ),
            materials,
        )
        .await?,
        preparations,
        equipment,
        runs,
        controls,
    })
}

/// The control runs of some series.
async fn controls(tx: &mut Tx, series: BTreeSet<Uuid>) -> Answer<Vec<ControlRun>> {
    let laboratory = tx.laboratory_id();
    let rows: Vec<Row> = diesel::sql_query(
        "SELECT run.run_id AS id, sample.control_material_id AS other, run.version, run.content, \
             run.created_at \
         FROM runs_run AS run JOIN samples_sample AS sample USING (laboratory_id, sample_id) \
         WHERE run.laboratory_id = $1 AND run.series_id = ANY($2) AND run.state = 'recorded' \
           AND sample.control_material_id IS NOT NULL ORDER BY run.read_at, run.run_id",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Array<SqlUuid>, _>(series.into_iter().collect::<Vec<_>>())
    .load(tx.connection())
    .await?;
    let mut controls = Vec::with_capacity(rows.len());
    for row in rows {
        if let Some(material) = row.other {
            let (run, content) = row.found()?;
            controls.push(ControlRun {
                run,
                material,
                content,
            });
        }
    }
    Ok(controls)
}

/// The versions of procedures that the results were computed by.
async fn procedures(
    tx: &mut Tx,
    results: &[Kept<ResultVersion>],
) -> Answer<BTreeMap<(Uuid, u32), ProcedureEntry>> {
    let mut found = BTreeMap::new();
    for result in results {
        let Some(used) = result.content.computed.procedure else {
            continue;
        };
        if found.contains_key(&(used.id.0, used.version)) {
            continue;
        }
        let version = i32::try_from(used.version).map_err(ApiError::internal)?;
        let record = ledger::place_of(tx, used.id.0, version).await?.record;
        let record: serde_json::Value =
            serde_json::from_str(&record).map_err(ApiError::internal)?;
        let content = record.get("content").cloned().unwrap_or_default();
        let procedure: Procedure = serde_json::from_value(content).map_err(ApiError::internal)?;
        found.insert((used.id.0, used.version), procedure.entry);
    }
    Ok(found)
}

async fn limits(
    tx: &mut Tx,
    results: &[Kept<ResultVersion>],
) -> Answer<HashMap<String, (Uuid, Limit)>> {
    let named: BTreeSet<&str> = results
        .iter()
        .flat_map(|result| &result.content.computed.decisions)
        .map(|decision| decision.limit.as_str())
        .collect();
    let laboratory = tx.laboratory_id();
    let rows: Vec<Row> = diesel::sql_query(
        "SELECT limit_id AS id, NULL::uuid AS other, version, content, created_at \
         FROM limits_limit WHERE laboratory_id = $1 AND content ->> 'id' = ANY($2)",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Array<Text>, _>(named.into_iter().collect::<Vec<_>>())
    .load(tx.connection())
    .await?;
    rows.into_iter()
        .map(|row| {
            let (id, found) = row.found::<Limit>()?;
            Ok((found.content.id.clone(), (id, found.content)))
        })
        .collect()
}

/// The signature that released each result, the last one where there were several.
async fn releases(tx: &mut Tx, results: &[Kept<ResultVersion>]) -> Answer<HashMap<Uuid, Review>> {
    let laboratory = tx.laboratory_id();
    let ids: Vec<Uuid> = results.iter().map(|result| result.id).collect();
    let rows: Vec<Row> = diesel::sql_query(
        "SELECT DISTINCT ON (signed.result_id) signed.result_id AS id, review.review_id AS other, \
             review.version, review.content, review.created_at \
         FROM reviews_result AS signed JOIN reviews_review AS review \
           USING (laboratory_id, review_id) \
         WHERE signed.laboratory_id = $1 AND signed.result_id = ANY($2) \
           AND review.state = 'release' ORDER BY signed.result_id, review.review_id DESC",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Array<SqlUuid>, _>(ids)
    .load(tx.connection())
    .await?;
    rows.into_iter()
        .map(|row| {
            let (id, found) = row.found::<Review>()?;
            Ok((id, found.content))
        })
        .collect()
}

/// Printed names of everybody who acted.
async fn names(
    tx: &mut Tx,
    issuer: AccountId,
    goods: &Goods,
    work: &Work,
    releases: &HashMap<Uuid, Review>,
) -> Answer<HashMap<Uuid, String>> {
    let runs = work
        .runs
        .values()
        .filter_map(|run| run.content.entry.analyst);
    let steps = work
        .preparations
        .values()
        .filter_map(|step| step.content.by);
    let lifted = work.holds.values().filter_map(|hold| {
        let lifted = hold.content.lifted.as_ref()?;
        lifted.by
    });
    let sampler = goods
        .sampling
        .iter()
        .filter_map(|sampling| sampling.account);
    let people = runs
        .chain(steps)
        .chain(lifted)
        .chain(sampler)
        .chain(releases.values().map(|review| review.reviewer))
        .chain([issuer])
        .map(|account| account.0);
    let place = ("identity_account", "account_id", "account_id");
    let accounts: Things<Account> = things(tx, place, people.collect::<Vec<_>>()).await?;
    Ok(accounts
        .into_iter()
        .map(|(id, account)| (id, account.content.printed_name))
        .collect())
}
