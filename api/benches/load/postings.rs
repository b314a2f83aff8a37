//! Single readings over 32 connections, and the same rows written by pgbench.

use crate::{
    CONNECTIONS, Plan,
    cluster::Failure,
    database::{self, Databases},
    export,
    http::{Caller, Connection},
    laboratory::{BASE, Laboratory},
    meter::{Cost, Meter},
    raw::{self, Script},
    service::{Room, Service, in_lab},
    tell,
};
use futures_util::future::try_join_all;
use std::time::{Duration, Instant};

const POSTED: &str = "posted";
const RAW: &str = "raw";

/// Samples beyond those that are measured: for warming up, and so that pgbench never runs out.
pub(crate) const SPARE_SAMPLES: u32 = CONNECTIONS * 20 + CONNECTIONS;

/// One side of one round.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Posting {
    /// What it cost.
    pub(crate) cost: Cost,
    /// The time that half of the readings took at most.
    pub(crate) median: Duration,
    /// The time that 99 of 100 readings took at most.
    pub(crate) slow: Duration,
}

impl Posting {
    /// From the times of the single readings.
    pub(crate) fn of(cost: Cost, mut times: Vec<Duration>) -> Self {
        times.sort_unstable();
        let at = |share: usize| {
            let place = times.len().saturating_mul(share) / 100;
            times
                .get(place.min(times.len().saturating_sub(1)))
                .copied()
                .unwrap_or_default()
        };
        Self {
            cost,
            median: at(50),
            slow: at(99),
        }
    }
}

/// What the rounds cost, side by side.
#[derive(Debug, Default)]
pub(crate) struct Posted {
    /// How many readings a side had to write in a round.
    pub(crate) readings: u32,
    /// Through the service.
    pub(crate) service: Vec<Posting>,
    /// pgbench, a statement a round trip.
    pub(crate) raw: Vec<Posting>,
    /// pgbench, a transaction a round trip.
    pub(crate) pipelined: Vec<Posting>,
    /// Tables and rows that one reading leaves.
    pub(crate) rows: Vec<String>,
    /// Statements that the service makes of one reading.
    pub(crate) statements: Option<f64>,
    /// Statements of pgbench's transaction.
    pub(crate) raw_statements: u32,
}

/// One round: the service, then pgbench in both ways.
pub(crate) async fn round(
    databases: &Databases,
    room: &Room,
    laboratory: &Laboratory,
    plan: Plan,
    posted: &mut Posted,
) -> Result<(), Failure> {
    let each = plan.posts.div_ceil(CONNECTIONS);
    posted.readings = each * CONNECTIONS;
    databases.make(POSTED, Some(BASE), false).await?;
    let service = Service::start(&databases.url(POSTED)?, room).await?;
    // Before the connections are open: the service closes those that wait for long.
    databases.settle().await?;
    let mut bench = Bench::warm(&service, laboratory).await?;
    let meter = Meter::begin(databases, POSTED, Some(service.pid())).await?;
    let times = bench.post(laboratory, each).await?;
    let cost = meter.end(None).await?;
    // The newest run, which pgbench is to repeat, is one that was recorded without company.
    bench.post_alone(laboratory).await?;
    drop(bench);
    service.stop()?;
    posted.service.push(Posting::of(cost, times));
    let script = raw::script(databases, POSTED, laboratory).await?;
    databases.drop(POSTED).await?;
    for is_pipelined in [false, true] {
        let side = pgbench(databases, room, &script, each, is_pipelined).await?;
        match is_pipelined {
            false => posted.raw.push(side),
            true => posted.pipelined.push(side),
        }
    }
    posted.raw_statements = script.statements();
    posted.rows = script.tables.clone();
    let rate = |sides: &[Posting]| {
        sides.last().map_or(0.0, |side| {
            f64::from(posted.readings) / side.cost.time.as_secs_f64()
        })
    };
    tell(&format!(
        "  service {:.0}/s, pgbench {:.0}/s, pgbench in a pipeline {:.0}/s",
        rate(&posted.service),
        rate(&posted.raw),
        rate(&posted.pipelined)
    ));
    Ok(())
}

/// Open connections to the service.
pub(crate) struct Bench(Vec<Connection>);

impl Bench {
    /// Opens the connections and posts a little, so that every connection of the service is open
    /// and its statements are prepared.
    pub(crate) async fn warm(service: &Service, laboratory: &Laboratory) -> Result<Self, Failure> {
        let analyst: Caller = service.sign_in("analyst").await?;
        let opened = (0..CONNECTIONS).map(|_| analyst.connect());
        let mut bench = Self(try_join_all(opened).await?);
        let spare = laboratory
            .samples
            .len()
            .saturating_sub(usize::try_from(SPARE_SAMPLES)?);
        bench
            .post_from(laboratory, u32::try_from(spare)?, 20)
            .await?;
        Ok(bench)
    }

    /// Posts so many readings over each connection, and tells how long each took.
    pub(crate) async fn post(
        &mut self,
        laboratory: &Laboratory,
        each: u32,
    ) -> Result<Vec<Duration>, Failure> {
        self.post_from(laboratory, 0, each).await
    }

    /// Posts one reading, of the last sample.
    async fn post_alone(&mut self, laboratory: &Laboratory) -> Result<(), Failure> {
        let last = u32::try_from(laboratory.samples.len())?.saturating_sub(1);
        let connection = self.0.first_mut().ok_or("there is no connection")?;
        post_some(connection, laboratory, std::iter::once(last)).await?;
        Ok(())
    }

    async fn post_from(
        &mut self,
        laboratory: &Laboratory,
        first: u32,
        each: u32,
    ) -> Result<Vec<Duration>, Failure> {
        let hands = self.0.iter_mut().zip(first..).map(|(connection, begin)| {
            let numbers = (0..each).map(move |turn| begin + turn * CONNECTIONS);
            post_some(connection, laboratory, numbers)
        });
        Ok(try_join_all(hands).await?.into_iter().flatten().collect())
    }
}

async fn post_some(
    connection: &mut Connection,
    laboratory: &Laboratory,
    numbers: impl Iterator<Item = u32>,
) -> Result<Vec<Duration>, Failure> {
    let path = in_lab("/runs");
    let mut times = Vec::new();
    for number in numbers {
        let sample = laboratory
            .samples
            .get(usize::try_from(number)?)
            .ok_or("there are too few samples")?;
        let body = export::run(laboratory, sample, number);
        let begun = Instant::now();
        connection
            .send("POST", &path, "application/json", "", body.as_bytes())
            .await?
            .check(201, "a reading")?;
        times.push(begun.elapsed());
    }
    Ok(times)
}

async fn pgbench(
    databases: &Databases,
    room: &Room,
    script: &Script,
    each: u32,
    is_pipelined: bool,
) -> Result<Posting, Failure> {
    databases.make(RAW, Some(BASE), false).await?;
    let mut owner = databases.connect(RAW).await?;
    raw::renumber(&mut owner).await?;
    drop(owner);
    databases.settle().await?;
    let meter = Meter::begin(databases, RAW, None).await?;
    let (time, times) = script.run(&databases.url(RAW)?, room, each, is_pipelined)?;
    let cost = meter.end(Some(time)).await?;
    databases.drop(RAW).await?;
    Ok(Posting::of(cost, times))
}

/// Counts the statements that the service makes of one reading, apart from the measured rounds:
/// counting costs time.
pub(crate) async fn statements(
    databases: &Databases,
    room: &Room,
    laboratory: &Laboratory,
) -> Result<Option<f64>, Failure> {
    databases.make(POSTED, Some(BASE), true).await?;
    let service = Service::start(&databases.url(POSTED)?, room).await?;
    let mut bench = Bench::warm(&service, laboratory).await?;
    if databases.counts {
        let mut admin = databases.admin().await?;
        database::run(&mut admin, "SELECT pg_stat_statements_reset()").await?;
    }
    let meter = Meter::begin(databases, POSTED, Some(service.pid())).await?;
    bench.post(laboratory, 20).await?;
    let cost = meter.end(None).await?;
    if databases.counts && std::env::var_os("ASSIZE_BENCH_STATEMENTS").is_some() {
        tell(&busiest(databases).await?);
    }
    drop(bench);
    service.stop()?;
    databases.drop(POSTED).await?;
    Ok(cost
        .statements
        .and_then(|count| u32::try_from(count).ok())
        .map(|count| f64::from(count) / f64::from(CONNECTIONS * 20)))
}

/// The statements that took longest, with calls a reading and microseconds a call.
async fn busiest(databases: &Databases) -> Result<String, Failure> {
    let mut admin = databases.admin().await?;
    let query = format!(
        "SELECT format('%s calls a reading, %s us a call, %s', \
                round(calls / {}.0, 2), round((mean_exec_time * 1000)::numeric, 1), \
                left(regexp_replace(query, '\\s+', ' ', 'g'), 150)) AS value \
         FROM pg_stat_statements JOIN pg_database ON oid = dbid WHERE datname = '{}' \
         ORDER BY total_exec_time DESC LIMIT 25",
        CONNECTIONS * 20,
        databases.name(POSTED)
    );
    Ok(database::texts(&mut admin, &query).await?.join("\n"))
}
