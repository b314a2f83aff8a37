//! The service as a process of its own, which a test may let die.

use super::callers::TestApp;
use std::{
    process::{Child, Command, Stdio},
    time::{Duration, Instant},
};

/// A running service; it is ended when this goes.
pub(crate) struct Service(Child);

impl Service {
    /// Starts the service of a laboratory that was set up, with further settings, and waits until
    /// it answers.
    pub(crate) async fn start(app: &TestApp, settings: &[(&str, &str)]) -> Self {
        let config = &app.state.config;
        let child = Command::new(env!("CARGO_BIN_EXE_assize"))
            .arg("serve")
            .env_clear()
            .env("DATABASE_URL", &config.database_url)
            .env("ASSIZE_LISTEN", config.listen.to_string())
            .env("ASSIZE_PUBLIC_URL", &config.public_url)
            .env("ASSIZE_KEY_FILE", &config.key_file)
            .env("ASSIZE_TOKEN_KEY_FILE", &config.token_key_file)
            .env("ASSIZE_STATE_DIR", &config.state_directory)
            .envs(settings.iter().copied())
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut service = Self(child);
        let begun = Instant::now();
        let health = format!("{}/health", app.base);
        while reqwest::get(&health).await.is_err() {
            assert!(service.0.try_wait().unwrap().is_none(), "it ended at once");
            assert!(begun.elapsed() < Duration::from_secs(30), "no answer");
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
        service
    }

    /// Whether it ends by itself within so many seconds.
    pub(crate) async fn ends_within(&mut self, seconds: u64) -> bool {
        let begun = Instant::now();
        while self.0.try_wait().unwrap().is_none() {
            if begun.elapsed() > Duration::from_secs(seconds) {
                return false;
            }
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
        true
    }
}

impl Drop for Service {
    fn drop(&mut self) {
        // SIGKILL: nothing may depend on a service that tidies up.
        drop(self.0.kill());
        drop(self.0.wait());
    }
}
