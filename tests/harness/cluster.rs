//! A PostgreSQL for tests and for the bench, shared by all processes that ask for one.
//!
//! Promises a server whose login is a superuser: the one of `TEST_DATABASE_URL`; else a container,
//! where a Docker engine answers; else a throw-away cluster of the binaries on this machine. The
//! path taken is printed. A test runner may start a process per test, so the server is started
//! once, under a file lock, and found again by a note in `var/`; it is ended when nobody has used
//! it for a minute, however its users ended (`end_cluster.sh`).
//!
//! Refuses to touch a cluster that it did not make, and never skips: where there is no PostgreSQL
//! to be had, it panics and says what to install.
#![expect(clippy::panic, reason = "without a database no test can say anything")]

use std::error::Error;
use std::fs::{self, File};
use std::io::Read;
use std::os::unix::fs::{MetadataExt, PermissionsExt};
use std::os::unix::net::UnixStream;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use testcontainers_modules::postgres::Postgres;
use testcontainers_modules::testcontainers::runners::AsyncRunner;
use testcontainers_modules::testcontainers::{ContainerAsync, ImageExt};

/// What went wrong, in words for the developer's terminal.
pub(crate) type Failure = Box<dyn Error + Send + Sync>;

/// The superuser of the servers made here, and the owner of what migrations make.
const SUPERUSER: &str = "assize_owner";

/// Ends the server once its last user is gone.
const END_CLUSTER: &str = include_str!("end_cluster.sh");

/// Seconds without a user after which a server is ended.
const PATIENCE_SECONDS: &str = "60";

/// A server, and a lock that keeps it running for as long as this value lives.
pub(crate) struct Server {
    /// URL of its maintenance database, as a superuser.
    pub(crate) url: String,
    _in_use: Option<File>,
}

/// Finds the server for `purpose`, or starts it with `settings` (`name=value`).
///
/// Blocks while it starts, about two seconds.
pub(crate) fn server(purpose: &str, settings: &[&str]) -> Server {
    find_or_start(purpose, settings)
        .unwrap_or_else(|failure| panic!("no PostgreSQL for {purpose}: {failure}"))
}

fn find_or_start(purpose: &str, settings: &[&str]) -> Result<Server, Failure> {
    if let Ok(url) = std::env::var("TEST_DATABASE_URL")
        && !url.is_empty()
    {
        eprintln!("PostgreSQL: the server of TEST_DATABASE_URL");
        return Ok(Server { url, _in_use: None });
    }
    let room = Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .ok_or("the package has no parent directory")?
        .join("var")
        .join(format!("{purpose}-cluster"));
    fs::create_dir_all(&room).map_err(|e| format!("cannot make {}: {e}", room.display()))?;
    let start = lock_file(&room.join("start.lock"))?;
    start.lock()?;
    // The shared lock is taken while nobody can decide that the server has no user left.
    let in_use = lock_file(&room.join("in-use"))?;
    in_use.lock_shared()?;
    let note = room.join("state");
    let url = match found(&note) {
        Some(url) => url,
        None => start_new(purpose, settings, &room, &note)?,
    };
    Ok(Server {
        url,
        _in_use: Some(in_use),
    })
}

fn lock_file(path: &Path) -> Result<File, Failure> {
    File::options()
        .create(true)
        .truncate(false)
        .write(true)
        .open(path)
        .map_err(|e| format!("cannot open {}: {e}", path.display()).into())
}

/// The server of the note, when it still answers; what is left of a dead one is removed.
fn found(note: &Path) -> Option<String> {
    let text = fs::read_to_string(note).ok()?;
    let value = |name: &str| {
        text.lines()
            .find_map(|line| line.strip_prefix(name)?.strip_prefix('='))
            .map(str::to_owned)
    };
    if let (Some(_), Some(url), Some(address)) =
        (value("container"), value("url"), value("address"))
        && answers(&address)
    {
        eprintln!("PostgreSQL: the container started before, at {address}");
        return Some(url);
    }
    if let Some(directory) = value("directory").map(PathBuf::from) {
        let ready = postmaster_of(&directory).is_some()
            && UnixStream::connect(directory.join(".s.PGSQL.5432")).is_ok();
        if ready {
            eprintln!(
                "PostgreSQL: the throw-away cluster in {}",
                directory.display()
            );
            return Some(socket_url(&directory));
        }
        discard(&directory);
    }
    None
}

fn answers(address: &str) -> bool {
    std::net::TcpStream::connect(address).is_ok()
}

fn start_new(
    purpose: &str,
    settings: &[&str],
    room: &Path,
    note: &Path,
) -> Result<String, Failure> {
    if docker_answers() {
        match start_container(settings) {
            Ok((id, address, url)) => {
                keep_note(
                    note,
                    &format!("container={id}\naddress={address}\nurl={url}\n"),
                )?;
                end_when_idle(room)?;
                eprintln!("PostgreSQL: a container, at {address}");
                return Ok(url);
            }
            Err(failure) => eprintln!("the Docker engine gives no PostgreSQL: {failure}"),
        }
    }
    let binaries = binaries()?;
    let account = account()?;
    let directory = make_directory(purpose, &account)?;
    // Noted before it runs, so that one whose start was cut off is found and removed.
    keep_note(note, &format!("directory={}\n", directory.display()))?;
    start_cluster(&binaries, &account, &directory, settings)?;
    end_when_idle(room)?;
    eprintln!(
        "PostgreSQL: a throw-away cluster in {}",
        directory.display()
    );
    Ok(socket_url(&directory))
}

fn keep_note(note: &Path, text: &str) -> Result<(), Failure> {
    let new = note.with_extension("new");
    fs::write(&new, text)?;
    fs::set_permissions(&new, fs::Permissions::from_mode(0o600))?;
    fs::rename(&new, note)?;
    Ok(())
}

/// Starts the watch that outlives this process, in a session of its own.
fn end_when_idle(room: &Path) -> Result<(), Failure> {
    let mut watch = Command::new("setsid");
    watch
        .args(["sh", "-c", END_CLUSTER, "end_cluster"])
        .arg(room)
        .arg(PATIENCE_SECONDS);
    silent(&mut watch)
        .spawn()
        .map_err(|e| format!("cannot run setsid: {e}"))?;
    Ok(())
}

/// A daemon that keeps the runner's pipes open would make the runner wait for it.
pub(super) fn silent(command: &mut Command) -> &mut Command {
    command
        .current_dir("/")
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
}

fn docker_answers() -> bool {
    std::env::var("DOCKER_HOST").is_ok_and(|host| !host.is_empty())
        || UnixStream::connect("/var/run/docker.sock").is_ok()
}

/// Starts a container on a runtime of its own, so that no test's runtime takes it down.
fn start_container(settings: &[&str]) -> Result<(String, String, String), Failure> {
    let mut arguments = vec!["postgres".to_owned()];
    arguments.extend(
        settings
            .iter()
            .flat_map(|s| ["-c".to_owned(), (*s).to_owned()]),
    );
    let starter = std::thread::spawn(move || -> Result<(String, String, String), Failure> {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()?;
        runtime.block_on(async {
            let container: ContainerAsync<Postgres> = Postgres::default()
                .with_user(SUPERUSER)
                .with_tag("17")
                .with_env_var("POSTGRES_INITDB_ARGS", "--encoding=UTF8 --locale=C.UTF-8")
                .with_cmd(arguments)
                .start()
                .await?;
            let host = container.get_host().await?;
            let port = container.get_host_port_ipv4(5432).await?;
            let id = container.id().to_owned();
            // Dropping it would end it under the tests of other processes.
            std::mem::forget(container);
            let address = format!("{host}:{port}");
            let url = format!("postgres://{SUPERUSER}:postgres@{address}/postgres");
            Ok((id, address, url))
        })
    });
    starter
        .join()
        .map_err(|_panic| "starting the container panicked")?
}

/// The directory with the newest server binaries of this machine.
pub(super) fn binaries() -> Result<PathBuf, Failure> {
    let complete = |path: &PathBuf| path.join("initdb").exists() && path.join("postgres").exists();
    let configured = Command::new("pg_config")
        .arg("--bindir")
        .output()
        .ok()
        .map(|out| PathBuf::from(String::from_utf8_lossy(&out.stdout).trim()));
    let mut packaged: Vec<(u32, PathBuf)> = fs::read_dir("/usr/lib/postgresql")
        .into_iter()
        .flatten()
        .filter_map(Result::ok)
        .filter_map(|e| Some((e.file_name().to_str()?.parse().ok()?, e.path().join("bin"))))
        .collect();
    packaged.sort_by_key(|(version, _)| std::cmp::Reverse(*version));
    let searched = std::env::var_os("PATH").unwrap_or_default();
    configured
        .into_iter()
        .chain(packaged.into_iter().map(|(_, path)| path))
        .chain(std::env::split_paths(&searched))
        .find(complete)
        .ok_or_else(|| {
            "no server binaries (pg_config --bindir, /usr/lib/postgresql/*/bin, PATH): \
             install the package postgresql, or set TEST_DATABASE_URL"
                .into()
        })
}

/// The account that the server runs as when this process is root: PostgreSQL refuses to be root.
pub(super) fn account() -> Result<Option<String>, Failure> {
    if fs::metadata("/proc/self")?.uid() != 0 {
        return Ok(None);
    }
    let passwords = fs::read_to_string("/etc/passwd")?;
    ["postgres", "nobody"]
        .into_iter()
        .find(|name| {
            passwords
                .lines()
                .any(|line| line.starts_with(&format!("{name}:")))
        })
        .map(|name| Some(name.to_owned()))
        .ok_or_else(|| "root cannot run PostgreSQL, and there is no user postgres".into())
}

/// A command run as the server's account.
pub(super) fn as_account(account: &Option<String>, program: &Path) -> Command {
    match account {
        None => Command::new(program),
        Some(name) => {
            let mut command = Command::new("runuser");
            command.args(["-u", name, "--"]).arg(program);
            command
        }
    }
}

/// Makes a directory that only the account can enter: whoever reaches the socket is trusted.
pub(super) fn make_directory(purpose: &str, account: &Option<String>) -> Result<PathBuf, Failure> {
    let places = [
        std::env::temp_dir(),
        PathBuf::from("/tmp"),
        PathBuf::from("/var/tmp"),
    ];
    for place in places {
        let template = place.join(format!("assize-{purpose}-XXXXXXXX"));
        // A socket's path has to fit into 107 bytes.
        if template.as_os_str().len() > 80 {
            continue;
        }
        let made = as_account(account, Path::new("mktemp"))
            .arg("-d")
            .arg(&template)
            .current_dir("/")
            .output()?;
        if made.status.success() {
            let path = String::from_utf8(made.stdout)?;
            return Ok(fs::canonicalize(path.trim_end())?);
        }
    }
    Err("no temporary directory that the server's account may write to".into())
}

pub(super) fn start_cluster(
    binaries: &Path,
    account: &Option<String>,
    directory: &Path,
    settings: &[&str],
) -> Result<(), Failure> {
    let data = directory.join("data");
    let log = directory.join("log");
    let initdb = as_account(account, &binaries.join("initdb"))
        .args([
            "--no-sync",
            "--auth=trust",
            "--encoding=UTF8",
            "--locale=C.UTF-8",
            "-U",
        ])
        .arg(SUPERUSER)
        .arg("-D")
        .arg(&data)
        .current_dir("/")
        .stdin(Stdio::null())
        .output()?;
    if !initdb.status.success() {
        return Err(format!("initdb: {}", String::from_utf8_lossy(&initdb.stderr)).into());
    }
    let mut options = format!("-c listen_addresses= -k {} -p 5432", directory.display());
    for setting in settings {
        options.push_str(" -c ");
        options.push_str(setting);
    }
    let mut start = as_account(account, &binaries.join("pg_ctl"));
    start
        .args(["start", "-w", "-t", "60", "-s", "-o", &options, "-D"])
        .arg(&data)
        .arg("-l");
    let status = silent(start.arg(&log)).status()?;
    if !status.success() {
        let said = fs::read_to_string(&log).unwrap_or_default();
        return Err(format!(
            "the cluster in {} did not start: {said}",
            directory.display()
        )
        .into());
    }
    Ok(())
}

/// URL of the maintenance database through the socket in `directory`.
pub(super) fn socket_url(directory: &Path) -> String {
    let host = directory
        .to_string_lossy()
        .replace('%', "%25")
        .replace('/', "%2F");
    format!("postgres://{SUPERUSER}@{host}/postgres")
}

/// Process id of the server in `directory`; a stale file that names another process gives none.
pub(super) fn postmaster_of(directory: &Path) -> Option<u32> {
    let data = directory.join("data");
    let mut text = String::new();
    File::open(data.join("postmaster.pid"))
        .ok()?
        .read_to_string(&mut text)
        .ok()?;
    let pid: u32 = text.lines().next()?.trim().parse().ok()?;
    let works_in = fs::read_link(format!("/proc/{pid}/cwd")).ok()?;
    (works_in == data).then_some(pid)
}

/// Removes a cluster made here that does not answer any more.
pub(super) fn discard(directory: &Path) {
    let ours = directory
        .file_name()
        .is_some_and(|name| name.to_string_lossy().starts_with("assize-"));
    if !ours {
        return;
    }
    if let Some(pid) = postmaster_of(directory) {
        let _ended = Command::new("kill")
            .args(["-QUIT", &pid.to_string()])
            .status();
        let begun = Instant::now();
        while postmaster_of(directory).is_some() && begun.elapsed() < Duration::from_secs(10) {
            std::thread::sleep(Duration::from_millis(50));
        }
    }
    if let Err(failure) = fs::remove_dir_all(directory)
        && directory.exists()
    {
        eprintln!("{} could not be removed: {failure}", directory.display());
    }
}
