//! Forms as browsers post them.
//!
//! Refuses a form that another site sent: the cookie is not sent with it (SameSite=Strict), and
//! its `Origin` is not ours.

use super::PageError;
use crate::{
    error::ApiError,
    request::{BODY_LIMIT_BYTES, Data, read_bytes},
};
use actix_web::{FromRequest, HttpRequest, dev::Payload, http::header};
use futures_util::future::LocalBoxFuture;

/// The fields of a form, in the order they came; a name may come several times.
#[derive(Debug, Clone)]
pub(crate) struct Form(Vec<(String, String)>);

impl Form {
    /// The first field of this name, without the blanks around it; none where it is empty.
    pub(crate) fn text(&self, name: &str) -> Option<&str> {
        self.exact(name)
            .map(str::trim)
            .filter(|text| !text.is_empty())
    }

    /// The first field of this name, exactly as it was typed.
    pub(crate) fn exact(&self, name: &str) -> Option<&str> {
        self.all(name).next()
    }

    /// Every field of this name.
    pub(crate) fn all<'a, 'n>(
        &'a self,
        name: &'n str,
    ) -> impl Iterator<Item = &'a str> + use<'a, 'n> {
        self.0
            .iter()
            .filter(move |(field, _)| field == name)
            .map(|(_, value)| value.as_str())
    }
}

impl FromRequest for Form {
    type Error = PageError;
    type Future = LocalBoxFuture<'static, Result<Self, PageError>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let request = request.clone();
        let payload = payload.take();
        Box::pin(async move {
            own_origin(&request)?;
            let bytes = read_bytes(&request, payload, BODY_LIMIT_BYTES).await?;
            let fields = serde_urlencoded::from_bytes(&bytes).map_err(|fault| {
                ApiError::Malformed(format!(
                    "The form cannot be read ({fault}). Go back, load the page again, and send it \
                     once more."
                ))
            })?;
            Ok(Self(fields))
        })
    }
}

/// Refuses a request that a page of another site sent.
fn own_origin(request: &HttpRequest) -> Result<(), ApiError> {
    let text = |name: header::HeaderName| {
        request
            .headers()
            .get(name)
            .and_then(|value| value.to_str().ok())
    };
    let public = request
        .app_data::<Data>()
        .map(|app| app.config.public_url.as_str())
        .unwrap_or_default();
    let host = text(header::HOST).unwrap_or_default();
    let origin = text(header::ORIGIN).unwrap_or_default();
    let authority = origin.split_once("://").map(|(_, authority)| authority);
    if origin == public || (authority.is_some() && authority == Some(host)) {
        return Ok(());
    }
    Err(ApiError::Forbidden(format!(
        "The form came from \"{origin}\", not from a page of this service. Open the page at \
         {public} and send it from there."
    )))
}
