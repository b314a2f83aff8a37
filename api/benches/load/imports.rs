//! A large export: imported over HTTP, and what it left behind copied again by COPY.

use crate::{
    Plan,
    cluster::Failure,
    copies,
    database::Databases,
    export,
    laboratory::{BASE, Laboratory},
    meter::{Cost, Meter},
    service::{Room, Service, in_lab},
    tell,
};
use serde_json::Value;

const IMPORTED: &str = "imported";
const COPIED: &str = "copied";

/// What the rounds cost, side by side.
#[derive(Debug, Default)]
pub(crate) struct Imported {
    /// Through the service.
    pub(crate) service: Vec<Cost>,
    /// COPY with keys, indexes and triggers.
    pub(crate) copied: Vec<Cost>,
    /// COPY without keys and indexes.
    pub(crate) bare: Vec<Cost>,
    /// Tables and how many rows one import left in them.
    pub(crate) rows: Vec<(String, i64)>,
    /// Runs with a hold.
    pub(crate) held: u64,
}

/// One round: import, COPY, COPY without keys.
pub(crate) async fn round(
    databases: &Databases,
    room: &Room,
    laboratory: &Laboratory,
    plan: Plan,
    imported: &mut Imported,
) -> Result<(), Failure> {
    databases.make(IMPORTED, Some(BASE), true).await?;
    let import = import(databases, room, laboratory, plan).await?;
    imported.service.push(import.cost);
    imported.held = import.held;
    let left = copies::take(databases, IMPORTED, import.mark).await?;
    imported.rows = left
        .iter()
        .map(|one| (one.table.clone(), one.rows))
        .collect();
    databases.drop(IMPORTED).await?;
    databases.make(COPIED, Some(BASE), true).await?;
    let replaced = copies::make_room(databases, COPIED, &left).await?;
    imported
        .copied
        .push(copies::copy(databases, COPIED, &left).await?);
    imported
        .bare
        .push(copies::copy_bare(databases, COPIED, &left).await?);
    databases.drop(COPIED).await?;
    copies::put_away(databases, &left).await?;
    let seconds = |costs: &[Cost]| costs.last().map_or(0.0, |cost| cost.time.as_secs_f64());
    tell(&format!(
        "  imported in {:.2} s ({} runs held), copied in {:.2} s ({replaced} rows replaced), \
         without keys in {:.2} s",
        seconds(&imported.service),
        imported.held,
        seconds(&imported.copied),
        seconds(&imported.bare)
    ));
    Ok(())
}

/// An import that was measured.
struct Import {
    cost: Cost,
    /// The first transaction that can be its own.
    mark: i64,
    /// Runs with a hold.
    held: u64,
}

async fn import(
    databases: &Databases,
    room: &Room,
    laboratory: &Laboratory,
    plan: Plan,
) -> Result<Import, Failure> {
    let export = export::rows(plan.readings)?.into_bytes();
    let service = Service::start(&databases.url(IMPORTED)?, room).await?;
    let analyst = service.sign_in("analyst").await?;
    let path = in_lab(&format!("/imports?column_map={}", laboratory.column_map));
    databases.settle().await?;
    let mut owner = databases.connect(IMPORTED).await?;
    let mark = copies::next_transaction(&mut owner).await?;
    drop(owner);
    let meter = Meter::begin(databases, IMPORTED, Some(service.pid())).await?;
    let mut connection = analyst.connect().await?;
    let answer = connection
        .send("POST", &path, "text/csv", "", &export)
        .await?
        .due(201, "the import")?;
    let cost = meter.end(None).await?;
    drop(connection);
    service.stop()?;
    let number = |pointer: &str| answer.pointer(pointer).and_then(Value::as_u64);
    if number("/counts/recorded") != Some(u64::from(plan.readings)) {
        return Err(format!(
            "the import of {} readings counts {:?}",
            plan.readings,
            answer.get("counts")
        )
        .into());
    }
    Ok(Import {
        cost,
        mark,
        held: number("/held_runs").unwrap_or_default(),
    })
}
