//! A PostgreSQL of one test's own, which it may kill.
//!
//! Promises that killing it ends every process of it at once, whatever they do; what they wrote to
//! the operating system stays, so it need not wait for the disk. Needs the server's binaries on
//! this machine.
#![expect(clippy::panic, reason = "without a database no test can say anything")]

use super::{
    cluster::{
        Failure, account, as_account, binaries, discard, make_directory, postmaster_of, silent,
        socket_url, start_cluster,
    },
    database::TestDatabase,
};
use diesel_async::{AsyncConnection as _, AsyncPgConnection, SimpleAsyncConnection as _};
use std::{
    fs,
    path::PathBuf,
    process::Command,
    time::{Duration, Instant},
};

/// The server; it is removed with this value.
pub(crate) struct OwnCluster {
    directory: PathBuf,
}

impl OwnCluster {
    /// Makes and starts one. Blocks for some seconds.
    pub(crate) fn start() -> Self {
        let started = || -> Result<PathBuf, Failure> {
            let (binaries, account) = (binaries()?, account()?);
            let directory = make_directory("own", &account)?;
            start_cluster(&binaries, &account, &directory, &["fsync=off"])?;
            Ok(directory)
        };
        match started() {
            Ok(directory) => Self { directory },
            Err(failure) => panic!("no PostgreSQL to kill: {failure}"),
        }
    }

    /// An empty database in it, migrated.
    pub(crate) async fn database<M>(&self, migrate: M) -> TestDatabase
    where
        M: AsyncFnOnce(String) -> Result<(), Failure>,
    {
        let url = socket_url(&self.directory);
        let made = async {
            let mut admin = AsyncPgConnection::establish(&url).await?;
            admin.batch_execute("CREATE DATABASE assize_own").await?;
            let url = format!("{}/assize_own", url.trim_end_matches("/postgres"));
            migrate(url.clone()).await?;
            Ok::<_, Failure>(TestDatabase {
                owner_url: url.clone(),
                service_url: url,
                name: "assize_own".into(),
            })
        };
        made.await
            .unwrap_or_else(|failure| panic!("no database in the own PostgreSQL: {failure}"))
    }

    /// Ends every process of it at once, whatever they do.
    pub(crate) fn kill(&self) {
        let Some(postmaster) = postmaster_of(&self.directory) else {
            panic!("it does not run");
        };
        let mut ended = vec![postmaster];
        ended.extend(children_of(postmaster));
        let pids: Vec<String> = ended.iter().map(u32::to_string).collect();
        let killed = Command::new("kill").arg("-9").args(&pids).status();
        assert!(killed.is_ok(), "{killed:?}");
        let begun = Instant::now();
        while ended.iter().any(|pid| is_running(*pid)) {
            assert!(begun.elapsed() < Duration::from_secs(10), "it lives on");
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    /// Starts it again on the same data. Blocks until it has recovered.
    pub(crate) fn start_again(&self) {
        let again = || -> Result<(), Failure> {
            // Nobody runs on it, but a process that nobody waited for keeps its number.
            for left in ["data/postmaster.pid", ".s.PGSQL.5432.lock"] {
                fs::remove_file(self.directory.join(left))?;
            }
            let options = format!(
                "-c listen_addresses= -k {} -p 5432 -c fsync=off",
                self.directory.display()
            );
            let mut start = as_account(&account()?, &binaries()?.join("pg_ctl"));
            start.args(["start", "-w", "-t", "60", "-s", "-o", &options, "-D"]);
            start.arg(self.directory.join("data")).arg("-l");
            let status = silent(start.arg(self.directory.join("log"))).status()?;
            match status.success() {
                true => Ok(()),
                false => Err(fs::read_to_string(self.directory.join("log"))?.into()),
            }
        };
        if let Err(failure) = again() {
            panic!("it did not start again: {failure}");
        }
    }
}

impl Drop for OwnCluster {
    fn drop(&mut self) {
        discard(&self.directory);
    }
}

/// The fields of `/proc/PID/stat` after the program's name, which may hold anything.
fn stat(pid: u32) -> Option<Vec<String>> {
    let text = fs::read_to_string(format!("/proc/{pid}/stat")).ok()?;
    let (_, rest) = text.rsplit_once(')')?;
    Some(rest.split_whitespace().map(str::to_owned).collect())
}

fn children_of(parent: u32) -> Vec<u32> {
    let processes = fs::read_dir("/proc").into_iter().flatten().flatten();
    processes
        .filter_map(|entry| entry.file_name().to_str()?.parse().ok())
        .filter(|pid| stat(*pid).and_then(|stat| stat.get(1)?.parse().ok()) == Some(parent))
        .collect()
}

/// Whether a process still does anything: one that ended and was not waited for does not.
fn is_running(pid: u32) -> bool {
    stat(pid).is_some_and(|stat| stat.first().is_some_and(|state| state != "Z"))
}
