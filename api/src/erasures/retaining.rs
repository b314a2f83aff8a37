//! What has to stay for now: the name of whoever signed, within its retention time; the login of
//! whoever can still sign in.

use super::locating::Located;
use crate::{
    db::Tx,
    error::{Answer, ApiError},
    identity, laboratories, ledger,
};
use domain::{
    accounts::AccountState,
    erasures::{HeldIn, SIGNER_RETENTION_YEARS, is_signers_name, may_go},
    id::AccountId,
    time::Moment,
};

/// Refuses where something of it has to stay.
///
/// # Errors
/// [`ApiError::Refused`]: `signer-name-retained` or `account-active`.
pub(super) async fn check(tx: &mut Tx, located: &[Located]) -> Answer<()> {
    let laboratory = laboratories::store::find(tx).await?.content;
    let years = laboratory
        .signer_retention_years
        .unwrap_or(SIGNER_RETENTION_YEARS);
    for one in located {
        let member = &one.member;
        let kind = member.kind.as_deref().unwrap_or_default();
        if is_signers_name(member.held_in, kind, &member.member) {
            let Some(signed) = last_signed(tx, one).await? else {
                continue;
            };
            may_go(signed, years, tx.now()).map_err(|retained| {
                ApiError::refused(
                    "signer-name-retained",
                    format!(
                        "Refused: {} of {}: {retained}. Leave it out, or ask again then.",
                        member.member,
                        described(one)
                    ),
                )
            })?;
        }
        if kind == "account" && member.member == "/login" {
            refuse_active(tx, one).await?;
        }
    }
    Ok(())
}

/// When the name was last signed with; never, where the account signed nothing.
async fn last_signed(tx: &mut Tx, one: &Located) -> Answer<Option<Moment>> {
    match (one.member.held_in, one.member.subject) {
        (HeldIn::Record, Some(account)) => {
            let signed = ledger::last_signed(tx, account).await?;
            Ok(signed.map(Moment::from))
        }
        (HeldIn::Certificate | HeldIn::Act | HeldIn::Record, _) => Ok(Some(one.recorded_at)),
    }
}

async fn refuse_active(tx: &mut Tx, one: &Located) -> Answer<()> {
    let Some(id) = one.member.subject else {
        return Ok(());
    };
    let account = identity::account(tx, AccountId(id)).await?;
    if account.content.state == AccountState::Closed {
        return Ok(());
    }
    Err(ApiError::refused(
        "account-active",
        format!("Refused: account {id} can still sign in with its login. Close it first."),
    ))
}

fn described(one: &Located) -> String {
    let kind = one.member.kind.as_deref().unwrap_or("act");
    match one.member.subject {
        Some(subject) => format!("{kind} {subject}"),
        None => format!("{kind} {}", one.member.act),
    }
}
