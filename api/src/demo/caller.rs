//! Somebody who calls the service over HTTP, as any client would.

use crate::{
    demo::SLUG,
    error::{Answer, ApiError},
};
use awc::{Client, http::Method};
use serde_json::{Value, json};
use sha2::{Digest as _, Sha256};
use std::time::Duration;

/// A signed-in caller of the demo laboratory.
#[derive(Clone)]
pub(crate) struct Caller {
    url: String,
    token: String,
    http: Client,
}

/// What was answered.
pub(crate) struct Answered {
    pub(crate) status: u16,
    pub(crate) body: Value,
}

impl Caller {
    /// Signs in.
    pub(crate) async fn sign_in(url: &str, login: &str, password: &str) -> Answer<Self> {
        Self::with(url, &json!({"login": login, "password": password})).await
    }

    /// Signs in with these credentials: a person's, or a client's.
    pub(crate) async fn with(url: &str, credentials: &Value) -> Answer<Self> {
        let mut caller = Self {
            url: url.trim_end_matches('/').to_owned(),
            token: String::new(),
            http: Client::builder().timeout(Duration::from_secs(120)).finish(),
        };
        let answered = caller
            .send(Method::POST, "/tokens", None, credentials)
            .await?;
        caller.token = answered
            .body
            .get("access_token")
            .and_then(Value::as_str)
            .ok_or_else(|| refusal("/tokens", &answered))?
            .to_owned();
        Ok(caller)
    }

    /// POSTs once: the key is a digest of the request, so that starting again repeats nothing.
    pub(crate) async fn post(&self, path: &str, body: &Value) -> Answer<Value> {
        let answered = self.send(Method::POST, path, None, body).await?;
        made(path, answered)
    }

    /// POSTs on a version that was seen.
    pub(crate) async fn post_seen(&self, path: &str, version: i64, body: &Value) -> Answer<Value> {
        let answered = self.send(Method::POST, path, Some(version), body).await?;
        made(path, answered)
    }

    /// PUTs on a version that was seen.
    pub(crate) async fn put(&self, path: &str, version: i64, body: &Value) -> Answer<Value> {
        let answered = self.send(Method::PUT, path, Some(version), body).await?;
        made(path, answered)
    }

    /// POSTs bytes as they are.
    pub(crate) async fn post_bytes(
        &self,
        path: &str,
        media: &str,
        bytes: Vec<u8>,
    ) -> Answer<Value> {
        let key = key(path, &bytes);
        let mut answered = self
            .http
            .post(self.address(path))
            .bearer_auth(&self.token)
            .insert_header(("Idempotency-Key", key))
            .insert_header(("Content-Type", media))
            .send_body(bytes)
            .await
            .map_err(unreachable)?;
        let status = answered.status().as_u16();
        let body = answered.body().limit(64 << 20).await.map_err(unreachable)?;
        let body = serde_json::from_slice(&body).unwrap_or_default();
        made(path, Answered { status, body })
    }

    /// GETs.
    pub(crate) async fn get(&self, path: &str) -> Answer<Value> {
        let answered = self.send(Method::GET, path, None, &Value::Null).await?;
        made(path, answered)
    }

    /// The first item of a list with this code, where there is one.
    pub(crate) async fn by_code(
        &self,
        list: &str,
        member: &str,
        code: &str,
    ) -> Answer<Option<Value>> {
        let mut after = String::new();
        loop {
            let page = self.get(&format!("{list}?limit=200{after}")).await?;
            let items = page
                .get("items")
                .and_then(Value::as_array)
                .cloned()
                .unwrap_or_default();
            let found = items
                .iter()
                .find(|item| item.get(member).and_then(Value::as_str) == Some(code));
            if let Some(found) = found {
                return Ok(Some(found.clone()));
            }
            let Some(last) = items.last().filter(|_| items.len() >= 200) else {
                return Ok(None);
            };
            after = format!("&after={}", text(last, "id"));
        }
    }

    /// Registers something with a code, or finds it again.
    pub(crate) async fn ensure(&self, list: &str, code: &str, body: &Value) -> Answer<Value> {
        match self.by_code(list, "code", code).await? {
            Some(found) => Ok(found),
            None => self.post(list, body).await,
        }
    }

    fn address(&self, path: &str) -> String {
        format!("{}/v1/laboratories/{SLUG}{path}", self.url)
    }

    async fn send(
        &self,
        method: Method,
        path: &str,
        seen: Option<i64>,
        body: &Value,
    ) -> Answer<Answered> {
        let bytes = serde_json::to_vec(body).map_err(ApiError::internal)?;
        let mut request = self
            .http
            .request(method.clone(), self.address(path))
            .bearer_auth(&self.token);
        if method == Method::POST {
            request = request.insert_header(("Idempotency-Key", key(path, &bytes)));
        }
        if let Some(version) = seen {
            request = request.insert_header(("If-Match", format!("\"{version}\"")));
        }
        let sent = if method == Method::GET {
            request.send()
        } else {
            request.content_type("application/json").send_body(bytes)
        };
        let mut answered = sent.await.map_err(unreachable)?;
        let status = answered.status().as_u16();
        let body = answered.body().limit(64 << 20).await.map_err(unreachable)?;
        Ok(Answered {
            status,
            body: serde_json::from_slice(&body).unwrap_or_default(),
        })
    }
}

fn key(path: &str, bytes: &[u8]) -> String {
    let digest = Sha256::new()
        .chain_update(path)
        .chain_update([0])
        .chain_update(bytes)
        .finalize();
    let hex: String = digest.iter().map(|byte| format!("{byte:02x}")).collect();
    format!("\"{hex}\"")
}

fn unreachable(error: impl std::fmt::Display) -> ApiError {
    ApiError::Unavailable(format!("the service does not answer: {error}").into())
}

fn made(path: &str, answered: Answered) -> Answer<Value> {
    if (200..300).contains(&answered.status) {
        return Ok(answered.body);
    }
    Err(refusal(path, &answered))
}

fn refusal(path: &str, answered: &Answered) -> ApiError {
    ApiError::internal(format!(
        "{path} was answered {}: {}",
        answered.status, answered.body
    ))
}

/// A text member of what was answered; empty where it is not there.
pub(crate) fn text(value: &Value, member: &str) -> String {
    value
        .get(member)
        .and_then(Value::as_str)
        .unwrap_or_default()
        .to_owned()
}

/// The version of what was answered.
pub(crate) fn version(value: &Value) -> i64 {
    value.get("version").and_then(Value::as_i64).unwrap_or(1)
}
