//! The service as a process of its own, on a port of its own, with keys of its own.

use crate::{cluster::Failure, http::Caller};
use serde_json::json;
use std::{
    fs::{self, File},
    io::Write as _,
    net::{SocketAddr, TcpListener},
    os::unix::fs::OpenOptionsExt as _,
    path::PathBuf,
    process::{Child, Command, Stdio},
    time::{Duration, Instant},
};

/// Name of the laboratory in addresses.
pub(crate) const LAB: &str = "quay";

/// Password of everybody in it: the laboratory lives as long as the bench.
pub(crate) const PASSWORD: &str = "a long sentence for the bench";

/// A directory for keys and logs, removed at the end.
pub(crate) struct Room(PathBuf);

impl Room {
    /// Makes the directory, and keys in it.
    pub(crate) fn new() -> Result<Self, Failure> {
        let path = std::env::temp_dir().join(format!("assize-bench-room-{}", std::process::id()));
        fs::create_dir_all(&path)?;
        let room = Self(path);
        for name in ["kek", "token"] {
            let mut file = File::options()
                .write(true)
                .create(true)
                .truncate(true)
                .mode(0o600)
                .open(room.path(name))?;
            file.write_all(&[b'7'; 64])?;
        }
        Ok(room)
    }

    /// A file in it.
    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.0.join(name)
    }
}

impl Drop for Room {
    fn drop(&mut self) {
        drop(fs::remove_dir_all(&self.0));
    }
}

/// A running service.
pub(crate) struct Service {
    child: Child,
    address: SocketAddr,
}

impl Service {
    /// Starts the service on a database and waits until it answers.
    ///
    /// It does not sequence: what it writes can be told apart from what the sequencer adds.
    pub(crate) async fn start(database_url: &str, room: &Room) -> Result<Self, Failure> {
        Self::begin(database_url, room, "off").await
    }

    /// Starts the service on a database, its sequencer running, and waits until it answers.
    pub(crate) async fn start_sequencing(database_url: &str, room: &Room) -> Result<Self, Failure> {
        Self::begin(database_url, room, "on").await
    }

    async fn begin(database_url: &str, room: &Room, sequencer: &str) -> Result<Self, Failure> {
        let address = TcpListener::bind("127.0.0.1:0")?.local_addr()?;
        let log = File::options()
            .create(true)
            .append(true)
            .open(room.path("service.log"))?;
        let child = Command::new(env!("CARGO_BIN_EXE_assize"))
            .arg("serve")
            .env("DATABASE_URL", database_url)
            .env("ASSIZE_LISTEN", address.to_string())
            .env("ASSIZE_PUBLIC_URL", format!("http://{address}"))
            .env("ASSIZE_KEY_FILE", room.path("kek"))
            .env("ASSIZE_TOKEN_KEY_FILE", room.path("token"))
            .env(
                "ASSIZE_STATE_DIR",
                room.path(&format!("state-{}", address.port())),
            )
            .env("ASSIZE_SEQUENCER", sequencer)
            .env_remove("MIGRATION_DATABASE_URL")
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(log)
            .spawn()?;
        let mut service = Self { child, address };
        let begun = Instant::now();
        while !service.answers().await {
            if let Some(status) = service.child.try_wait()? {
                let said = fs::read_to_string(room.path("service.log")).unwrap_or_default();
                return Err(format!("the service ended at its start ({status}): {said}").into());
            }
            if begun.elapsed() > Duration::from_secs(30) {
                return Err("the service did not answer within 30 s".into());
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
        Ok(service)
    }

    async fn answers(&self) -> bool {
        let Ok(mut connection) = self.anonymous().connect().await else {
            return false;
        };
        connection
            .send("GET", "/health", "application/json", "", b"")
            .await
            .is_ok_and(|answer| answer.check(200, "/health").is_ok())
    }

    /// Its process id.
    pub(crate) fn pid(&self) -> u32 {
        self.child.id()
    }

    fn anonymous(&self) -> Caller {
        Caller {
            address: self.address,
            token: None,
        }
    }

    /// Signs in somebody of the laboratory.
    pub(crate) async fn sign_in(&self, login: &str) -> Result<Caller, Failure> {
        let anonymous = self.anonymous();
        let body = json!({"login": login, "password": PASSWORD});
        let signed = anonymous
            .send("POST", &in_lab("/tokens"), None, &body, 200)
            .await?;
        Ok(Caller {
            token: signed
                .get("access_token")
                .and_then(serde_json::Value::as_str)
                .map(str::to_owned),
            ..anonymous
        })
    }

    /// Asks it to end, and waits until it did.
    pub(crate) fn stop(mut self) -> Result<(), Failure> {
        Command::new("kill")
            .args(["-TERM", &self.child.id().to_string()])
            .status()?;
        let begun = Instant::now();
        while self.child.try_wait()?.is_none() {
            if begun.elapsed() > Duration::from_secs(15) {
                return Err("the service did not stop within 15 s".into());
            }
            std::thread::sleep(Duration::from_millis(20));
        }
        Ok(())
    }
}

impl Drop for Service {
    fn drop(&mut self) {
        // Ended already, unless something failed on the way.
        drop(self.child.kill());
        drop(self.child.wait());
    }
}

/// An address in the laboratory.
pub(crate) fn in_lab(path: &str) -> String {
    format!("/v1/laboratories/{LAB}{path}")
}
