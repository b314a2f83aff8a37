//! How long a caller is ready to wait for what is not there yet: `Prefer: wait=N` (RFC 7240).
//!
//! Promises to hold nothing while it waits, no connection and no transaction; refuses to wait
//! longer than ten seconds, whatever is asked for. A preference that cannot be read is none.

use crate::error::{Answer, ApiError};
use actix_web::{FromRequest, HttpRequest, HttpResponse, dev::Payload, rt::time::sleep};
use std::time::Duration;

/// The longest wait, in seconds.
const LONGEST_S: u32 = 10;

/// How often is looked in a second.
const LOOKS_A_SECOND: u32 = 10;

/// The wait that a caller asked for.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Wait {
    asked_s: Option<u32>,
}

impl FromRequest for Wait {
    type Error = ApiError;
    type Future = std::future::Ready<Answer<Self>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let preferences = request
            .headers()
            .get_all("Prefer")
            .filter_map(|value| value.to_str().ok());
        std::future::ready(Ok(Self {
            asked_s: asked(preferences),
        }))
    }
}

/// The first `wait` among the preferences (RFC 7240 2: of a repeated one the first counts).
fn asked<'a>(preferences: impl Iterator<Item = &'a str>) -> Option<u32> {
    preferences
        .flat_map(|value| value.split(','))
        .filter_map(|preference| preference.split(';').next()?.split_once('='))
        .find(|(name, _)| name.trim().eq_ignore_ascii_case("wait"))
        .and_then(|(_, seconds)| seconds.trim().trim_matches('"').parse::<u64>().ok())
        .map(|seconds| u32::try_from(seconds).unwrap_or(LONGEST_S).min(LONGEST_S))
}

impl Wait {
    /// Looks until there is something, for as long as the caller asked, else `usual_s` seconds.
    ///
    /// # Errors
    /// What looking refuses with.
    pub async fn until<T>(
        self,
        usual_s: u32,
        mut look: impl AsyncFnMut() -> Answer<Option<T>>,
    ) -> Answer<Option<T>> {
        let pause = Duration::from_secs(1) / LOOKS_A_SECOND;
        let mut left = self.asked_s.unwrap_or(usual_s).min(LONGEST_S) * LOOKS_A_SECOND;
        loop {
            let found = look().await?;
            if found.is_some() || left == 0 {
                return Ok(found);
            }
            left = left.saturating_sub(1);
            sleep(pause).await;
        }
    }

    /// Says in an answer that the preference was heeded, and how far.
    #[must_use]
    pub fn applied(self, mut answer: HttpResponse) -> HttpResponse {
        use actix_web::http::header::{HeaderName, HeaderValue};
        let said = self
            .asked_s
            .and_then(|seconds| HeaderValue::from_str(&format!("wait={seconds}")).ok());
        if let Some(said) = said {
            let name = HeaderName::from_static("preference-applied");
            answer.headers_mut().insert(name, said);
        }
        answer
    }
}

#[cfg(test)]
mod tests {
    use super::asked;

    #[test]
    fn the_first_wait_counts_and_none_is_longer_than_the_longest() {
        let of = |values: &[&'static str]| asked(values.iter().copied());
        assert_eq!(of(&[]), None);
        assert_eq!(of(&["return=minimal"]), None);
        assert_eq!(of(&["return=minimal, wait=3"]), Some(3));
        assert_eq!(of(&["respond-async", "Wait = \"4\"; x=1"]), Some(4));
        assert_eq!(of(&["wait=2, wait=9"]), Some(2));
        assert_eq!(of(&["wait=600"]), Some(10));
        assert_eq!(of(&["wait=99999999999999"]), Some(10));
        assert_eq!(of(&["wait=soon"]), None);
        assert_eq!(of(&["wait"]), None);
    }
}
