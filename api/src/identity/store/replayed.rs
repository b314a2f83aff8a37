//! Accounts and clients as records tell them, for a rebuilt copy: without what no record holds,
//! passwords, secrets and refused sign-ins.

pub(super) mod accounts {
    use domain::accounts::Account;

    crate::keep_rows! {
        table: identity_account,
        key: account_id,
        content: Account,
        called: "account",
        columns: { login: String = |account| account.login.clone() }
    }
}

pub(super) mod clients {
    use domain::accounts::Client;

    crate::keep_rows! {
        table: identity_client,
        key: client_id,
        content: Client,
        called: "client",
        columns: {}
    }
}
