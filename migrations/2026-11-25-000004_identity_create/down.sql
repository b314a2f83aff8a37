DROP TABLE identity_client;
DROP TABLE identity_account;
