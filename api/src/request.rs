//! What a request carries, read strictly: bodies, idempotency keys, versions, pages.
//!
//! Refuses JSON with duplicate names, control characters or lone surrogates, and says which member
//! cannot be taken. Text is normalised to NFC on the way in.

use crate::{
    app::App,
    error::{Answer, ApiError},
};
use actix_web::{FromRequest, HttpRequest, dev::Payload, http::header, web};
use domain::faults::Faults;
use futures_util::future::LocalBoxFuture;
use serde::{Deserialize, de::DeserializeOwned};
use sha2::{Digest, Sha256};
use uuid::Uuid;

mod wait;

pub use wait::Wait;

/// Largest JSON body, in bytes.
pub const BODY_LIMIT_BYTES: usize = 1 << 20;

/// A body that somebody entered and that can be checked as it stands.
pub trait Entered {
    /// Every fault of the body.
    ///
    /// # Errors
    /// The faults, each with its JSON pointer.
    fn check(&self) -> Result<(), Faults>;
}

/// A JSON body that was read strictly and checked.
#[derive(Debug)]
pub struct Valid<T> {
    body: T,
    fingerprint: [u8; 32],
}

impl<T> Valid<T> {
    /// The body.
    pub fn into_inner(self) -> T {
        self.body
    }

    /// SHA-256 of the bytes as they came.
    pub fn fingerprint(&self) -> [u8; 32] {
        self.fingerprint
    }
}

impl<T> std::ops::Deref for Valid<T> {
    type Target = T;
    fn deref(&self) -> &T {
        &self.body
    }
}

/// Reads JSON strictly into a checked body.
///
/// # Errors
/// [`ApiError::Malformed`] or [`ApiError::Invalid`].
pub fn read_json<T: DeserializeOwned + Entered>(bytes: &[u8]) -> Answer<T> {
    let value = domain::ledger::strict_json::read(bytes).map_err(|fault| {
        ApiError::Malformed(format!("The body is no acceptable JSON: {fault}. Mend it."))
    })?;
    let value = normalised(value, &mut String::new())?;
    let body: T = typed(value)?;
    body.check()?;
    Ok(body)
}

/// What a JSON value stands for.
///
/// # Errors
/// [`ApiError::Invalid`], with the pointer of the member that cannot be taken.
pub(crate) fn typed<'de, T: Deserialize<'de>>(
    value: impl serde::Deserializer<'de, Error = serde_json::Error>,
) -> Answer<T> {
    serde_path_to_error::deserialize(value).map_err(|fault| {
        let pointer = pointer(fault.path());
        ApiError::field(pointer, sentence(&fault.into_inner().to_string()))
    })
}

fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|first| first.to_uppercase().to_string());
    format!("{}{}.", first.unwrap_or_default(), letters.as_str())
}

fn pointer(path: &serde_path_to_error::Path) -> String {
    use serde_path_to_error::Segment;
    path.iter()
        .filter_map(|segment| match segment {
            Segment::Seq { index } => Some(format!("/{index}")),
            Segment::Map { key } => Some(format!("/{}", escaped(key))),
            Segment::Enum { .. } | Segment::Unknown => None,
        })
        .collect()
}

fn escaped(name: &str) -> String {
    name.replace('~', "~0").replace('/', "~1")
}

/// Brings every text to NFC and refuses control characters, saying where.
fn normalised(value: serde_json::Value, path: &mut String) -> Answer<serde_json::Value> {
    use serde_json::Value;
    use unicode_normalization::{UnicodeNormalization, is_nfc};
    Ok(match value {
        Value::String(text) => {
            if text.chars().any(char::is_control) {
                return Err(ApiError::field(
                    path.clone(),
                    "The text holds a control character (a line break counts as one). Remove it.",
                ));
            }
            Value::String(if is_nfc(&text) {
                text
            } else {
                text.nfc().collect()
            })
        }
        Value::Array(items) => {
            let mut kept = Vec::with_capacity(items.len());
            for (index, item) in items.into_iter().enumerate() {
                let length = path.len();
                path.push_str(&format!("/{index}"));
                kept.push(normalised(item, path)?);
                path.truncate(length);
            }
            Value::Array(kept)
        }
        Value::Object(members) => {
            let mut kept = serde_json::Map::with_capacity(members.len());
            for (name, member) in members {
                let length = path.len();
                path.push('/');
                path.push_str(&escaped(&name));
                kept.insert(name, normalised(member, path)?);
                path.truncate(length);
            }
            Value::Object(kept)
        }
        plain @ (Value::Null | Value::Bool(_) | Value::Number(_)) => plain,
    })
}

impl<T: DeserializeOwned + Entered + 'static> FromRequest for Valid<T> {
    type Error = ApiError;
    type Future = LocalBoxFuture<'static, Answer<Self>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let request = request.clone();
        let payload = payload.take();
        Box::pin(async move {
            let media = request
                .headers()
                .get(header::CONTENT_TYPE)
                .and_then(|value| value.to_str().ok())
                .unwrap_or_default();
            let kind = media.split(';').next().unwrap_or_default().trim();
            if !kind.eq_ignore_ascii_case("application/json") {
                return Err(ApiError::UnsupportedMedia(format!(
                    "The body is \"{kind}\": send application/json."
                )));
            }
            let bytes = read_bytes(&request, payload, BODY_LIMIT_BYTES).await?;
            Ok(Self {
                body: read_json(&bytes)?,
                fingerprint: Sha256::digest(&bytes).into(),
            })
        })
    }
}

/// Reads a body up to a limit, and refuses one that is cut short.
///
/// # Errors
/// [`ApiError::TooLarge`], or [`ApiError::Malformed`] where the upload broke off.
pub async fn read_bytes(
    request: &HttpRequest,
    mut payload: Payload,
    limit: usize,
) -> Answer<web::Bytes> {
    let declared = request
        .headers()
        .get(header::CONTENT_LENGTH)
        .and_then(|value| value.to_str().ok())
        .and_then(|text| text.parse::<usize>().ok());
    if declared.is_some_and(|length| length > limit) {
        return Err(ApiError::TooLarge(limit));
    }
    match web::Payload::from_request(request, &mut payload)
        .await
        .map_err(broken)?
        .to_bytes_limited(limit)
        .await
    {
        Err(_above) => Err(ApiError::TooLarge(limit)),
        Ok(read) => read.map_err(broken),
    }
}

fn broken(error: actix_web::Error) -> ApiError {
    ApiError::Malformed(format!("The upload broke off ({error}). Send it again."))
}

/// The idempotency key of a POST that creates.
#[derive(Debug, Clone)]
pub struct Once {
    /// The key that the caller chose.
    pub key: String,
    /// HTTP method.
    pub method: String,
    /// Path of the request.
    pub path: String,
}

impl FromRequest for Once {
    type Error = ApiError;
    type Future = std::future::Ready<Answer<Self>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let key = request
            .headers()
            .get("Idempotency-Key")
            .and_then(|value| value.to_str().ok())
            .map(|text| text.trim().trim_matches('"').to_owned());
        std::future::ready(match key {
            Some(key) if (1..=200).contains(&key.len()) => Ok(Self {
                key,
                method: request.method().to_string(),
                path: request.path().to_owned(),
            }),
            Some(_) => Err(ApiError::Malformed(
                "Idempotency-Key must have 1 to 200 characters.".into(),
            )),
            None => Err(ApiError::KeyMissing),
        })
    }
}

/// The version that the caller saw: `If-Match: "3"`.
#[derive(Debug, Clone, Copy)]
pub struct Seen(pub i32);

impl Seen {
    /// What tells this request from another with the same address and no body.
    #[must_use]
    pub fn fingerprint(self) -> [u8; 32] {
        Sha256::digest(self.0.to_be_bytes()).into()
    }

    /// Refuses where the newest version is another one.
    ///
    /// # Errors
    /// [`ApiError::Stale`].
    pub fn must_be(self, newest: i32) -> Answer<()> {
        if self.0 == newest {
            return Ok(());
        }
        Err(ApiError::Stale(format!(
            "You saw version {}, the newest is {newest}. Look at it again, then decide.",
            self.0
        )))
    }
}

impl FromRequest for Seen {
    type Error = ApiError;
    type Future = std::future::Ready<Answer<Self>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let Some(value) = request.headers().get(header::IF_MATCH) else {
            return std::future::ready(Err(ApiError::PreconditionRequired));
        };
        let version = value
            .to_str()
            .ok()
            .map(|text| text.trim().trim_matches('"'))
            .and_then(|text| text.parse().ok());
        std::future::ready(version.map(Self).ok_or_else(|| {
            ApiError::Stale(
                "If-Match does not hold the ETag of a version, such as \"3\". Send the one that \
                 came with what you saw."
                    .into(),
            )
        }))
    }
}

/// Which part of a list is asked for.
#[derive(Debug, Clone, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub struct Page {
    /// Only what comes after this id in the list (newest first); taken from the `next` link.
    pub after: Option<Uuid>,
    /// How many at the most: 1 to 200, else 50.
    #[param(minimum = 1, maximum = 200, default = 50)]
    pub limit: Option<i64>,
}

impl Page {
    /// How many rows to read: one more than is shown, to know whether there is a next page.
    #[must_use]
    pub fn rows(&self) -> i64 {
        self.size().saturating_add(1)
    }

    fn size(&self) -> i64 {
        self.limit.unwrap_or(50).clamp(1, 200)
    }
}

/// A page of a list.
#[derive(Debug, serde::Serialize, utoipa::ToSchema)]
pub struct Listed<T> {
    /// The items, newest first.
    pub items: Vec<T>,
}

/// Answers with a page, and links to the next one where there is one.
pub fn listed<T: serde::Serialize>(
    request: &HttpRequest,
    page: &Page,
    items: Vec<T>,
    id: impl Fn(&T) -> Uuid,
) -> actix_web::HttpResponse {
    listed_by(request, page, items, id)
}

/// Answers with a page of a list whose order is another than that of ids.
pub fn listed_by<T: serde::Serialize, Key: std::fmt::Display>(
    request: &HttpRequest,
    page: &Page,
    mut items: Vec<T>,
    key: impl Fn(&T) -> Key,
) -> actix_web::HttpResponse {
    let mut response = actix_web::HttpResponse::Ok();
    let size = usize::try_from(page.size()).unwrap_or(50);
    if items.len() > size {
        items.truncate(size);
        if let Some(last) = items.last() {
            let others: String = request
                .query_string()
                .split('&')
                .filter(|pair| !pair.is_empty() && !pair.starts_with("after="))
                .map(|pair| format!("{pair}&"))
                .collect();
            response.insert_header((
                header::LINK,
                format!(
                    "<{}?{others}after={}>; rel=\"next\"",
                    request.path(),
                    key(last)
                ),
            ));
        }
    }
    response.json(Listed { items })
}

/// The ETag of a version.
#[must_use]
pub fn etag(version: i32) -> header::ETag {
    header::ETag(header::EntityTag::new_strong(version.to_string()))
}

/// Answers with one version of a thing and its ETag; 304 where the caller has it already.
pub fn shown<T: serde::Serialize>(
    request: &HttpRequest,
    version: i32,
    view: &T,
) -> actix_web::HttpResponse {
    let known = request
        .headers()
        .get(header::IF_NONE_MATCH)
        .and_then(|value| value.to_str().ok())
        .is_some_and(|tags| {
            tags.split(',')
                .map(|tag| tag.trim().trim_start_matches("W/").trim_matches('"'))
                .any(|tag| tag == "*" || tag == version.to_string())
        });
    if known {
        return actix_web::HttpResponse::NotModified()
            .insert_header(etag(version))
            .finish();
    }
    actix_web::HttpResponse::Ok()
        .insert_header(etag(version))
        .json(view)
}

/// The service, as a handler gets it.
pub type Data = web::Data<App>;
