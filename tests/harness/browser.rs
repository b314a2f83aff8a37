//! A headless Chromium of its own for one test, driven through chromedriver.
//!
//! Refuses to skip: where either is missing, it panics and says what to install.
#![expect(clippy::panic, reason = "without a browser no page can be looked at")]

use fantoccini::{Client, ClientBuilder, Locator};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::json;
use std::{
    io::{BufRead as _, BufReader},
    path::PathBuf,
    process::{Child, Command, Stdio},
    sync::atomic::{AtomicU64, Ordering},
};

static NEXT: AtomicU64 = AtomicU64::new(0);

/// The browser; it ends with this value.
pub(crate) struct Browser {
    pub(crate) client: Client,
    driver: Child,
    profile: PathBuf,
}

impl Browser {
    /// Starts one, its window this wide and high.
    pub(crate) async fn start(width: u32, height: u32) -> Self {
        let mut driver = Command::new("chromedriver")
            .arg("--port=0")
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap_or_else(|fault| {
                panic!("chromedriver: {fault}; install the packages chromium and chromium-driver")
            });
        let port = BufReader::new(driver.stdout.take().unwrap())
            .lines()
            .map_while(Result::ok)
            .find_map(|line| {
                let (_, port) = line.split_once("successfully on port ")?;
                port.trim_end_matches('.').parse::<u16>().ok()
            })
            .unwrap();
        let profile = std::env::temp_dir().join(format!(
            "assize-browser-{}-{}",
            std::process::id(),
            NEXT.fetch_add(1, Ordering::Relaxed)
        ));
        let capabilities = json!({"goog:chromeOptions": {"args": [
            "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
            "--disable-dev-shm-usage", "--disable-background-networking",
            "--disable-component-update", "--disable-sync", "--hide-scrollbars",
            format!("--window-size={width},{height}"),
            format!("--user-data-dir={}", profile.display()),
        ]}});
        let client = ClientBuilder::new(HttpConnector::new())
            .capabilities(capabilities.as_object().unwrap().clone())
            .connect(&format!("http://127.0.0.1:{port}"))
            .await
            .unwrap();
        Self {
            client,
            driver,
            profile,
        }
    }

    /// The text of the first element that a selector finds, once it is there.
    pub(crate) async fn text(&self, selector: &str) -> String {
        let element = self
            .client
            .wait()
            .for_element(Locator::Css(selector))
            .await
            .unwrap();
        element.text().await.unwrap()
    }

    /// An element, once the page has it: a click may still be loading the next page.
    async fn element(&self, selector: &str) -> fantoccini::elements::Element {
        let wait = self.client.wait();
        wait.for_element(Locator::Css(selector)).await.unwrap()
    }

    /// Types into a field.
    pub(crate) async fn fill(&self, selector: &str, text: &str) {
        let field = self.element(selector).await;
        field.clear().await.unwrap();
        field.send_keys(text).await.unwrap();
    }

    /// Clicks.
    pub(crate) async fn click(&self, selector: &str) {
        let element = self.element(selector).await;
        element.click().await.unwrap();
    }

    /// Keeps a picture of the page in the directory of `ASSIZE_SCREENSHOTS`, where that is set.
    pub(crate) async fn keep_picture(&self, name: &str) {
        let Some(directory) = std::env::var_os("ASSIZE_SCREENSHOTS") else {
            return;
        };
        let path = PathBuf::from(directory).join(format!("{name}.png"));
        std::fs::write(path, self.client.screenshot().await.unwrap()).unwrap();
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        let _ended = self.driver.kill();
        let _status = self.driver.wait();
        let _removed = std::fs::remove_dir_all(&self.profile);
    }
}
