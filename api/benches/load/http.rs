//! A client that costs next to nothing: HTTP/1.1 over one connection that is kept open.
//!
//! Refuses answers without a stated length: the service always states it.

use crate::cluster::Failure;
use serde_json::Value;
use std::{
    net::SocketAddr,
    sync::atomic::{AtomicU64, Ordering},
};
use tokio::{
    io::{AsyncBufReadExt as _, AsyncReadExt as _, AsyncWriteExt as _, BufReader},
    net::TcpStream,
};

static NEXT_KEY: AtomicU64 = AtomicU64::new(0);

/// A connection of somebody who calls.
pub(crate) struct Connection {
    stream: BufReader<TcpStream>,
    head: String,
    line: String,
    body: Vec<u8>,
}

/// Who calls, and where.
#[derive(Debug, Clone)]
pub(crate) struct Caller {
    /// The service.
    pub(crate) address: SocketAddr,
    /// The access token, once signed in.
    pub(crate) token: Option<String>,
}

impl Caller {
    /// Opens a connection.
    pub(crate) async fn connect(&self) -> Result<Connection, Failure> {
        let stream = TcpStream::connect(self.address).await?;
        stream.set_nodelay(true)?;
        let token = self
            .token
            .as_ref()
            .map(|token| format!("Authorization: Bearer {token}\r\n"))
            .unwrap_or_default();
        Ok(Connection {
            stream: BufReader::with_capacity(16 << 10, stream),
            head: format!("Host: {}\r\n{token}", self.address),
            line: String::new(),
            body: Vec::new(),
        })
    }

    /// Sends one request over a connection of its own; the answer has to have this status.
    pub(crate) async fn send(
        &self,
        method: &str,
        path: &str,
        version: Option<u32>,
        body: &Value,
        due: u16,
    ) -> Result<Value, Failure> {
        let more = version.map(|version| format!("If-Match: \"{version}\"\r\n"));
        let mut connection = self.connect().await?;
        connection
            .send(
                method,
                path,
                "application/json",
                &more.unwrap_or_default(),
                body.to_string().as_bytes(),
            )
            .await?
            .due(due, path)
    }

    /// Creates something; its id.
    pub(crate) async fn create(&self, path: &str, body: &Value) -> Result<String, Failure> {
        let made = self.send("POST", path, None, body, 201).await?;
        Ok(made
            .get("id")
            .and_then(Value::as_str)
            .ok_or_else(|| format!("{path} made something without an id"))?
            .to_owned())
    }
}

/// What was answered.
pub(crate) struct Answer<'a> {
    status: u16,
    body: &'a [u8],
}

impl Answer<'_> {
    /// The body, where the status is the one that is due.
    pub(crate) fn due(&self, status: u16, what: &str) -> Result<Value, Failure> {
        self.check(status, what)?;
        Ok(serde_json::from_slice(self.body).unwrap_or(Value::Null))
    }

    /// Refuses any other status.
    pub(crate) fn check(&self, status: u16, what: &str) -> Result<(), Failure> {
        if self.status == status {
            return Ok(());
        }
        let said = String::from_utf8_lossy(self.body);
        Err(format!("{what} was answered with {}: {said:.2000}", self.status).into())
    }
}

impl Connection {
    /// Sends a request with an idempotency key of its own, and reads the answer.
    pub(crate) async fn send(
        &mut self,
        method: &str,
        path: &str,
        media_type: &str,
        more: &str,
        body: &[u8],
    ) -> Result<Answer<'_>, Failure> {
        let key = NEXT_KEY.fetch_add(1, Ordering::Relaxed);
        let mut request = format!(
            "{method} {path} HTTP/1.1\r\n{}Content-Type: {media_type}\r\n\
             Idempotency-Key: \"bench-{}-{key}\"\r\n{more}Content-Length: {}\r\n\r\n",
            self.head,
            std::process::id(),
            body.len()
        )
        .into_bytes();
        request.extend_from_slice(body);
        self.stream.get_mut().write_all(&request).await?;
        self.answer().await
    }

    async fn answer(&mut self) -> Result<Answer<'_>, Failure> {
        let status = self
            .next_line()
            .await?
            .split(' ')
            .nth(1)
            .and_then(|word| word.parse().ok())
            .ok_or("the answer has no status line")?;
        let mut length = None;
        loop {
            let line = self.next_line().await?;
            if line.is_empty() {
                break;
            }
            if let Some((name, value)) = line.split_once(':')
                && name.eq_ignore_ascii_case("content-length")
            {
                length = value.trim().parse::<usize>().ok();
            }
        }
        let length = length.ok_or("the answer does not state its length")?;
        self.body.resize(length, 0);
        self.stream.read_exact(&mut self.body).await?;
        Ok(Answer {
            status,
            body: &self.body,
        })
    }

    async fn next_line(&mut self) -> Result<&str, Failure> {
        self.line.clear();
        if self.stream.read_line(&mut self.line).await? == 0 {
            return Err("the service closed the connection".into());
        }
        Ok(self.line.trim_end())
    }
}
