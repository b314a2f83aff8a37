DROP TABLE ledger_anchor;
