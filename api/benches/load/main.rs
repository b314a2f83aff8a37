//! What the service manages against what PostgreSQL alone manages: a large import against COPY,
//! single readings against pgbench, on this machine, in one run, the sides in turn.
//!
//! Promises a PostgreSQL of its own with default durability, figures of all rounds (medians and
//! spread), and that it ends what it started. Refuses to measure where an answer is not the one
//! that is due. All data is invented.
//!
//! `ASSIZE_BENCH_ROUNDS` (3), `ASSIZE_BENCH_READINGS` of the import (100000), and
//! `ASSIZE_BENCH_POSTS`, single readings a round (12800), change how much is measured.

#[path = "../../../tests/harness/cluster.rs"]
mod cluster;
mod copies;
mod database;
mod export;
mod http;
mod imports;
mod laboratory;
mod meter;
mod postings;
mod proofs;
mod raw;
mod report;
mod sequencing;
mod service;

use cluster::Failure;
use database::Databases;
use std::io::Write as _;

/// Connections that post single readings at once.
const CONNECTIONS: u32 = 32;

/// Readings of one sample in the export.
const READINGS_A_SAMPLE: u32 = 5;

/// How much is measured.
#[derive(Debug, Clone, Copy)]
struct Plan {
    rounds: u32,
    readings: u32,
    posts: u32,
}

impl Plan {
    fn from_environment() -> Result<Self, Failure> {
        let number = |name: &str, default: u32| -> Result<u32, Failure> {
            match std::env::var(name) {
                Ok(text) => text
                    .parse()
                    .ok()
                    .filter(|number| *number > 0)
                    .ok_or_else(|| format!("{name}=\"{text}\": give a whole number").into()),
                Err(_unset) => Ok(default),
            }
        };
        Ok(Self {
            rounds: number("ASSIZE_BENCH_ROUNDS", 3)?,
            readings: number("ASSIZE_BENCH_READINGS", 100_000)?,
            posts: number("ASSIZE_BENCH_POSTS", 12_800)?,
        })
    }

    /// So many that neither part runs out of them.
    fn samples(self) -> u32 {
        self.readings
            .div_ceil(READINGS_A_SAMPLE)
            .max(self.posts + postings::SPARE_SAMPLES)
    }
}

/// Tells how far it is: on standard error, so that the table stands alone.
fn tell(text: &str) {
    drop(writeln!(std::io::stderr(), "{text}"));
}

#[tokio::main(flavor = "current_thread")]
async fn main() -> Result<(), Failure> {
    let plan = Plan::from_environment()?;
    // Loaded for counting statements; it counts only where a database asks for it.
    let settings = ["shared_preload_libraries=pg_stat_statements"];
    let server = cluster::server("bench", &settings);
    let databases = Databases::of(&server.url).await?;
    let measured = measure(&databases, plan).await;
    databases.drop_all().await?;
    let (base, imported, posted, sequenced, proved) = measured?;
    let mut text = report::table(&databases, plan, &base, &imported, &posted).await?;
    report::proofs(&mut text, &proved)?;
    write!(std::io::stdout(), "{text}{}", sequenced.table()?)?;
    Ok(())
}

type Measured = (
    laboratory::Laboratory,
    imports::Imported,
    postings::Posted,
    sequencing::Sequenced,
    proofs::Proved,
);

async fn measure(databases: &Databases, plan: Plan) -> Result<Measured, Failure> {
    let room = service::Room::new()?;
    tell(&format!(
        "A laboratory with {} samples, registered through the API …",
        plan.samples()
    ));
    let laboratory = laboratory::build(databases, &room, plan.samples()).await?;
    let mut imported = imports::Imported::default();
    for round in 1..=plan.rounds {
        tell(&format!("Import, round {round} of {} …", plan.rounds));
        imports::round(databases, &room, &laboratory, plan, &mut imported).await?;
    }
    let mut posted = postings::Posted::default();
    for round in 1..=plan.rounds {
        tell(&format!(
            "Single readings, round {round} of {} …",
            plan.rounds
        ));
        postings::round(databases, &room, &laboratory, plan, &mut posted).await?;
    }
    tell("Single readings, counting statements …");
    posted.statements = postings::statements(databases, &room, &laboratory).await?;
    let mut sequenced = sequencing::Sequenced::default();
    for round in 1..=plan.rounds {
        tell(&format!("Sequencing, round {round} of {} …", plan.rounds));
        sequencing::round(databases, &room, &laboratory, plan, &mut sequenced).await?;
    }
    tell("Proofs, from a small log and a large one …");
    let proved = proofs::measured(databases, &room, plan.rounds).await?;
    Ok((laboratory, imported, posted, sequenced, proved))
}
