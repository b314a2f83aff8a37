//! Passwords as they are given, at sign-in and again for a signature: one count of those refused,
//! and one lock.
//!
//! Refuses for fifteen minutes after ten wrong ones in a row, wherever they were given. Each wrong
//! one leaves a record, and so does each sign-in.

use super::{
    LaboratoryKey, Permit, passwords,
    store::{self, Credentials},
};
use crate::{
    app::App,
    error::{Answer, ApiError},
    ids,
    ledger::{self, NewRecord},
};
use chrono::TimeDelta;
use domain::id::AccountId;

const MOST_REFUSALS: i32 = 10;
const LOCKED_S: i64 = 900;

/// What a password is given for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum GivenFor {
    /// To sign in.
    SignIn,
    /// To sign something.
    Signature,
}

impl GivenFor {
    const fn word(self) -> &'static str {
        match self {
            Self::SignIn => "sign-in",
            Self::Signature => "signature-attempt",
        }
    }
}

/// Checks the password that a person gives again for a signature; gives who signs.
///
/// # Errors
/// [`ApiError::Forbidden`] where it is not theirs or no person signs,
/// [`ApiError::Unauthenticated`] where the account is closed, [`ApiError::TooManyAttempts`].
pub(crate) async fn confirm_password(
    app: &App,
    permit: &Permit,
    password: &str,
) -> Answer<AccountId> {
    let account = permit.account().ok_or_else(|| {
        ApiError::Forbidden("Only a person signs: sign in with an account of your own.".into())
    })?;
    let found = app
        .db
        .read(permit, async |tx| {
            store::attempts::credentials(tx, account).await
        })
        .await?
        .ok_or_else(|| {
            ApiError::Unauthenticated("The account was closed. Ask the administrator.".into())
        })?;
    if attempt(
        app,
        permit.laboratory(),
        &found,
        password,
        GivenFor::Signature,
    )
    .await?
    {
        return Ok(account);
    }
    Err(ApiError::Forbidden(
        "The password is not yours. A signature takes your password again.".into(),
    ))
}

/// Whether the password is the account's; counts and records the attempt.
///
/// # Errors
/// [`ApiError::TooManyAttempts`], or where the database fails.
pub(super) async fn attempt(
    app: &App,
    laboratory: &LaboratoryKey,
    found: &Credentials,
    password: &str,
    given_for: GivenFor,
) -> Answer<bool> {
    let now = app.clock.now().utc();
    if let Some(until) = found.locked_until.filter(|until| *until > now) {
        return Err(ApiError::TooManyAttempts {
            retry_after_s: (until - now).num_seconds().max(1),
        });
    }
    let good = passwords::matches(found.hash.clone(), password.to_owned()).await?;
    if good && given_for == GivenFor::Signature && found.failed_attempts == 0 {
        return Ok(true); // the act that is signed says so
    }
    let until = now
        .checked_add_signed(TimeDelta::seconds(LOCKED_S))
        .unwrap_or(now);
    let word = given_for.word();
    let permit = Permit::process(laboratory.clone(), "sign-in", word);
    app.db
        .write(&permit, async |tx| {
            if good {
                store::attempts::note_accepted(tx, found.id).await?;
            } else {
                store::attempts::note_refused(tx, found.id, MOST_REFUSALS, until).await?;
            }
            let outcome = if good { "accepted" } else { "refused" };
            let content = serde_json::json!({"account": found.id, "outcome": outcome});
            let record = match given_for {
                GivenFor::SignIn => NewRecord {
                    kind: "sign-in",
                    schema: 1,
                    subject: ids::fresh(),
                    version: 1,
                    content,
                    disclosed: &[],
                },
                GivenFor::Signature => NewRecord {
                    kind: "signature-attempt",
                    schema: 1,
                    subject: ids::fresh(),
                    version: 1,
                    content,
                    disclosed: &[],
                },
            };
            ledger::append(tx, record);
            Ok(())
        })
        .await?;
    Ok(good)
}
