//! What a stretch of work costs: time, processor time of service and PostgreSQL, bytes of the
//! write-ahead log, statements.
//!
//! Processor time is read from `/proc`, in the kernel's ticks of 10 ms.

use crate::{
    cluster::Failure,
    database::{self, Databases},
};
use std::{
    fs,
    time::{Duration, Instant},
};

/// What a stretch of work cost. What could not be read is absent.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Cost {
    /// From begin to end.
    pub(crate) time: Duration,
    /// Processor time of the service.
    pub(crate) service: Option<Duration>,
    /// Processor time of PostgreSQL, all its processes.
    pub(crate) postgresql: Option<Duration>,
    /// Processor time of this program.
    pub(crate) bench: Option<Duration>,
    /// Bytes of the write-ahead log.
    pub(crate) wal_bytes: u64,
    /// Statements in the database.
    pub(crate) statements: Option<u64>,
}

/// A stretch of work that is being measured.
pub(crate) struct Meter<'a> {
    databases: &'a Databases,
    database: String,
    service: Option<u32>,
    postmaster: Option<u32>,
    begun: Instant,
    at: Reading,
}

struct Reading {
    service: Option<Duration>,
    postgresql: Option<Duration>,
    bench: Option<Duration>,
    wal: i64,
    statements: Option<i64>,
}

impl<'a> Meter<'a> {
    /// Begins to measure work in a database, by the service where its process is given. What was
    /// there before should have been settled ([`Databases::settle`]).
    pub(crate) async fn begin(
        databases: &'a Databases,
        database: &str,
        service: Option<u32>,
    ) -> Result<Self, Failure> {
        let mut admin = databases.admin().await?;
        let backend =
            database::number(&mut admin, "SELECT pg_backend_pid()::bigint AS value").await?;
        // A server in a container has other process ids: then nothing is told of it.
        let postmaster = u32::try_from(backend)
            .ok()
            .filter(|pid| name_of(*pid).is_some_and(|name| name.starts_with("postgres")))
            .and_then(parent_of);
        drop(admin);
        let mut meter = Self {
            databases,
            database: databases.name(database),
            service,
            postmaster,
            begun: Instant::now(),
            at: Reading {
                service: None,
                postgresql: None,
                bench: None,
                wal: 0,
                statements: None,
            },
        };
        meter.at = meter.read().await?;
        meter.begun = Instant::now();
        Ok(meter)
    }

    async fn read(&self) -> Result<Reading, Failure> {
        let mut admin = self.databases.admin().await?;
        let wal = database::number(
            &mut admin,
            "SELECT pg_wal_lsn_diff(pg_current_wal_insert_lsn(), '0/0')::bigint AS value",
        )
        .await?;
        let statements = if self.databases.counts {
            let query = format!(
                "SELECT coalesce(sum(calls), 0)::bigint AS value FROM pg_stat_statements \
                 JOIN pg_database ON oid = dbid WHERE datname = '{}'",
                self.database
            );
            Some(database::number(&mut admin, &query).await?)
        } else {
            None
        };
        Ok(Reading {
            service: self.service.and_then(used_by),
            postgresql: self.postmaster.and_then(used_by_all_of),
            bench: used_by(std::process::id()),
            wal,
            statements,
        })
    }

    /// Ends the measurement; `time` stands for what the clock says where the work timed itself.
    pub(crate) async fn end(self, time: Option<Duration>) -> Result<Cost, Failure> {
        let clock = self.begun.elapsed();
        let after = self.read().await?;
        let between = |after: Option<Duration>, before: Option<Duration>| {
            Some(after?.saturating_sub(before?))
        };
        Ok(Cost {
            time: time.unwrap_or(clock),
            service: between(after.service, self.at.service),
            postgresql: between(after.postgresql, self.at.postgresql),
            bench: between(after.bench, self.at.bench),
            wal_bytes: u64::try_from(after.wal.saturating_sub(self.at.wal)).unwrap_or(0),
            statements: after
                .statements
                .zip(self.at.statements)
                .and_then(|(after, before)| u64::try_from(after.saturating_sub(before)).ok()),
        })
    }
}

/// The fields of a process's line, from its state on.
fn fields(pid: u32) -> Option<Vec<String>> {
    let text = fs::read_to_string(format!("/proc/{pid}/stat")).ok()?;
    let (_, rest) = text.rsplit_once(") ")?;
    Some(rest.split(' ').map(str::to_owned).collect())
}

fn name_of(pid: u32) -> Option<String> {
    fs::read_to_string(format!("/proc/{pid}/comm")).ok()
}

fn parent_of(pid: u32) -> Option<u32> {
    fields(pid)?.get(1)?.parse().ok()
}

/// Processor time of fields 14 and on (proc(5)): ticks of a hundredth of a second.
fn ticks(fields: &[String], places: std::ops::Range<usize>) -> Option<Duration> {
    let ticks: u64 = fields
        .get(places)?
        .iter()
        .filter_map(|field| field.parse::<u64>().ok())
        .sum();
    Some(Duration::from_millis(ticks.saturating_mul(10)))
}

/// User and system time.
fn used_by(pid: u32) -> Option<Duration> {
    ticks(&fields(pid)?, 11..13)
}

/// The server's own time, that of its children, and that of those which have ended.
fn used_by_all_of(postmaster: u32) -> Option<Duration> {
    let mut sum = ticks(&fields(postmaster)?, 11..15)?;
    for entry in fs::read_dir("/proc").ok()?.flatten() {
        let pid = entry
            .file_name()
            .to_str()
            .and_then(|name| name.parse().ok());
        if let Some(pid) = pid
            && parent_of(pid) == Some(postmaster)
        {
            sum = sum.saturating_add(used_by(pid).unwrap_or_default());
        }
    }
    Some(sum)
}
