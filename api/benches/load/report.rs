//! The figures as a table that can be pasted into a document.

use crate::{
    CONNECTIONS, Plan,
    cluster::Failure,
    database::{self, Databases},
    imports::Imported,
    laboratory::Laboratory,
    meter::Cost,
    postings::{Posted, Posting},
    proofs::Proved,
};
use std::{fmt::Write as _, fs, time::Duration};

/// Writes the whole table.
pub(crate) async fn table(
    databases: &Databases,
    plan: Plan,
    laboratory: &Laboratory,
    imported: &Imported,
    posted: &Posted,
) -> Result<String, Failure> {
    let mut text = String::new();
    writeln!(text, "\n{}\n", machine(databases).await?)?;
    imports(&mut text, plan, laboratory, imported)?;
    postings(&mut text, plan, posted)?;
    Ok(text)
}

/// Adds what proofs of inclusion cost.
pub(crate) fn proofs(text: &mut String, proved: &Proved) -> Result<(), Failure> {
    let figures = proved.figures();
    writeln!(
        text,
        "\n| proof of inclusion, one connection, time to the answer | median | p99 |\n|---|---|---|"
    )?;
    for (entries, median, p99) in &figures {
        writeln!(
            text,
            "| of {entries} entries | {} µs | {} µs |",
            median.as_micros(),
            p99.as_micros()
        )?;
    }
    if let [(_, small, _), .., (_, large, _)] = figures.as_slice() {
        let per_mille = large.as_micros() * 1000 / small.as_micros().max(1);
        writeln!(
            text,
            "| large by small (due: at most 1.5) | {}.{:03} | |",
            per_mille / 1000,
            per_mille % 1000
        )?;
    }
    Ok(())
}

async fn machine(databases: &Databases) -> Result<String, Failure> {
    let mut admin = databases.admin().await?;
    let server = database::text(
        &mut admin,
        "SELECT format('PostgreSQL %s (fsync %s, synchronous_commit %s, full_page_writes %s, \
                shared_buffers %s)', split_part(current_setting('server_version'), ' ', 1), \
                current_setting('fsync'), current_setting('synchronous_commit'), \
                current_setting('full_page_writes'), current_setting('shared_buffers')) AS value",
    )
    .await?;
    let value = |text: &str, name: &str| {
        text.lines()
            .find_map(|line| line.strip_prefix(name)?.split_once(':'))
            .map(|(_, value)| value.trim().to_owned())
    };
    let processor = fs::read_to_string("/proc/cpuinfo").unwrap_or_default();
    let memory = fs::read_to_string("/proc/meminfo").unwrap_or_default();
    let memory_gib = value(&memory, "MemTotal")
        .and_then(|text| text.split(' ').next()?.parse::<u64>().ok())
        .map_or(0, |kib| kib >> 20);
    let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    Ok(format!(
        "Machine: {}, {cores} cores, {memory_gib} GiB; {server}; service, PostgreSQL and load \
         share it.",
        value(&processor, "model name").unwrap_or_else(|| "unknown processor".to_owned()),
    ))
}

fn imports(
    text: &mut String,
    plan: Plan,
    laboratory: &Laboratory,
    imported: &Imported,
) -> Result<(), Failure> {
    let readings = f64::from(plan.readings);
    let all: i64 = imported.rows.iter().map(|(_, rows)| rows).sum();
    let tables: Vec<String> = imported
        .rows
        .iter()
        .map(|(table, rows)| format!("{table} {rows}"))
        .collect();
    writeln!(
        text,
        "An export of {} readings of {} known samples, {} rounds, the sides in turn. The import \
         leaves {all} rows ({}); {} runs are held.\n",
        plan.readings,
        laboratory.samples.len().min(usize::try_from(
            plan.readings.div_ceil(crate::READINGS_A_SAMPLE)
        )?),
        plan.rounds,
        tables.join(", "),
        imported.held
    )?;
    writeln!(
        text,
        "| import | readings/s, median | rounds | to COPY | service µs | PostgreSQL µs | WAL \
         bytes | statements |\n| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: |"
    )?;
    let rates = |costs: &[Cost]| -> Vec<f64> {
        costs
            .iter()
            .map(|cost| readings / cost.time.as_secs_f64())
            .collect()
    };
    let beside = median(rates(&imported.copied));
    for (name, costs) in [
        ("over HTTP, signed records", &imported.service),
        (
            "COPY of the same rows, keys, indexes and triggers as they are",
            &imported.copied,
        ),
        ("COPY of the same rows, no keys, no indexes", &imported.bare),
    ] {
        let statements = median_of(costs, |cost| {
            cost.statements.map(|count| number(count) / readings)
        });
        writeln!(
            text,
            "| {name} | {} | {statements} |",
            figures(rates(costs), beside, costs, readings),
            statements = statements.map_or_else(|| "–".to_owned(), |one| format!("{one:.4}"))
        )?;
    }
    writeln!(text)?;
    Ok(())
}

fn postings(text: &mut String, plan: Plan, posted: &Posted) -> Result<(), Failure> {
    let readings = f64::from(posted.readings);
    let calling = posted
        .service
        .iter()
        .filter_map(|side| Some(side.cost.bench?.as_secs_f64() * 1e6 / readings))
        .collect();
    writeln!(
        text,
        "Single readings over {CONNECTIONS} connections, {} a side and round, {} rounds, the \
         sides in turn. One reading leaves {} rows ({}). Readings that come at once are recorded \
         in one transaction, each with an act of its own; pgbench writes one a transaction. \
         Calling the service costs the bench {:.0} µs of processor time a reading.\n",
        posted.readings,
        plan.rounds,
        posted.rows.len(),
        posted.rows.join(", "),
        median(calling)
    )?;
    writeln!(
        text,
        "| single readings | readings/s, median | rounds | to pgbench | service µs | PostgreSQL \
         µs | WAL bytes | statements | p50 ms | p99 ms |\n\
         | --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |"
    )?;
    let rates = |sides: &[Posting]| -> Vec<f64> {
        sides
            .iter()
            .map(|side| readings / side.cost.time.as_secs_f64())
            .collect()
    };
    let beside = median(rates(&posted.raw));
    let raw = Some(f64::from(posted.raw_statements));
    for (name, sides, statements) in [
        (
            "POST over HTTP, signed records",
            &posted.service,
            posted.statements,
        ),
        (
            "pgbench, the same rows in prepared statements",
            &posted.raw,
            raw,
        ),
        (
            "the same, each transaction sent as one pipeline",
            &posted.pipelined,
            raw,
        ),
    ] {
        let costs: Vec<Cost> = sides.iter().map(|side| side.cost).collect();
        let times = |get: fn(&Posting) -> Duration| {
            median(
                sides
                    .iter()
                    .map(|side| get(side).as_secs_f64() * 1000.0)
                    .collect(),
            )
        };
        writeln!(
            text,
            "| {name} | {} | {} | {:.1} | {:.1} |",
            figures(rates(sides), beside, &costs, readings),
            statements.map_or_else(|| "–".to_owned(), |one| format!("{one:.1}")),
            times(|side| side.median),
            times(|side| side.slow)
        )?;
    }
    Ok(())
}

/// Rate, its spread, its share of the other side, and what a reading costs.
fn figures(rates: Vec<f64>, beside: f64, costs: &[Cost], readings: f64) -> String {
    let (least, most) = rates
        .iter()
        .fold((f64::MAX, 0.0_f64), |(least, most), rate| {
            (least.min(*rate), most.max(*rate))
        });
    let rate = median(rates);
    let micros = |get: fn(&Cost) -> Option<Duration>| {
        median_of(costs, |cost| {
            get(cost).map(|time| time.as_secs_f64() * 1e6 / readings)
        })
        .map_or_else(|| "–".to_owned(), |one| format!("{one:.0}"))
    };
    let wal = median(
        costs
            .iter()
            .map(|cost| number(cost.wal_bytes) / readings)
            .collect(),
    );
    format!(
        "{rate:.0} | {least:.0} to {most:.0} | {:.0} % | {} | {} | {wal:.0}",
        rate / beside * 100.0,
        micros(|cost| cost.service),
        micros(|cost| cost.postgresql)
    )
}

fn median_of(costs: &[Cost], get: impl Fn(&Cost) -> Option<f64>) -> Option<f64> {
    let known: Option<Vec<f64>> = costs.iter().map(get).collect();
    known.map(median)
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    let middle = values.len() / 2;
    let upper = values.get(middle).copied().unwrap_or_default();
    if values.len() % 2 == 1 {
        return upper;
    }
    let lower = values.get(middle.saturating_sub(1)).copied();
    f64::midpoint(lower.unwrap_or(upper), upper)
}

#[expect(
    clippy::as_conversions,
    reason = "a figure for a table: its last binary places do not matter"
)]
fn number(value: u64) -> f64 {
    value as f64
}
