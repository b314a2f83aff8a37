//! Single readings with the sequencer running against the same with it stopped; how fast acts that
//! wait are sequenced; how long after its act a checkpoint is signed over it.

use crate::{
    CONNECTIONS, Plan,
    cluster::Failure,
    database::{self, Databases},
    laboratory::{BASE, Laboratory},
    meter::Meter,
    postings::{Bench, Posting},
    service::{Room, Service},
    tell,
};
use std::{
    fmt::Write as _,
    time::{Duration, Instant},
};

const STOPPED: &str = "stopped";
const RUNNING: &str = "running";

/// What the rounds showed, side by side.
#[derive(Debug, Default)]
pub(crate) struct Sequenced {
    readings: u32,
    stopped: Vec<Posting>,
    running: Vec<Posting>,
    /// Acts a second, of those that waited.
    drained: Vec<f64>,
    /// Milliseconds from act to checkpoint that half of them took at most, and 99 of 100.
    lags: Vec<(f64, f64)>,
}

/// One round: posting with the sequencer stopped, then sequencing what waits, then posting with it
/// running.
pub(crate) async fn round(
    databases: &Databases,
    room: &Room,
    laboratory: &Laboratory,
    plan: Plan,
    sequenced: &mut Sequenced,
) -> Result<(), Failure> {
    let each = plan.posts.div_ceil(CONNECTIONS);
    sequenced.readings = each * CONNECTIONS;
    databases.make(STOPPED, Some(BASE), false).await?;
    let service = Service::start(&databases.url(STOPPED)?, room).await?;
    let stopped = post(databases, STOPPED, &service, laboratory, each).await?;
    service.stop()?;
    let drained = drain(databases, room).await?;
    databases.drop(STOPPED).await?;
    databases.make(RUNNING, Some(BASE), false).await?;
    let service = Service::start_sequencing(&databases.url(RUNNING)?, room).await?;
    let running = post(databases, RUNNING, &service, laboratory, each).await?;
    wait_until_signed(databases, RUNNING).await?;
    service.stop()?;
    let lag = lag(databases).await?;
    databases.drop(RUNNING).await?;
    let rate = |side: &Posting| f64::from(sequenced.readings) / side.cost.time.as_secs_f64();
    tell(&format!(
        "  stopped {:.0}/s, running {:.0}/s, {drained:.0} acts/s sequenced, lag p99 {:.0} ms",
        rate(&stopped),
        rate(&running),
        lag.1
    ));
    sequenced.stopped.push(stopped);
    sequenced.running.push(running);
    sequenced.drained.push(drained);
    sequenced.lags.push(lag);
    Ok(())
}

async fn post(
    databases: &Databases,
    name: &str,
    service: &Service,
    laboratory: &Laboratory,
    each: u32,
) -> Result<Posting, Failure> {
    databases.settle().await?;
    let mut bench = Bench::warm(service, laboratory).await?;
    let meter = Meter::begin(databases, name, Some(service.pid())).await?;
    let times = bench.post(laboratory, each).await?;
    Ok(Posting::of(meter.end(None).await?, times))
}

/// Starts a sequencer on the acts that wait, and measures from its first entry to its last.
async fn drain(databases: &Databases, room: &Room) -> Result<f64, Failure> {
    let mut owner = databases.connect(STOPPED).await?;
    let size = "SELECT max(size) AS value FROM ledger_head";
    let waiting =
        database::number(&mut owner, "SELECT count(*) AS value FROM ledger_pending").await?;
    let before = database::number(&mut owner, size).await?;
    let service = Service::start_sequencing(&databases.url(STOPPED)?, room).await?;
    // From its first step to its last: when it began with the first cannot be seen from here.
    let begun = Instant::now();
    let mut first: Option<(Instant, i64)> = None;
    let rate = loop {
        let now = database::number(&mut owner, size).await?;
        if now > before {
            let since = *first.get_or_insert((Instant::now(), now));
            if now >= before + waiting {
                if since.1 == now {
                    return Err("too few acts waited: they went in one step".into());
                }
                break f64::from(u32::try_from(now - since.1)?) / since.0.elapsed().as_secs_f64();
            }
        }
        if begun.elapsed() > Duration::from_secs(120) {
            return Err("the sequencer did not come to an end within 120 s".into());
        }
        tokio::time::sleep(Duration::from_millis(2)).await;
    };
    service.stop()?;
    Ok(rate)
}

async fn wait_until_signed(databases: &Databases, name: &str) -> Result<(), Failure> {
    let mut owner = databases.connect(name).await?;
    let begun = Instant::now();
    let open = "SELECT (SELECT count(*) FROM ledger_pending) \
        + (SELECT count(*) FROM ledger_head WHERE signed_size < size) AS value";
    while database::number(&mut owner, open).await? > 0 {
        if begun.elapsed() > Duration::from_secs(60) {
            return Err("acts still wait after 60 s".into());
        }
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    Ok(())
}

async fn lag(databases: &Databases) -> Result<(f64, f64), Failure> {
    let mut owner = databases.connect(RUNNING).await?;
    let mut found = [0.0; 2];
    for (share, place) in ["0.5", "0.99"].into_iter().zip(&mut found) {
        let micros = database::number(
            &mut owner,
            &format!(
                "SELECT percentile_disc({share}) WITHIN GROUP (ORDER BY \
                    extract(epoch FROM signed_at - recorded_at) * 1000000)::bigint AS value \
                 FROM ledger_entry JOIN ledger_act USING (laboratory_id, act_id) \
                 CROSS JOIN LATERAL (SELECT signed_at FROM ledger_checkpoint AS over \
                    WHERE over.laboratory_id = ledger_entry.laboratory_id \
                      AND over.log_number = ledger_entry.log_number AND over.size > entry_index \
                    ORDER BY over.size LIMIT 1) AS first \
                 WHERE recorded_at > (SELECT max(recorded_at) - interval '1 minute' \
                    FROM ledger_act) AND action = 'record-run'"
            ),
        )
        .await?;
        *place = f64::from(u32::try_from(micros)?) / 1000.0;
    }
    Ok((found[0], found[1]))
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or_default()
}

fn spread(values: &[f64]) -> String {
    let least = values.iter().copied().fold(f64::INFINITY, f64::min);
    let most = values.iter().copied().fold(0.0, f64::max);
    format!("{least:.0} to {most:.0}")
}

impl Sequenced {
    /// The figures as a table.
    pub(crate) fn table(&self) -> Result<String, Failure> {
        let mut text = String::new();
        let rates = |sides: &[Posting]| -> Vec<f64> {
            sides
                .iter()
                .map(|side| f64::from(self.readings) / side.cost.time.as_secs_f64())
                .collect()
        };
        let millis = |sides: &[Posting], of: fn(&Posting) -> Duration| -> f64 {
            median(
                sides
                    .iter()
                    .map(|side| of(side).as_secs_f64() * 1000.0)
                    .collect(),
            )
        };
        let beside = median(rates(&self.stopped));
        writeln!(
            text,
            "Single readings over {CONNECTIONS} connections with the sequencer, {} a side and \
             round.\n\n| single readings | readings/s, median | rounds | to stopped | p50 ms | \
             p99 ms |\n| --- | ---: | ---: | ---: | ---: | ---: |",
            self.readings
        )?;
        for (name, sides) in [
            ("sequencer stopped", &self.stopped),
            ("sequencer running", &self.running),
        ] {
            let rates = rates(sides);
            writeln!(
                text,
                "| {name} | {:.0} | {} | {:.0} % | {:.1} | {:.1} |",
                median(rates.clone()),
                spread(&rates),
                median(rates) / beside * 100.0,
                millis(sides, |side| side.median),
                millis(sides, |side| side.slow),
            )?;
        }
        let lags = |of: fn(&(f64, f64)) -> f64| median(self.lags.iter().map(of).collect());
        writeln!(
            text,
            "\nActs sequenced a second, of those that waited: {:.0} ({}). From act to checkpoint \
             while they are posted: p50 {:.0} ms, p99 {:.0} ms.\n",
            median(self.drained.clone()),
            spread(&self.drained),
            lags(|one| one.0),
            lags(|one| one.1),
        )?;
        Ok(text)
    }
}
