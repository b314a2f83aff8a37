//! Accounts, clients and sign-in over HTTP.

mod change_password;
mod clients;
mod revise_account;
mod sign_in;
