DROP FUNCTION ledger_share_keys(integer, text);
DROP TABLE ledger_key_span;
