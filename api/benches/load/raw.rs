//! What one posted reading left in the tables, as a script for pgbench: the same rows, as prepared
//! statements in one transaction, ids new each time.

use crate::{
    CONNECTIONS,
    cluster::Failure,
    copies,
    database::{self, Databases},
    laboratory::Laboratory,
    service::Room,
};
use diesel::{
    QueryableByName,
    sql_types::{Nullable, Text},
};
use diesel_async::{AsyncPgConnection, RunQueryDsl as _};
use std::{
    collections::BTreeMap,
    fs,
    path::PathBuf,
    process::{Command, Stdio},
    time::Duration,
};

/// The number of a transaction, as the last part of an id: made from `:n`.
const NUMBER: &str = "lpad(to_hex(CAST(:n AS bigint)), 12, '0')";

/// Inserts for pgbench, and the values that they bind.
pub(crate) struct Script {
    inserts: Vec<String>,
    values: Vec<(String, String)>,
    /// Tables that are written to, a name for each row.
    pub(crate) tables: Vec<String>,
}

#[derive(QueryableByName)]
struct Cell {
    #[diesel(sql_type = Text)]
    place: String,
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = Text)]
    kind: String,
    #[diesel(sql_type = Nullable<Text>)]
    value: Option<String>,
}

/// Makes the script of the newest run in a database.
pub(crate) async fn script(
    databases: &Databases,
    name: &str,
    laboratory: &Laboratory,
) -> Result<Script, Failure> {
    let mut owner = databases.connect(name).await?;
    let newest = "FROM runs_run ORDER BY run_id DESC LIMIT 1";
    let transaction = format!("SELECT xmin::text::bigint AS value {newest}");
    let transaction = database::number(&mut owner, &transaction).await?;
    let sample = format!("SELECT sample_id::text AS value {newest}");
    let mut ids = Ids {
        sample: database::text(&mut owner, &sample).await?,
        lasting: [
            &laboratory.analyst,
            &laboratory.kit_lot,
            &laboratory.reader,
            &laboratory.procedure,
        ]
        .map(Clone::clone)
        .to_vec(),
        fresh: Vec::new(),
    };
    let mut script = Script {
        inserts: Vec::new(),
        values: Vec::new(),
        tables: Vec::new(),
    };
    for table in copies::tables(&mut owner).await? {
        // The sequencer may have taken the act meanwhile: what was pending is then read off it.
        let (from, columns) = match table.as_str() {
            "ledger_pending" => ("ledger_act", "AND attname IN ('laboratory_id', 'act_id')"),
            table => (table, ""),
        };
        let query = format!(
            "SELECT kept.ctid::text AS place, attname::text AS name, \
                    atttypid::regtype::text AS kind, cell.value \
             FROM {from} AS kept CROSS JOIN LATERAL jsonb_each_text(to_jsonb(kept)) AS cell \
             JOIN pg_attribute ON attrelid = '{from}'::regclass AND attname = cell.key \
             WHERE kept.xmin::text::bigint = {transaction} AND attidentity = '' \
               AND attgenerated = '' {columns} ORDER BY kept.ctid, attnum"
        );
        let cells: Vec<Cell> = diesel::sql_query(query).load(&mut owner).await?;
        let mut rows: BTreeMap<String, Vec<Cell>> = BTreeMap::new();
        for cell in cells {
            rows.entry(cell.place.clone()).or_default().push(cell);
        }
        for row in rows.into_values() {
            script.add(&table, row, &mut ids);
        }
    }
    Ok(script)
}

/// Which ids stay the same, and which are new with each transaction.
struct Ids {
    sample: String,
    lasting: Vec<String>,
    fresh: Vec<String>,
}

impl Ids {
    fn expression(&mut self, id: &str) -> Option<String> {
        if id == self.sample {
            return Some(sample_id(NUMBER));
        }
        if self.lasting.iter().any(|known| known == id) {
            return None;
        }
        let place = self.fresh.iter().position(|known| known == id);
        let place = place.unwrap_or_else(|| {
            self.fresh.push(id.to_owned());
            self.fresh.len().saturating_sub(1)
        });
        Some(format!(
            "CAST('019ca86a-{place:04x}-7000-8000-' || {NUMBER} AS uuid)"
        ))
    }
}

fn sample_id(number: &str) -> String {
    format!("CAST('019ca869-ffff-7000-8000-' || {number} AS uuid)")
}

impl Script {
    fn add(&mut self, table: &str, row: Vec<Cell>, ids: &mut Ids) {
        let (mut columns, mut values) = (Vec::new(), Vec::new());
        for cell in row {
            // What is null is left out, as it is by default.
            let Some(value) = cell.value else { continue };
            let made = match (cell.kind.as_str(), cell.name.as_str()) {
                ("uuid", _) => ids.expression(&value),
                (_, "idempotency_key") => Some("concat('bench-', CAST(:n AS text))".to_owned()),
                (_, "digest") => Some(format!(
                    "lpad(concat(CAST(:n AS text), 'x{}'), 43, 'A')",
                    self.inserts.len()
                )),
                _ => None,
            };
            columns.push(cell.name);
            values.push(made.unwrap_or_else(|| {
                let name = format!("v{}", self.values.len());
                let bound = format!(":{name}");
                self.values.push((name, value));
                bound
            }));
        }
        self.inserts.push(format!(
            "INSERT INTO {table} ({}) VALUES ({});",
            columns.join(", "),
            values.join(", ")
        ));
        self.tables.push(table.to_owned());
    }

    /// Statements of one transaction, its beginning and end among them.
    pub(crate) fn statements(&self) -> u32 {
        u32::try_from(self.inserts.len())
            .unwrap_or(u32::MAX)
            .saturating_add(2)
    }

    fn text(&self, is_pipelined: bool) -> String {
        let (open, close) = match is_pipelined {
            true => ("\\startpipeline\n", "\\endpipeline\n"),
            false => ("", ""),
        };
        format!(
            "\\set i :i + 1\n\\set n :i * {CONNECTIONS} + :client_id\n\
             {open}BEGIN;\n{}\nEND;\n{close}",
            self.inserts.join("\n")
        )
    }

    /// Runs pgbench; the time that it took, and the time of each transaction.
    pub(crate) fn run(
        &self,
        url: &str,
        room: &Room,
        each: u32,
        is_pipelined: bool,
    ) -> Result<(Duration, Vec<Duration>), Failure> {
        let file = room.path("pgbench.sql");
        fs::write(&file, self.text(is_pipelined))?;
        let log = room.path("pgbench_log");
        fs::create_dir_all(&log)?;
        let mut pgbench = Command::new(program()?);
        pgbench
            .args(["-n", "-M", "prepared", "-j", "2", "-l"])
            .args(["-c", &CONNECTIONS.to_string(), "-t", &each.to_string()])
            .arg(format!("--log-prefix={}", log.join("times").display()))
            .args(["-D", "i=0"])
            .arg("-f")
            .arg(&file);
        for (name, value) in &self.values {
            pgbench.arg("-D").arg(format!("{name}={value}"));
        }
        let out = pgbench.arg(url).stdin(Stdio::null()).output()?;
        let said = String::from_utf8_lossy(&out.stdout);
        if !out.status.success() || !said.contains("tps = ") {
            let failed = String::from_utf8_lossy(&out.stderr);
            return Err(format!("pgbench: {failed:.3000}").into());
        }
        let rate: f64 = said
            .lines()
            .find_map(|line| line.strip_prefix("tps = ")?.split(' ').next()?.parse().ok())
            .ok_or("pgbench tells no rate")?;
        let mut times = Vec::new();
        for entry in fs::read_dir(&log)? {
            let text = fs::read_to_string(entry?.path())?;
            times.extend(text.lines().filter_map(|line| {
                Some(Duration::from_micros(line.split(' ').nth(2)?.parse().ok()?))
            }));
        }
        fs::remove_dir_all(&log)?;
        let readings = f64::from(each * CONNECTIONS);
        if times.len() != usize::try_from(each * CONNECTIONS)? {
            return Err(format!("pgbench wrote {} of {readings} readings", times.len()).into());
        }
        Ok((Duration::from_secs_f64(readings / rate), times))
    }
}

/// Gives the samples numbered ids, so that each of pgbench's transactions names one of its own,
/// and takes away their results: the service writes later versions over them, pgbench inserts.
pub(crate) async fn renumber(owner: &mut AsyncPgConnection) -> Result<(), Failure> {
    let id = sample_id("lpad(to_hex(number), 12, '0')");
    database::run(owner, "SET session_replication_role = replica").await?;
    database::run(
        owner,
        &format!(
            "UPDATE samples_sample AS sample SET sample_id = {id} FROM (SELECT sample_id, \
             row_number() OVER (ORDER BY sample_id) AS number FROM samples_sample) AS numbered \
             WHERE sample.sample_id = numbered.sample_id"
        ),
    )
    .await?;
    database::run(owner, "DELETE FROM results_result").await?;
    database::run(owner, "VACUUM FULL ANALYZE samples_sample").await?;
    database::run(owner, "VACUUM FULL ANALYZE results_result").await
}

/// pgbench on the PATH, else the newest of the packages.
fn program() -> Result<PathBuf, Failure> {
    let searched = std::env::var_os("PATH").unwrap_or_default();
    let mut packaged: Vec<(u32, PathBuf)> = fs::read_dir("/usr/lib/postgresql")
        .into_iter()
        .flatten()
        .flatten()
        .filter_map(|entry| {
            let version = entry.file_name().to_str()?.parse().ok()?;
            Some((version, entry.path().join("bin")))
        })
        .collect();
    packaged.sort_by_key(|(version, _)| std::cmp::Reverse(*version));
    packaged
        .into_iter()
        .map(|(_, place)| place)
        .chain(std::env::split_paths(&searched))
        .map(|place| place.join("pgbench"))
        .find(|program| program.exists())
        .ok_or_else(|| "no pgbench here: install the package postgresql-contrib".into())
}
